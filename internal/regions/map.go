package regions

import (
	"errors"
	"fmt"
	"math"
)

// ErrLogits says that a network's answer is not one value a class and four corrections a place, all finite.
var ErrLogits = errors.New("unusable answer of the network")

// Map says for each place of the fine picture what it probably is.
type Map struct {
	W, H  int
	P     [Classes][]float32 // probabilities, which add up to 1
	Class []Class            // the likeliest
}

// Seer is what gives the probabilities for a view: the network, or something made up in a test. It is for one goroutine at a
// time. Errors: what package segnet says, and ErrLogits.
type Seer interface {
	See(v View) (Map, error)
}

// Outputs of the network a place of the view: a logit for each class, and corrections of leaf for the four pixels of the fine
// picture, row by row.
const Outputs = int(Classes) + 4

// Decode turns the network's answer for a view of w x h places into probabilities. Logits are divided by temperature, which
// calibration chose so that probabilities are right as often as they say (Guo et al. 2017).
func Decode(logits []float32, w, h int, temperature float64) (Map, error) {
	n := w * h
	if len(logits) != Outputs*n || w < 1 || h < 1 || !(temperature > 0) {
		return Map{}, fmt.Errorf("%w: %d values for %d x %d places", ErrLogits, len(logits), w, h)
	}
	m := Map{W: 2 * w, H: 2 * h, Class: make([]Class, 4*n)}
	buf := make([]float32, int(Classes)*4*n)
	for c := range m.P {
		m.P[c] = buf[c*4*n : (c+1)*4*n]
	}
	inv := float32(1 / temperature)
	for y := range h {
		for x := range w {
			i := y*w + x
			var z [Classes]float32
			for c := range z {
				z[c] = logits[c*n+i]
			}
			for s := range 4 {
				zs := z
				zs[Leaf] += logits[(int(Classes)+s)*n+i]
				o := (2*y+s/2)*m.W + 2*x + s&1
				if !m.softmax(o, zs, inv) {
					return Map{}, fmt.Errorf("%w: not finite", ErrLogits)
				}
			}
		}
	}
	return m, nil
}

func (m *Map) softmax(o int, z [Classes]float32, inv float32) bool {
	best := Class(0)
	for c := range Classes {
		if z[c] > z[best] {
			best = c
		}
	}
	sum := float32(0)
	for c, v := range z {
		e := float32(0)
		if d := (v - z[best]) * inv; d > -20 {
			e = float32(math.Exp(float64(d)))
		}
		m.P[c][o] = e
		sum += e
	}
	if !(sum >= 1) || sum > float32(Classes)+1 {
		return false
	}
	for c := range m.P {
		m.P[c][o] /= sum
	}
	m.Class[o] = best
	return true
}
