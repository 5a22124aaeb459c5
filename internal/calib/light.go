package calib

import (
	"math"
	"slices"
	"sync"

	"phototrack/internal/card"
	"phototrack/internal/geom"
	"phototrack/internal/raster"
	"phototrack/internal/uncert"
)

var whiteSamples = sync.OnceValue(card.WhiteSamplesMM)

// whiteObs is bare paper at one place: the logarithm of the green light, and of red and of blue over green.
type whiteObs struct {
	x, y float64
	v    [3]float64
}

// light is how the light varies over the card, from its white ground: brightness and colour each as a surface.
type light struct {
	surface     [3]surface // ln green, ln red/green, ln blue/green
	per100      float64    // relative change of the green light over 100 mm, by its plane
	chroma100   float64    // relative change of the red to blue ratio over 100 mm: mixed light
	whiteMedian [3]float64
	clipped     float64 // share of white samples that are clipped
	ok          bool
}

// gain is the light at a point over that at the card's centre (red, green, blue), and the relative standard uncertainty
// of its brightness as the paper round about shows it.
func (l light) gain(x, y float64) (g [3]float64, relU float64) {
	if !l.ok {
		return [3]float64{1, 1, 1}, 0
	}
	const cx, cy = card.WidthMM / 2, card.HeightMM / 2
	var d [3]float64
	for k := range 3 {
		d[k] = l.surface[k].at(x, y) - l.surface[k].at(cx, cy)
	}
	return [3]float64{math.Exp(d[0] + d[1]), math.Exp(d[0]), math.Exp(d[0] + d[2])}, l.surface[0].doubt(x, y)
}

// minWhites is the least number of clean white samples that a surface is fitted to.
const minWhites = 12

// fitLight fits the light over the card's bare white ground. Samples on something that lies over the card are left
// out by their colour and where they jump against their neighbours; a shadow or a reflection that changes smoothly is
// light like any other.
func fitLight(img raster.BGR, h geom.Homography) light {
	var l light
	var all []whiteObs
	var med [3][]float64
	clipped := 0
	for _, p := range whiteSamples() {
		s := sampleField(img, h, geom.MM{X: p.X, Y: p.Y}, 0.8, 7)
		if !s.inside {
			continue
		}
		for c := range 3 {
			med[c] = append(med[c], s.rgb[c])
		}
		if s.clipped {
			clipped++
			continue
		}
		var ln [3]float64
		for c := range 3 {
			ln[c] = math.Log(math.Max(at8(s.rgb[c]), noLight))
		}
		all = append(all, whiteObs{p.X, p.Y, [3]float64{ln[1], ln[0] - ln[1], ln[2] - ln[1]}})
	}
	if len(med[0]) == 0 {
		return l
	}
	l.clipped = float64(clipped) / float64(len(med[0]))
	for c := range 3 {
		slices.Sort(med[c])
		l.whiteMedian[c] = med[c][len(med[c])/2]
	}
	all = likeMost(all)
	if len(all) < minWhites {
		return l
	}
	l.ok = true
	for k := range 3 {
		l.surface[k] = fitSurface(all, k)
	}
	var plane [3][3]float64
	for k := range 3 {
		plane[k] = robustPlane(all, k)
	}
	l.per100 = math.Hypot(plane[0][1], plane[0][2])
	l.chroma100 = math.Hypot(plane[1][1]-plane[2][1], plane[1][2]-plane[2][2])
	return l
}

// foreignLn is the difference of a sample's colour (ln red/green, ln blue/green) from the card's median that no mix of
// lights on white paper makes over so short a way, but a leaf or a finger does.
const foreignLn = 0.3

func likeMost(all []whiteObs) []whiteObs {
	var m [3]float64
	for k := 1; k < len(m); k++ {
		v := make([]float64, 0, len(all))
		for _, o := range all {
			v = append(v, o.v[k])
		}
		if len(v) == 0 {
			return nil
		}
		slices.Sort(v)
		m[k] = v[len(v)/2]
	}
	out := all[:0:0]
	for _, o := range all {
		if math.Abs(o.v[1]-m[1]) < foreignLn && math.Abs(o.v[2]-m[2]) < foreignLn {
			out = append(out, o)
		}
	}
	return out
}

// leastGateLn is how far, as a logarithm of light, a white may be off the surface and still count (chosen by eye).
const leastGateLn = 0.12

// noLight stands for linear light of nothing where its logarithm is taken.
const noLight = 1e-5

// robustPlane fits a plane (per 100 mm, about the card's centre) with Tukey's biweight.
func robustPlane(all []whiteObs, k int) (p [3]float64) {
	w := make([]float64, len(all))
	for i := range w {
		w[i] = 1
	}
	for range 6 {
		c, ok := quadricFit(all, w, k, 3)
		if !ok {
			return
		}
		copy(p[:], c[:3])
		res := make([]float64, len(all))
		for i, o := range all {
			res[i] = math.Abs(o.v[k] - quadricAt(c, o.x, o.y))
		}
		sorted := slices.Clone(res)
		slices.Sort(sorted)
		scale := math.Max(biweight*uncert.DeviationOfMedian*sorted[len(sorted)/2], leastGateLn)
		for i, r := range res {
			u := math.Min(r/scale, 1)
			w[i] = (1 - u*u) * (1 - u*u)
		}
	}
	return
}
