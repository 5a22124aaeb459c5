package root

import "math"

// Traits of a root's points, a sign each: '0'..'9' living, by how sure it is root, 'a'..'j' the same of old root.

func traitsOf(sure []float64, old []bool) string {
	out := make([]byte, len(sure))
	for i, p := range sure {
		out[i] = '0' + byte(math.Min(highestSign, math.Max(0, (highestSign+1)*p)))
		if i < len(old) && old[i] {
			out[i] += 'a' - '0'
		}
	}
	return string(out)
}

const (
	highestSign = 9    // the last digit
	sureAs      = 0.99 // how sure a point of that sign is
)

// trait reads the sign of point i; a wall that was stored without them is sure and living.
func trait(of string, i int) (sure float64, old bool) {
	if i < 0 || i >= len(of) {
		return 1, false
	}
	switch c := of[i]; {
	case c == '9' || c == 'j':
		return sureAs, c == 'j'
	case c >= '0' && c <= '9':
		return (float64(c-'0') + 0.5) / 10, false
	case c >= 'a' && c <= 'j':
		return (float64(c-'a') + 0.5) / 10, true
	}
	return 1, false
}

// Veil is a coarse grid over the unrolled wall of what hides it.
type Veil struct {
	W, H int
	Bits []byte // row by row, a bit a cell
}

const veilMM = 1.0 // size of its cells

func newVeil(w, h int) Veil { return Veil{w, h, make([]byte, (w*h+7)/8)} }

func (v *Veil) set(x, y int) {
	i := y*v.W + x
	v.Bits[i/8] |= 1 << (i % 8)
}

func (v *Veil) any() bool {
	for _, b := range v.Bits {
		if b != 0 {
			return true
		}
	}
	return false
}

// at says whether the cell is hidden.
func (v *Veil) at(x, y int) bool {
	if x < 0 || y < 0 || x >= v.W || y >= v.H {
		return false
	}
	i := y*v.W + x
	return i/8 < len(v.Bits) && v.Bits[i/8]&(1<<(i%8)) != 0
}

// veil is what hides the wall, on a grid of the unrolled picture.
func (f *found) veil(w Wall) Veil {
	return f.places(w, func(i int) bool { return f.reg.hidden.Pix[i] > 0.5 && f.reg.any.Pix[i] < 0.5 })
}

const (
	faintProb = 0.2 // of root, from which on a place may be root that was not traced
	faintFar  = 1.5 // mm from what was traced: nearer it is a root's soft edge
)

// faintPlaces is where there may be root that is not among those that count: what another photo shows there may be no change.
func (f *found) faintPlaces(w Wall) Veil {
	near := dilated(f.own, faintFar/f.sh.Step)
	return f.places(w, func(i int) bool { return f.reg.any.Pix[i] > faintProb && near.Pix[i] == 0 })
}

// places is a grid of those cells of the unrolled wall at whose middle something holds for the pixel of the frontal view.
func (f *found) places(w Wall, holds func(i int) bool) Veil {
	cell := veilMM * w.PxPerMM
	out := newVeil(int(float64(w.Pic.W)/cell)+1, int(float64(w.Pic.H)/cell)+1)
	for y := range out.H {
		for x := range out.W {
			mm := (float64(x) + 0.5) * veilMM
			depthMM := (float64(y) + 0.5) * veilMM
			depth := depthMM / f.v.slant
			az := (mm - w.ZeroPx/w.PxPerMM) / f.v.s.Radius(depth)
			u, v := f.v.at(az, depth)
			if i, ok := f.at(u, v); ok && math.Abs(az) < drawnAzimuth && holds(i) {
				out.set(x, y)
			}
		}
	}
	return out
}

// hides says whether a place of the wall, mm, lies behind the veil.
func (w *Wall) hides(x, y float64) bool {
	return w.Veil.at(int((x+w.ZeroPx/w.PxPerMM)/veilMM), int(y/veilMM))
}

// mayHave says whether a place of the wall, mm, may have root that was not traced.
func (w *Wall) mayHave(x, y float64) bool {
	u, v := int((x+w.ZeroPx/w.PxPerMM)/veilMM), int(y/veilMM)
	for dv := -1; dv <= 1; dv++ {
		for du := -1; du <= 1; du++ {
			if w.Faint.at(u+du, v+dv) {
				return true
			}
		}
	}
	return false
}
