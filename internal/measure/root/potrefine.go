package root

import (
	"math"
	"sort"

	"phototrack/internal/raster"
	"phototrack/internal/record"
	"phototrack/internal/wall"
)

// fineFit moves the predicted outline over the photo itself.
type fineFit struct {
	img     raster.BGR
	cam     wall.Camera
	pot     record.Pot
	offset  float64
	blocked screen
}

// start looks for the axis a little to either side, where the sides of the outline fit best: what lies in the pot and a
// moulded foot may have drawn the first search aside.
func (f *fineFit) start(v [3]float64) [3]float64 {
	best, at := f.sides(v), v
	for dx := -startMM; dx <= startMM; dx++ {
		for roll := -2.0; roll <= 2; roll++ {
			w := v
			w[0] += dx
			w[2] += roll * math.Pi / 180
			if s, ok := f.sidesAbove(w, plainSide, best); ok {
				best, at = s, w
			}
		}
	}
	return at
}

// sidesWeight is what a grey level of the sides is worth in grey levels of the rings.
const sidesWeight = 3.0

// bestRim is the axis and the rim's height for which rings and sides together fit best: the top of the filling runs across
// like a rim, and the sides of a tapered pot tell the two apart. wide looks for the axis farther off.
func (f *fineFit) bestRim(v [3]float64, wide bool) [3]float64 {
	best, at := math.Inf(-1), v
	for _, r := range f.rims(v) {
		w := v
		w[1] = r.y
		if wide {
			w = f.start(w)
		}
		w = f.refine(w)
		if s := r.strength + sidesWeight*f.sides(w); s > best {
			best, at = s, w
		}
	}
	return at
}

// refine improves the axis and its roll by coordinate search; v is the axis at half height, the rim (mm), the roll (rad).
func (f *fineFit) refine(v [3]float64) [3]float64 {
	best := f.sides(v)
	steps := [3]float64{1, 0, 0.8 * math.Pi / 180}
	for range 5 {
		for moved := true; moved; {
			moved = false
			for _, k := range [2]int{0, 2} {
				for _, sign := range [2]float64{-1, 1} {
					w := v
					w[k] += sign * steps[k]
					if math.Abs(w[2]) > mostRoll {
						continue
					}
					if s, ok := f.sidesAbove(w, plainSide, best+sameFit); ok {
						best, v, moved = s, w, true
					}
				}
			}
		}
		for k := range steps {
			steps[k] /= 2
		}
	}
	return v
}

// plainSide is the step of brightness, grey levels, that is a plain edge of a side: more does not count.
const plainSide = 15

// sides is the mean step of brightness, clipped, across the outline's two sides, the weaker one counting most.
func (f *fineFit) sides(v [3]float64) float64 { return f.sidesClipped(v, plainSide) }

func (f *fineFit) sidesClipped(v [3]float64, clip float64) float64 {
	s, _ := f.sidesAbove(v, clip, math.Inf(-1))
	return s
}

// sidesAbove is sidesClipped where that is more than least; it stops, with false, as soon as it cannot be.
func (f *fineFit) sidesAbove(v [3]float64, clip, least float64) (float64, bool) {
	fr := frustumAt(f.pot, v[0], v[1], v[2], f.offset)
	eye := f.cam.Centre()
	s := fr.Inset(-wallThickMM).Facing(eye).Sheet()
	_, _, side := s.Frame()
	var sum [2]float64
	const n = 40
	for i := range n {
		y := f.pot.HeightMM * (0.08 + 0.86*float64(i)/(n-1))
		l, r, ok := s.Silhouette(eye, y)
		if !ok {
			return 0, 0 > least
		}
		sum[0] += math.Min(math.Abs(f.step(s.Point(l, y), side, 0.6)), clip) / n
		sum[1] += math.Min(math.Abs(f.step(s.Point(r, y), side, 0.6)), clip) / n
		rest := clip * float64(n-1-i) / n
		if twoSides(sum[0]+rest, sum[1]+rest) < least-1e-6 { // more than rounding
			return 0, false
		}
	}
	strength := twoSides(sum[0], sum[1])
	return strength, strength > least
}

// twoSides is what the strengths of two sides are worth: the weaker one counts most.
func twoSides(l, r float64) float64 { return math.Min(l, r) + 0.3*(l+r) }

// rims slides the front of the rim's ring up and down and lists the places where it may be, the likeliest first: its upper edge is where brightness changes all along the ring
// at once. The foot, which may be moulded, has to have some such edge a wall's height below. Steps are averaged with
// their sign before their size is taken, so that leaf edges and bark, which cross the ring anyhow, drop out.
func (f *fineFit) rims(v [3]float64) []ring {
	const reach, dy = 13.0, 0.25
	s := frustumAt(f.pot, v[0], v[1], v[2], f.offset).Facing(f.cam.Centre()).Sheet()
	axis, _, _ := s.Frame()
	along := func(y float64) float64 {
		var sum float64
		const n = 32
		for i := range n {
			sum += f.step(s.Point(0.8*(2*float64(i)/(n-1)-1), y), axis, 0.4) / n
		}
		return math.Abs(sum)
	}
	n := int(2*reach/dy) + 1
	const moulding = 3.5
	m := int(moulding / dy)
	foot := make([]float64, n+2*m)
	for i := range foot {
		foot[i] = along(f.pot.HeightMM - reach - moulding + float64(i)*dy)
	}
	at := make([]float64, n)
	for i := range at {
		d := -reach + float64(i)*dy
		var under float64
		for _, g := range foot[i : i+2*m+1] {
			under = math.Max(under, g)
		}
		at[i] = math.Min(along(d), ringMost) + 0.6*math.Min(under, footMost) - 0.3*math.Abs(d)
	}
	const near, most = 6, 4 // steps within which the stronger wins; places looked at
	var out []ring
	for i, e := range at {
		peak := true
		for k := max(0, i-near); k <= min(n-1, i+near); k++ {
			peak = peak && (at[k] < e || at[k] == e && k >= i)
		}
		if peak {
			out = append(out, ring{v[1] - reach + float64(i)*dy, e})
		}
	}
	sort.Slice(out, func(i, j int) bool { return out[i].strength > out[j].strength })
	return out[:min(len(out), most)]
}

// step is the change of brightness, grey levels, from d mm before p to d mm behind it along dir.
func (f *fineFit) step(p wall.Vec, dir wall.Vec, d float64) float64 {
	var g [2]float32
	for k, e := range [2]float64{-d, d} {
		u, v, ok := f.cam.Project(p.Add(dir.Scale(e)))
		if !ok || u < 1 || v < 1 || u > float64(f.img.W-3) || v > float64(f.img.H-3) || f.blocked.hides(u, v) {
			return 0
		}
		b, gg, r := bilinear(f.img, u, v)
		g[k] = 0.25*b + 0.5*gg + 0.25*r
	}
	return float64(g[1] - g[0])
}
