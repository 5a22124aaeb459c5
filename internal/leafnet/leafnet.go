// Package leafnet is the network that tells leaf from everything else: the trained file, embedded, and how it is asked.
// How it was trained is in train/, what it can and cannot do in docs/model-card.md.
package leafnet

/*
#cgo CFLAGS: -O3 -std=c11
#include "fill.h"
*/
import "C"

import (
	_ "embed" // the networks
	"errors"
	"fmt"
	"unsafe"

	"github.com/klauspost/compress/zstd"

	"phototrack/internal/regions"
	"phototrack/internal/segnet"
)

//go:embed first.onnx.zst
var first []byte

// second learnt the same with other drawings and photographs in other shares (docs/model-card.md).
//
//go:embed second.onnx.zst
var second []byte

// third sees the fine picture pixel by pixel and is six times as large: it is asked about photos that the others are not sure of.
//
//go:embed third.onnx.zst
var third []byte

// temperature makes probabilities right as often as they say; from samples that were not trained on (docs/model-card.md).
const temperature = 1.1

// step: width and height of a view are multiples of it.
const step = 32

// Net is the loaded networks; it is a regions.Three. The zero value loads each when it is first asked.
type Net struct{ first, second, third one }

// one is one of the networks, as a regions.Seer.
type one struct {
	net   *segnet.Net
	model *[]byte
	room  *regions.Room // for its maps; nil: each has memory of its own
	fine  bool          // it is shown the fine picture itself
}

// See gives the first network's probabilities for a view.
func (n *Net) See(v regions.View) (regions.Map, error) {
	n.first.model = &first
	return n.first.See(v)
}

// Second is the second network.
func (n *Net) Second() regions.Seer {
	n.second.model = &second
	if n.second.room == nil {
		n.second.room = new(regions.Room)
	}
	return &n.second
}

// Third is the third network.
func (n *Net) Third() regions.Seer {
	n.third.model, n.third.fine = &third, true
	return &n.third
}

// See gives the probabilities for a view.
func (n *one) See(v regions.View) (regions.Map, error) {
	if n.net == nil {
		if err := n.load(); err != nil {
			return regions.Map{}, fmt.Errorf("the program's own network: %w", err)
		}
	}
	l, err := n.run(v)
	if err != nil {
		return regions.Map{}, err
	}
	defer l.Free()
	if n.room != nil {
		return n.room.Decode(l.V, l.W, l.H, temperature)
	}
	return regions.Decode(l.V, l.W, l.H, temperature)
}

// load unpacks the network and reads it.
func (n *one) load() error {
	r, err := zstd.NewReader(nil, zstd.WithDecoderConcurrency(1))
	if err != nil {
		return err
	}
	defer r.Close()
	onnx, err := r.DecodeAll(*n.model, nil)
	if err != nil {
		return err
	}
	planes := regions.Planes
	if n.fine {
		planes = finePlanes
	}
	n.net, err = segnet.New(onnx, planes, step)
	return err
}

// run gives the logits for a view.
func (n *one) run(v regions.View) (segnet.Logits, error) {
	if n.fine {
		return n.net.Run(2*v.W, 2*v.H, func(x []float32) { fillFine(x, v) })
	}
	return n.net.Run(v.W, v.H, func(x []float32) { fill(x, v) })
}

// Close frees the networks.
func (n *Net) Close() (err error) {
	for _, m := range []*one{&n.first, &n.second, &n.third} {
		if m.net != nil {
			err = errors.Join(err, m.net.Close())
			m.net = nil
		}
		m.room = nil
	}
	return
}

// finePlanes is what a network is shown that sees the fine picture: red, green, blue and the view's last four planes.
const finePlanes = regions.Planes - 9

// fillFine writes the planes of the fine picture as in training.
func fillFine(x []float32, v regions.View) {
	n := v.W * v.H
	_, _ = x[finePlanes*4*n-1], v.Pix[regions.Planes*n-1]
	C.pt_leafnet_fill_fine((*C.uint8_t)(unsafe.Pointer(&v.Pix[0])), C.size_t(v.W), C.size_t(v.H), (*C.float)(unsafe.Pointer(&x[0])))
}

// fill writes the planes as in training: colours about 0, everything else 0..1.
func fill(x []float32, v regions.View) {
	const colours = 12
	n := v.W * v.H
	_, _ = x[regions.Planes*n-1], v.Pix[regions.Planes*n-1]
	C.pt_leafnet_fill((*C.uint8_t)(unsafe.Pointer(&v.Pix[0])), C.size_t(colours*n), C.size_t((regions.Planes-colours)*n), (*C.float)(unsafe.Pointer(&x[0])))
}
