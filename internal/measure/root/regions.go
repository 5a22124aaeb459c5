package root

import (
	"fmt"
	"math"
	"slices"

	"phototrack/internal/raster"
	"phototrack/internal/segnet"
)

// Classes of the wall.
const (
	medium = iota // bark, moss, clay, perlite, stones, twigs, empty space
	living        // living root, of any colour
	tip           // its growing tip
	old           // brown or dry root
	hidden        // what hides the wall: label, thick film, mist, glare
	onWall        // the wall itself: scratch, seam, rim of a slot, print
	classCount
)

// regions is how likely each place of the frontal view is of each class; the medium's share is what is left of 1.
type regions struct {
	any    raster.Float // root of any kind
	tip    raster.Float
	old    raster.Float
	hidden raster.Float
	onWall raster.Float
	line   raster.Float // root's middle line, where it is root at all; empty where the network does not tell it
	anew   raster.Mask  // where root is seen at half the size only; empty where nobody looked
}

// judgeWall asks the network what each place of the wall is: as the wall is, and as a mirror shows it. The two answers are
// averaged; where they differ, neither is sure. Then it is asked again at half the size.
func judgeWall(s *sheet, net network) (*regions, error) {
	r, err := s.ask(net, true)
	if err != nil {
		return nil, err
	}
	half, err := s.halved().ask(net, false)
	if err != nil {
		return nil, err
	}
	r.doubt(half, s.Step)
	return r, nil
}

// ask asks the network about the wall as the view shows it and, where it says so, as a mirror does.
func (s *sheet) ask(net network, mirror bool) (*regions, error) {
	w, h := s.planeSize()
	seen := s.planes()
	var logits []float32
	var channels int
	err := askWall(net, w, h, func(data []float32) { copy(data, seen) }, func(l segnet.Logits) {
		logits, channels = slices.Clone(l.V), l.C/placePx
	})
	if err != nil {
		return nil, err
	}
	if mirror {
		err = askWall(net, w, h, func(data []float32) { s.mirrored(data, seen) }, func(mirror segnet.Logits) {
			s.addMirrored(logits, mirror)
		})
		if err != nil {
			return nil, err
		}
	}
	return s.regionsOf(logits, channels), nil
}

// regionsOf turns the network's answer into probabilities.
func (s *sheet) regionsOf(logits []float32, channels int) *regions {
	r := newRegions(s.W, s.H)
	w, h := s.planeSize()
	n := w * h
	for y := range s.H {
		for x := range s.W {
			at := (2*(y&1)+x&1)*n + y/2*w + x/2
			r.set(y*s.W+x, logits, at, 4*n)
		}
	}
	if channels > classCount {
		r.line = raster.NewFloat(s.W, s.H)
		for y := range s.H {
			for x := range s.W {
				if i := y*s.W + x; r.any.Pix[i] > 0 {
					r.line.Pix[i] = logistic(logits[(4*classCount+2*(y&1)+x&1)*n+y/2*w+x/2])
				}
			}
		}
	}
	return r
}

// placePx is how many pixels of the view a place of the network's planes stands for.
const placePx = 4

// addMirrored makes the logits the mean of themselves and of those of the mirrored view.
func (s *sheet) addMirrored(logits []float32, mirror segnet.Logits) {
	w, h := s.planeSize()
	n := w * h
	for c := range len(logits) / (4 * n) {
		for y := range s.H {
			for odd := range 2 {
				// Column 2 k + odd lies in the mirror in column W - 1 - 2 k - odd.
				in := (s.W - 1 - odd) & 1
				to := logits[(4*c+2*(y&1)+odd)*n+y/2*w:][:(s.W+1-odd)/2]
				last := (s.W - 1 - odd - in) / 2
				from := mirror.V[(4*c+2*(y&1)+in)*n+y/2*w:][:last+1]
				for k := range to {
					to[k] = 0.5 * (to[k] + from[last-k])
				}
			}
		}
	}
}

// askWall asks the network once; the logits hold while take runs.
func askWall(net network, w, h int, fill func(data []float32), take func(segnet.Logits)) error {
	err := net.Run(w, h, fill, func(l segnet.Logits) error {
		if l.C != placePx*classCount && l.C != placePx*(classCount+1) {
			return fmt.Errorf("%d channels where %d are wanted", l.C, placePx*classCount)
		}
		take(l)
		return nil
	})
	if err != nil {
		return fmt.Errorf("judging the wall: %w", err)
	}
	return nil
}

func newRegions(w, h int) *regions {
	return &regions{any: raster.NewFloat(w, h), tip: raster.NewFloat(w, h), old: raster.NewFloat(w, h), hidden: raster.NewFloat(w, h), onWall: raster.NewFloat(w, h)}
}

// set turns the logits of a pixel, step values apart, into probabilities.
func (r *regions) set(i int, logits []float32, at, step int) {
	var e [classCount]float32
	most := logits[at]
	for c := range e {
		e[c] = logits[at+c*step]
		if e[c] > most { // the builtin asks about NaN first; these are finite
			most = e[c]
		}
	}
	if most == e[medium] && surelyMedium(&e) {
		return
	}
	var sum float32
	for c := range e {
		e[c] = exp(e[c] - most)
		sum += e[c]
	}
	k := 1 / sum
	r.any.Pix[i] = k * (e[living] + e[tip] + e[old])
	r.tip.Pix[i], r.old.Pix[i], r.hidden.Pix[i], r.onWall.Pix[i] = k*e[tip], k*e[old], k*e[hidden], k*e[onWall]
}

// surelyLogit is by how much the medium's logit must stand above each of the others' for these to have less than three per cent together:
// 5 exp(-5.2) = 0.028.
const surelyLogit = 5.2

// surelyMedium says that all other classes together have less than that, which is as good as nothing.
func surelyMedium(e *[classCount]float32) bool {
	for _, v := range e[1:] {
		if e[medium]-v < surelyLogit {
			return false
		}
	}
	return true
}

func logistic(v float32) float32 {
	e := exp(-max(v, -v))
	if v < 0 {
		return e / (1 + e)
	}
	return 1 / (1 + e)
}

// leastExp is the logarithm of what is nothing beside 1: 1e-26. The exponent's bits would run out at -87.
const leastExp = -60

// exp of a value not above 0, to 0.2 %: 2^n by the exponent's bits, the rest by a polynomial.
func exp(v float32) float32 {
	if v < leastExp {
		return 0
	}
	t := v * math.Log2E
	n := float32(int32(t) - 1)
	f := t - n // 0..2
	p := 1 + f*(0.6931472+f*(0.2402265+f*(0.0555041+f*(0.0096181+f*0.0013333))))
	return math.Float32frombits(uint32(int32(n)+127)<<23) * p
}
