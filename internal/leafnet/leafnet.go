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

	"phototrack/internal/regions"
	"phototrack/internal/segnet"
)

//go:embed regions.onnx
var model []byte

// second learnt the same with other drawings and photographs in other shares (docs/model-card.md).
//
//go:embed second.onnx
var second []byte

// temperature makes probabilities right as often as they say; from samples that were not trained on (docs/model-card.md).
const temperature = 1.1

// step: width and height of a view are multiples of it.
const step = 32

// Net is the two loaded networks; it is a regions.Two. The zero value loads each when it is first asked.
type Net struct{ first, second one }

// one is one of the networks, as a regions.Seer.
type one struct {
	net   *segnet.Net
	model *[]byte
	room  *regions.Room // for its maps; nil: each has memory of its own
}

// See gives the first network's probabilities for a view.
func (n *Net) See(v regions.View) (regions.Map, error) {
	n.first.model = &model
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

// See gives the probabilities for a view.
func (n *one) See(v regions.View) (regions.Map, error) {
	if n.net == nil {
		net, err := segnet.New(*n.model, regions.Planes, step)
		if err != nil {
			return regions.Map{}, fmt.Errorf("the program's own network: %w", err)
		}
		n.net = net
	}
	l, err := n.net.Run(v.W, v.H, func(x []float32) { fill(x, v) })
	if err != nil {
		return regions.Map{}, err
	}
	defer l.Free()
	if n.room != nil {
		return n.room.Decode(l.V, l.W, l.H, temperature)
	}
	return regions.Decode(l.V, l.W, l.H, temperature)
}

// Close frees the networks.
func (n *Net) Close() (err error) {
	for _, m := range []*one{&n.first, &n.second} {
		if m.net != nil {
			err = errors.Join(err, m.net.Close())
			m.net = nil
		}
		m.room = nil
	}
	return
}

// fill writes the planes as in training: colours about 0, everything else 0..1.
func fill(x []float32, v regions.View) {
	const colours = 12
	n := v.W * v.H
	_, _ = x[regions.Planes*n-1], v.Pix[regions.Planes*n-1]
	C.pt_leafnet_fill((*C.uint8_t)(unsafe.Pointer(&v.Pix[0])), C.size_t(colours*n), C.size_t((regions.Planes-colours)*n), (*C.float)(unsafe.Pointer(&x[0])))
}
