package regions

import (
	"errors"
	"fmt"
	"math"

	"phototrack/internal/raster"
)

// ErrLogits says that a network's answer is not one value a class and four corrections a place, all finite.
var ErrLogits = errors.New("unusable answer of the network")

// Map says for each place of the fine picture what it probably is.
type Map struct {
	W, H  int
	P     [Classes][]float32 // probabilities, which add up to 1
	Class []Class            // the likeliest
	Apart []float32          // how far two looks disagree about leaf, 0..1; nil after a single look
}

// Seer is what gives the probabilities for a view: the network, or something made up in a test. It is for one goroutine at a
// time. Errors: what package segnet says, and ErrLogits.
type Seer interface {
	See(v View) (Map, error)
}

// Two is a Seer that knows of another one, which learnt apart from it.
type Two interface {
	Seer
	// Second is that other one. Its maps are lent: they hold until it is asked again.
	Second() Seer
}

// Look asks twice, the second time with the photo mirrored and the second Seer where there is one, and gives the mean of both
// answers and how far they are apart. What is sure is so in the mirror, and to who learnt it otherwise. Where much is unsure a third Seer is
// asked, if there is one.
func Look(s Seer, v View) (Map, error) {
	second := s
	if t, ok := s.(Two); ok {
		second = t.Second()
	}
	a, err := bothWays(s, second, v)
	if err != nil {
		return Map{}, err
	}
	if green, changed, ok := v.Purpled(&a); ok {
		c, err := s.See(green)
		if err != nil {
			return Map{}, err
		}
		a.settlePurple(&c, changed)
	}
	return a, a.lookAgain(s, v)
}

// bothWays is the mean of what one Seer says of a view and another one of it in the mirror, and how far they are apart.
func bothWays(one, other Seer, v View) (Map, error) {
	a, err := one.See(v)
	if err != nil {
		return Map{}, err
	}
	b, err := other.See(v.Mirrored())
	if err != nil {
		return Map{}, err
	}
	if a.W != b.W || a.H != b.H {
		return Map{}, fmt.Errorf("%w: two sizes", ErrLogits)
	}
	a.Apart = make([]float32, a.W*a.H)
	average(&a, &b)
	return a, nil
}

// settlePurple takes over what the look at purple shown as green says where that is leaf, and only there where purple was; but not in
// a purple piece a good part of which was known for a bloom, stem or other part.
func (m *Map) settlePurple(green *Map, changed []bool) {
	purple := raster.NewMask(m.W, m.H)
	for i := range m.Class {
		if changed[i/m.W/2*(m.W/2)+i%m.W/2] {
			purple.Pix[i] = 1
		}
	}
	runs, size := raster.Components(purple, true)
	part := make([]float32, len(size))
	for _, r := range runs {
		from, to := r.In(m.W)
		for _, p := range m.P[Part][from:to] {
			part[r.Component] += p
		}
	}
	for _, r := range runs {
		if part[r.Component] > leastBloom*float32(size[r.Component]) {
			continue
		}
		from, to := r.In(m.W)
		for i := from; i < to; i++ {
			if green.P[Leaf][i] <= m.P[Leaf][i] {
				continue
			}
			for c := range m.P {
				m.P[c][i] = green.P[c][i]
			}
			m.Class[i] = green.Class[i]
		}
	}
}

// leastBloom is the mean probability of another part from which a purple piece is left as it was seen.
const leastBloom = 0.15

// Outputs of the network a place of the view: a logit for each class, and corrections of leaf for the four pixels of the fine
// picture, row by row.
const Outputs = int(Classes) + 4

// Decode turns the network's answer for a view of w x h places into probabilities. Logits are divided by temperature, which
// calibration chose so that probabilities are right as often as they say (Guo et al. 2017).
func Decode(logits []float32, w, h int, temperature float64) (Map, error) {
	var r Room
	return r.Decode(logits, w, h, temperature)
}

// Room is memory for one map after another; each holds until the next is decoded there.
type Room struct {
	planes []float32
	class  []Class
}

// Decode is the function Decode.
func (r *Room) Decode(logits []float32, w, h int, temperature float64) (Map, error) {
	n := w * h
	if len(logits) != Outputs*n || w < 1 || h < 1 || !(temperature > 0) {
		return Map{}, fmt.Errorf("%w: %d values for %d x %d places", ErrLogits, len(logits), w, h)
	}
	if len(r.class) != 4*n {
		r.planes, r.class = make([]float32, int(Classes)*4*n), make([]Class, 4*n)
	}
	m := Map{W: 2 * w, H: 2 * h, Class: r.class}
	for c := range m.P {
		m.P[c] = r.planes[c*4*n : (c+1)*4*n]
	}
	if !m.decode(logits, float32(1/temperature), r.planes) {
		return Map{}, fmt.Errorf("%w: not finite", ErrLogits)
	}
	return m, nil
}

// powers of two, of 0 .. 1.
var powers = func() (t [1024]float32) {
	for i := range t {
		t[i] = float32(math.Exp2(float64(i) / 1024))
	}
	return
}()
