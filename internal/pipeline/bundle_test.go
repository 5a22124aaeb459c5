package pipeline_test

import (
	"image"
	"math"
	"math/rand/v2"
	"slices"

	"phototrack/internal/colour"
)

// bundle is some roots that run down the wall side by side, touching.
type bundle struct {
	n        int
	wide     float64 // diameter of a root, mm
	mid      float64 // azimuth, rad
	from, to float64 // depth, mm
	sway, ph float64 // mm, rad: how far and where it swings aside
	lean     float64
	tone     colour.RGB
}

// across is where the middle of the bundle runs at a depth, mm along the wall.
func (b *bundle) across(s *wallScene, depth float64) float64 {
	return s.radius*b.mid + b.lean*(depth-s.height/2) + b.sway*math.Sin(2*math.Pi*depth/s.height+b.ph)
}

// mostInBundle is how many roots run side by side at most; by eye.
const mostInBundle = 4

// withBundles lays bundles of one to four roots on bare places of the wall, and gives how much longer the roots that count are for it.
func (s *wallScene) withBundles(pic *image.NRGBA, r *rand.Rand) (out *image.NRGBA, mm float64) {
	var laid []*bundle
	for range 1 + r.IntN(3) {
		for range 20 {
			b := bundle{n: 1 + r.IntN(mostInBundle), wide: 2.5 + 2.5*r.Float64(), mid: 1.6*r.Float64() - 0.8, sway: 4 * r.Float64(), ph: 6.3 * r.Float64(), lean: 0.3 * (2*r.Float64() - 1), tone: pick(r, rootColours[:5])}
			b.from = s.height * (0.1 + 0.2*r.Float64())
			b.to = s.height * (0.6 + 0.3*r.Float64())
			if !s.bare(&b) || slices.ContainsFunc(laid, func(o *bundle) bool { return s.touch(o, &b) }) {
				continue
			}
			laid = append(laid, &b)
			pic = s.drawBundle(pic, &b, r)
			mm += s.lengthOf(&b)
			break
		}
	}
	return pic, mm
}

// bare says that no root lies where a bundle would.
func (s *wallScene) bare(b *bundle) bool {
	for i, p := range s.at {
		if p.depth > b.from-4 && p.depth < b.to+4 && math.Abs(s.radius*p.az-b.across(s, p.depth)) < b.wide*(float64(b.n)/2+1) {
			if s.root[i] > 0 || math.Abs(p.az) > 1 {
				return false
			}
		}
	}
	return true
}

// touch says that two bundles come near each other.
func (s *wallScene) touch(a, b *bundle) bool {
	for d := 0.0; d < s.height; d++ {
		if math.Abs(a.across(s, d)-b.across(s, d)) < (a.wide*float64(a.n)+b.wide*float64(b.n))/2+2 {
			return true
		}
	}
	return false
}

// lengthOf is the length of the bundle's roots together.
func (s *wallScene) lengthOf(b *bundle) (mm float64) {
	const step = 0.25
	for d := b.from; d < b.to; d += step {
		k := 1 - b.wide/2/s.radius // middles lie inside the wall
		mm += math.Hypot(step, k*(b.across(s, d+step)-b.across(s, d)))
	}
	return float64(b.n) * mm
}

func (s *wallScene) drawBundle(pic *image.NRGBA, b *bundle, r *rand.Rand) *image.NRGBA {
	fine, rough := noise(r, 0.7, 1.5), noise(r, 3, 10)
	return s.repaint(pic, func(p place, _, _ int, c colour.RGB) colour.RGB {
		off := s.radius*p.az - b.across(s, p.depth) + b.wide*float64(b.n)/2
		k := math.Floor(off / b.wide)
		if k < 0 || int(k) >= b.n {
			return c
		}
		u := 2*(off/b.wide-k) - 1                                     // -1 to 1 across its root
		e := max(0, b.from+b.wide/2-p.depth, p.depth-(b.to-b.wide/2)) // round ends
		if v := math.Hypot(u, 2*e/b.wide); v < 1 {
			lit := (0.55 + 0.45*math.Sqrt(1-v*v) + 0.1*u) * (1 + 0.06*fine(off, p.depth) + 0.06*rough(off+20*k, p.depth))
			edge := min(1, (1-v)*b.wide*2)
			return toward(c, scaled(b.tone, 0.75*lit), edge)
		}
		return c
	})
}
