package calib

import (
	"math"
	"slices"

	"phototrack/internal/card"
	"phototrack/internal/colour"
	"phototrack/internal/gate"
	"phototrack/internal/geom"
	"phototrack/internal/raster"
)

// sample is the mean colour of a small field of the card, in the camera's own 8-bit values 0..255 (red, green, blue),
// before any correction; the middle three fifths of the pixels count, so that dust and a stroke of print do not.
type sample struct {
	rgb     [3]float64
	spread  float64 // 10 to 90 % range of the green values' linear light over its mean: gloss and shadow edges make it large
	clipped bool    // a fifth of its pixels or more are at a channel's end
	inside  bool    // in the photo
}

// clipHigh and clipLow are the camera values from which a channel tells nothing more.
const (
	clipHigh = 253
	clipLow  = 1
)

// sampleField samples the square of the card with its centre at c and the half side given, n by n pixels (the nearest
// ones: a mean over hundreds of pixels gains nothing from interpolation, and whole values can be counted).
func sampleField(img raster.BGR, h geom.Homography, c geom.MM, halfMM float64, n int) sample {
	var q [4]geom.PX
	for i, s := range [4][2]float64{{-1, -1}, {1, -1}, {-1, 1}, {1, 1}} {
		q[i] = h.Px(geom.MM{X: c.X + s[0]*halfMM, Y: c.Y + s[1]*halfMM})
		if !(q[i].X >= 0 && q[i].Y >= 0 && q[i].X <= float64(img.W-1) && q[i].Y <= float64(img.H-1)) {
			return sample{}
		}
	}
	var count [3][256]int
	for j := range n {
		v := float64(j) / float64(n-1)
		ax, ay := q[0].X+v*(q[2].X-q[0].X), q[0].Y+v*(q[2].Y-q[0].Y)
		bx, by := q[1].X+v*(q[3].X-q[1].X), q[1].Y+v*(q[3].Y-q[1].Y)
		for i := range n {
			u := float64(i) / float64(n-1)
			k := 3 * (int(ay+u*(by-ay)+0.5)*img.W + int(ax+u*(bx-ax)+0.5))
			count[2][img.Pix[k]]++
			count[1][img.Pix[k+1]]++
			count[0][img.Pix[k+2]]++
		}
	}
	s := sample{inside: true}
	total := n * n
	for ch := range 3 {
		s.rgb[ch] = trimmedMean(&count[ch], total/5, total-total/5)
		if rank(&count[ch], total-1-total/5) >= clipHigh || rank(&count[ch], total/5) <= clipLow {
			s.clipped = true
		}
	}
	lo, hi := rank(&count[1], total/10), rank(&count[1], total-1-total/10)
	s.spread = (colour.LinearOf8[hi] - colour.LinearOf8[lo]) / math.Max(at8(s.rgb[1]), darkest)
	return s
}

// trimmedMean is the mean of the values of ranks from..to-1 in a histogram.
func trimmedMean(count *[256]int, from, to int) float64 {
	var sum, seen int
	for v, c := range count {
		a, b := max(seen, from), min(seen+c, to)
		if b > a {
			sum += v * (b - a)
		}
		seen += c
	}
	return float64(sum) / float64(to-from)
}

// rank is the value of the given rank (0: the least) in a histogram.
func rank(count *[256]int, k int) int {
	for v, c := range count {
		if k -= c; k < 0 {
			return v
		}
	}
	return 255
}

// at8 is the linear light of a fractional 8-bit sRGB value.
func at8(v float64) float64 {
	v = math.Min(math.Max(v, 0), math.MaxUint8)
	i := min(int(v), math.MaxUint8-1)
	f := v - float64(i)
	return colour.LinearOf8[i]*(1-f) + colour.LinearOf8[i+1]*f
}

// patchObs is a patch as seen, with what it should be.
type patchObs struct {
	index   int // in card.Patches
	neutral bool
	rgb     [3]float64 // camera values 0..255
	gain    [3]float64 // light at the patch over that at the card's centre
	target  colour.RGB
	lab     colour.Lab
	weight  float64
}

func newPatchObs(i int, p card.Patch, rgb, gain [3]float64, target colour.RGB) patchObs {
	y := 0.2126*target[0] + 0.7152*target[1] + 0.0722*target[2]
	// CIELAB's lightness has the slope Y^(-2/3): with this weight, errors count about as they are seen.
	return patchObs{i, p.Neutral(), rgb, gain, target, target.Lab(), 1 / (math.Pow(math.Max(y, 0), 2.0/3) + 0.05)}
}

const (
	// glossSpread is the relative spread of light over a patch from which it is taken for a reflection or a shadow's edge.
	glossSpread = 0.35
	// glossLightU is the relative doubt about the light at a patch, from the white paper round it, from which the patch
	// says nothing: 8 % of light is 2.5 units of lightness.
	glossLightU  = 0.08
	patchSamples = 25
)

const clearMM, clearPx = 1.1, 4

// patchHalfMM is the half side of the field that is sampled of a patch: clearMM and clearPx stay clear of its edges, over which
// blur and the chroma of JPEG blocks reach.
func patchHalfMM(scalePxPerMM float64) float64 {
	const half = card.PatchSideMM / 2
	return math.Max(half-math.Max(clearMM, clearPx/scalePxPerMM), half/2)
}

// observePatches samples the patches that can be used; it counts those that are clipped and those that are not evenly lit.
// Patches in doubtful light are left out unless too few others remain: where a leaf's edge lies on the paper, not the
// light but the paper is doubtful, and the fit will tell.
func observePatches(img raster.BGR, h geom.Homography, scalePxPerMM float64, l light, targets PatchTargets) (obs []patchObs, clipped, glossy int) {
	var doubtful []patchObs
	for i, p := range card.Patches() {
		if i >= len(targets) || math.IsNaN(targets[i][0]) {
			continue
		}
		c := p.CentreMM()
		s := sampleField(img, h, geom.MM{X: c.X, Y: c.Y}, patchHalfMM(scalePxPerMM), patchSamples)
		if !s.inside {
			continue
		}
		if s.clipped {
			clipped++
			continue
		}
		gain, gainU := l.gain(c.X, c.Y)
		// Dark patches are noisy in relative terms; an eighth of the white's light is the floor of the yardstick.
		even := s.spread*at8(s.rgb[1])/math.Max(at8(s.rgb[1]), at8(l.whiteMedian[1])/8) <= glossSpread
		if !even {
			glossy++
			continue
		}
		o := newPatchObs(i, p, s.rgb, gain, targets[i])
		if gainU > glossLightU {
			doubtful = append(doubtful, o)
			continue
		}
		obs = append(obs, o)
	}
	if len(obs) < gate.MinPatches {
		obs = append(obs, doubtful...)
		slices.SortFunc(obs, func(a, b patchObs) int { return a.index - b.index })
		return
	}
	return obs, clipped, glossy + len(doubtful)
}
