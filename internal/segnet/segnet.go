// Package segnet runs a small segmentation network: planes of a picture in, logits by place out. It knows nothing of what
// the classes mean. The network is an ONNX file (written by train/net.py) that OpenCV's dnn module runs in the calling
// thread; a network is for one goroutine at a time.
package segnet

/*
#cgo pkg-config: opencv4
#cgo CXXFLAGS: -std=c++11 -O3
#cgo LDFLAGS: -lopencv_dnn -lopencv_core
#include "segnet.h"
*/
import "C"

import (
	"errors"
	"fmt"
	"reflect"
	"sync"

	"gocv.io/x/gocv"
)

// ownConvolutions gives OpenCV the convolutions of chain.cpp, once a process: its table of layers is the process's.
var ownConvolutions = sync.OnceFunc(func() { C.pt_segnet_register() })

// forAnyProcessor makes networks that are loaded from now on use the code for any processor, so that a test can try it where there is
// faster code.
func forAnyProcessor(yes bool) {
	n := C.int(0)
	if yes {
		n = 1
	}
	C.pt_segnet_any_processor(n)
}

// Errors that callers can tell apart.
var (
	// ErrModel says that the bytes are no network that OpenCV can read.
	ErrModel = errors.New("unusable network")
	// ErrInput says that the planes do not fit the network.
	ErrInput = errors.New("unusable input of the network")
	// ErrNotFinite says that the network answered with something that is no number.
	ErrNotFinite = errors.New("the network's answer is not finite")
)

// Net is a loaded network. Close frees it.
type Net struct {
	net    gocv.Net
	planes int
	step   int
}

// New reads a network that takes so many planes, whose width and height are multiples of step.
func New(onnx []byte, planes, step int) (*Net, error) {
	if len(onnx) < 100 || planes < 1 || step < 1 {
		return nil, fmt.Errorf("%w: %d bytes", ErrModel, len(onnx))
	}
	net, _, err := read(onnx)
	if err != nil {
		return nil, fmt.Errorf("%w: %w", ErrModel, err)
	}
	if err := net.SetPreferableBackend(gocv.NetBackendOpenCV); err != nil {
		return nil, fmt.Errorf("%w: %w", ErrModel, err)
	}
	return &Net{net: net, planes: planes, step: step}, nil
}

// read reads a network and puts its convolutions together, where it is of the kind of train/net.py; merged says whether.
func read(onnx []byte) (net gocv.Net, merged bool, err error) {
	ownConvolutions()
	if net, err = gocv.ReadNetFromONNXBytes(onnx); err != nil {
		return net, false, err
	}
	if net.Empty() {
		return net, false, errors.New("empty")
	}
	// gocv keeps the pointer to OpenCV's object to itself.
	return net, C.pt_segnet_merge(reflect.ValueOf(net).FieldByName("p").UnsafePointer()) != 0, nil
}

// Close frees the network.
func (n *Net) Close() error { return n.net.Close() }

// Logits are the network's answer: C planes of W x H values, row by row. They lie in the network's own memory: they hold until it
// is run again, or Free is called.
type Logits struct {
	C, W, H int
	V       []float32
	mat     *gocv.Mat
}

// Free gives the memory of the logits back.
func (l *Logits) Free() {
	if l.mat != nil {
		_ = l.mat.Close() // of a matrix that is there: it cannot fail
		l.mat, l.V = nil, nil
	}
}

// Run gives the logits for planes of w x h values each; they are as many a plane, or fewer by a whole factor. fill writes all planes into
// the network's own memory. Errors: ErrInput, ErrNotFinite.
func (n *Net) Run(w, h int, fill func(x []float32)) (Logits, error) {
	if w < n.step || h < n.step || w%n.step != 0 || h%n.step != 0 {
		return Logits{}, fmt.Errorf("%w: %d x %d, multiples of %d wanted", ErrInput, w, h, n.step)
	}
	in := gocv.NewMatWithSizes([]int{1, n.planes, h, w}, gocv.MatTypeCV32F)
	defer in.Close()
	x, err := in.DataPtrFloat32()
	if err != nil || len(x) != n.planes*w*h {
		return Logits{}, fmt.Errorf("%w: %v", ErrInput, err)
	}
	fill(x)
	n.net.SetInput(in, "")
	out := n.net.Forward("")
	l, err := logitsOf(&out, w, h)
	if err != nil {
		_ = out.Close()
		return Logits{}, err
	}
	return l, nil
}

// logitsOf is what the network gave, if it fits the planes and is finite.
func logitsOf(out *gocv.Mat, w, h int) (Logits, error) {
	size := out.Size()
	if len(size) != 4 || size[2] < 1 || h%size[2] != 0 || size[3]*(h/size[2]) != w {
		return Logits{}, fmt.Errorf("%w: answer of size %v", ErrInput, size)
	}
	y, err := out.DataPtrFloat32()
	if err != nil || len(y) != size[1]*size[2]*size[3] {
		return Logits{}, fmt.Errorf("%w: %v", ErrInput, err)
	}
	for _, v := range y {
		if v-v != 0 { // as only of infinity and of what is no number
			return Logits{}, ErrNotFinite
		}
	}
	return Logits{C: size[1], W: size[3], H: size[2], V: y, mat: out}, nil
}
