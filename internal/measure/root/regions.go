package root

/*
#cgo CFLAGS: -O3 -std=c11
#include "classes.h"
*/
import "C"

import (
	"fmt"
	"slices"
	"unsafe"

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
	if channels > classCount {
		r.line = raster.NewFloat(s.W, s.H)
	}
	w, h := s.planeSize()
	n := w * h
	for y := range s.H {
		for odd := range min(2, s.W) {
			at := (2*(y&1)+odd)*n + y/2*w // of the first class; the others lie placePx planes apart
			r.setRow(y*s.W+odd, (s.W+1-odd)/2, logits[at:], placePx*n)
		}
	}
	return r
}

// setRow turns the logits of every other pixel of a row into probabilities: n of them from pixel i on. The classes' logits lie step values
// apart.
func (r *regions) setRow(i, n int, logits []float32, step int) {
	classes := classCount
	if r.line.W > 0 {
		classes++
	}
	logits = logits[:(classes-1)*step+n]
	from := func(f raster.Float) *C.float {
		if f.W == 0 {
			return nil
		}
		return (*C.float)(unsafe.Pointer(&f.Pix[i : i+2*n-1][0]))
	}
	C.pt_root_classes((*C.float)(unsafe.Pointer(&logits[0])), C.size_t(step), C.size_t(n), surelyLogit,
		from(r.any), from(r.tip), from(r.old), from(r.hidden), from(r.onWall), from(r.line))
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

// surelyLogit is by how much the medium's logit must stand above each of the others' for these to have less than three per cent together,
// which is as good as nothing: 5 exp(-5.2) = 0.028.
const surelyLogit = 5.2
