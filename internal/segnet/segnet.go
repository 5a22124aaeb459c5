// Package segnet runs a small segmentation network: planes of a picture in, logits by place out. It knows nothing of what
// the classes mean. The network is an ONNX file of the kind that train/net.py writes; it is read here (onnx.go), put together to steps
// (plan.go) and run in the calling thread (net.cpp); a network is for one goroutine at a time.
//
// OpenCV's dnn module (4.6) runs the same files, but holds the whole picture of every operation: at few channels and many places that takes
// twice as long, most of it for moving memory.
package segnet

/*
#cgo CXXFLAGS: -std=c++11 -O3
#include "net.h"
*/
import "C"

import (
	"errors"
	"fmt"
	"math"
	"unsafe"
)

var minusInf, plusInf = float32(math.Inf(-1)), float32(math.Inf(1))

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
	net    *C.pt_segnet
	planes int
	step   int
}

// New reads a network that takes so many planes, whose width and height are multiples of step.
func New(onnx []byte, planes, step int) (*Net, error) { return load(onnx, planes, step, false) }

// load reads a network; anyProcessor keeps it from using the code for the processor at hand, for tests.
func load(onnx []byte, planes, step int, anyProcessor bool) (*Net, error) {
	if planes < 1 || step < 1 {
		return nil, fmt.Errorf("%w: %d planes", ErrModel, planes)
	}
	g, err := readGraph(onnx)
	if err != nil {
		return nil, err
	}
	p, err := planOf(g, planes)
	if err != nil {
		return nil, err
	}
	any := C.int(0)
	if anyProcessor {
		any = 1
	}
	n := &Net{net: C.pt_segnet_new(any), planes: planes, step: step}
	if n.net == nil || !n.take(&p) {
		n.free()
		return nil, errMemory
	}
	return n, nil
}

// take hands the plan over; false where there is no memory.
func (n *Net) take(p *plan) bool {
	for i := range p.convs {
		c := &p.convs[i]
		to := C.pt_segnet_conv{outputs: C.int32_t(c.outputs), inputs: C.int32_t(c.inputs), size: C.int32_t(c.size),
			step: C.int32_t(c.step), pad: C.int32_t(c.pad), low: C.float(c.low), high: C.float(c.high)}
		if c.own {
			to.own = 1
		}
		if C.pt_segnet_add_conv(n.net, &to, floats(c.weights), floats(c.bias)) == 0 {
			return false
		}
	}
	for _, s := range p.steps {
		to := C.pt_segnet_step{point: C.int32_t(s.point), filter: C.int32_t(s.filter), mix: C.int32_t(s.mix), head: C.int32_t(s.head),
			in: C.int32_t(s.in), up: C.int32_t(s.up), add: C.int32_t(s.add), out: C.int32_t(s.out)}
		if C.pt_segnet_add_step(n.net, &to) == 0 {
			return false
		}
	}
	return true
}

func floats(p []float32) *C.float { return (*C.float)(unsafe.Pointer(&p[0])) }

// errMemory says that there is no memory for the network or its pictures.
var errMemory = errors.New("no memory for the network")

// Close frees the network.
func (n *Net) Close() error {
	n.free()
	return nil
}

func (n *Net) free() {
	if n.net != nil {
		C.pt_segnet_free(n.net)
		n.net = nil
	}
}

// Logits are the network's answer: C planes of W x H values, row by row. They lie in the network's own memory: they hold until it
// is run again or closed.
type Logits struct {
	C, W, H int
	V       []float32
}

// Run gives the logits for planes of w x h values each. fill writes all planes into the network's own memory. Errors: ErrInput,
// ErrNotFinite.
func (n *Net) Run(w, h int, fill func(x []float32)) (Logits, error) {
	if w < n.step || h < n.step || w%n.step != 0 || h%n.step != 0 {
		return Logits{}, fmt.Errorf("%w: %d x %d, multiples of %d wanted", ErrInput, w, h, n.step)
	}
	l, err := n.run(w, h, fill)
	if err == nil && (l.W != w || l.H != h) {
		return Logits{}, fmt.Errorf("%w: answer of %d x %d", ErrInput, l.W, l.H)
	}
	return l, err
}

// run is Run of a network whose answer may have another size.
func (n *Net) run(w, h int, fill func(x []float32)) (Logits, error) {
	if n.net == nil {
		return Logits{}, fmt.Errorf("%w: it is closed", ErrModel)
	}
	x := C.pt_segnet_input(n.net, C.int(n.planes), C.int(h), C.int(w))
	if x == nil {
		return Logits{}, errMemory
	}
	fill(unsafe.Slice((*float32)(unsafe.Pointer(x)), n.planes*w*h))
	var c, ow, oh C.int
	y := C.pt_segnet_run(n.net, &c, &oh, &ow)
	if y == nil {
		return Logits{}, fmt.Errorf("%w: %d x %d", ErrInput, w, h)
	}
	l := Logits{C: int(c), W: int(ow), H: int(oh)}
	l.V = unsafe.Slice((*float32)(unsafe.Pointer(y)), l.C*l.W*l.H)
	if C.pt_segnet_finite(y, C.size_t(len(l.V))) == 0 {
		return Logits{}, ErrNotFinite
	}
	return l, nil
}
