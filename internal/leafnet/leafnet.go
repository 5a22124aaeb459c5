// Package leafnet is the network that tells leaf from everything else: the trained file, embedded, and how it is asked.
// How it was trained is in train/, what it can and cannot do in docs/model-card.md.
package leafnet

import (
	_ "embed" // the network
	"fmt"

	"phototrack/internal/regions"
	"phototrack/internal/segnet"
)

//go:embed regions.onnx
var model []byte

// temperature makes probabilities right as often as they say; from samples that were not trained on (docs/model-card.md).
const temperature = 1.1

// step: width and height of a view are multiples of it.
const step = 32

// Net is the loaded network; it is a regions.Seer. The zero value loads itself when it is first asked.
type Net struct{ net *segnet.Net }

// See gives the probabilities for a view.
func (n *Net) See(v regions.View) (regions.Map, error) {
	if n.net == nil {
		net, err := segnet.New(model, regions.Planes, step)
		if err != nil {
			return regions.Map{}, fmt.Errorf("the program's own network: %w", err)
		}
		n.net = net
	}
	l, err := n.net.Run(v.W, v.H, func(x []float32) { fill(x, v) })
	if err != nil {
		return regions.Map{}, err
	}
	return regions.Decode(l.V, l.W, l.H, temperature)
}

// Close frees the network.
func (n *Net) Close() error {
	if n.net == nil {
		return nil
	}
	err := n.net.Close()
	n.net = nil
	return err
}

// fill writes the planes as in training: colours about 0, everything else 0..1.
func fill(x []float32, v regions.View) {
	const colours = 12
	n := v.W * v.H
	var colour, other [256]float32
	for i := range 256 {
		colour[i] = float32(i-127) / 128
		other[i] = float32(i) / 255
	}
	for i, b := range v.Pix[:colours*n] {
		x[i] = colour[b]
	}
	for i, b := range v.Pix[colours*n:] {
		x[colours*n+i] = other[b]
	}
}
