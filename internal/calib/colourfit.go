package calib

import (
	"cmp"
	"math"
	"slices"

	"phototrack/internal/card"
	"phototrack/internal/colour"
	"phototrack/internal/geom"
	"phototrack/internal/raster"
)

// PatchTargets are the colours that the patches are corrected to, linear sRGB, in the order of card.Patches.
type PatchTargets []colour.RGB

// NominalTargets are the colours of the card's drawing.
func NominalTargets() PatchTargets {
	var out PatchTargets
	for _, p := range card.Patches() {
		out = append(out, colour.FromSRGB8(p.SRGB[0], p.SRGB[1], p.SRGB[2]))
	}
	return out
}

// ColourFit corrects the camera's 8-bit values to linear sRGB as the card's colours say, under the light at the
// card's centre: a tone curve per channel (a table), then a matrix on the channels or on their root-polynomial terms.
type ColourFit struct {
	Model   string // tone + matrix
	Tone    [3][256]float64
	M       [3][6]float64 // columns 3..5 are for sqrt(rg), sqrt(gb), sqrt(br); zero where the model is linear
	Root    bool
	Median  float64 // CIEDE2000 of the patches, leave-one-out
	Worst   float64
	Clipped int // patches left out because a channel was at its end
	Glossy  int // patches left out because they were not even
	Used    int
	// What the leave-one-out errors of the plant colours (row B) say of a corrected colour, standard deviations.
	LU, AU, BU, HueU float64
	Residuals        []float64 // CIEDE2000 per patch, leave-one-out; NaN where the patch was not used
}

// Linear corrects a camera colour to linear sRGB.
func (f *ColourFit) Linear(b, g, r uint8) colour.RGB {
	return f.apply(colour.RGB{f.Tone[0][r], f.Tone[1][g], f.Tone[2][b]})
}

func (f *ColourFit) apply(x colour.RGB) (out colour.RGB) {
	for c := range 3 {
		out[c] = f.M[c][0]*x[0] + f.M[c][1]*x[1] + f.M[c][2]*x[2]
	}
	if f.Root {
		rg, gb, br := root(x[0]*x[1]), root(x[1]*x[2]), root(x[2]*x[0])
		for c := range 3 {
			out[c] += f.M[c][3]*rg + f.M[c][4]*gb + f.M[c][5]*br
		}
	}
	return
}

func root(v float64) float64 { return math.Sqrt(math.Max(v, 0)) }

// Lab corrects a camera colour to CIELAB.
func (f *ColourFit) Lab(b, g, r uint8) colour.Lab { return f.Linear(b, g, r).Lab() }

type toneKind int

const (
	toneSRGB toneKind = iota
	toneSmooth
	toneNeutrals
)

func (k toneKind) String() string {
	return [...]string{"sRGB tone", "smooth tone", "tone from the greys"}[k]
}

type matrixKind int

const (
	matrixGains matrixKind = iota
	matrix3x3
	matrixRoot
)

func (k matrixKind) String() string {
	return [...]string{"gains", "3x3 matrix", "root-polynomial of degree 2"}[k]
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

// glossSpread is the relative spread of light over a patch from which it is taken for a reflection or a shadow's edge.
const glossSpread = 0.35

func observePatches(img raster.BGR, h geom.Homography, l light, targets PatchTargets) (obs []patchObs, clipped, glossy int) {
	for i, p := range card.Patches() {
		c := p.CentreMM()
		s := sampleField(img, h, c.X, c.Y, 3.4)
		if !s.inside {
			continue
		}
		if s.clipped {
			clipped++
			continue
		}
		// Dark patches are noisy in relative terms; an eighth of the white's light is the floor of the yardstick.
		if s.spread*at8(s.rgb[1])/math.Max(at8(s.rgb[1]), 0.125*at8(l.whiteMedian[1])) > glossSpread {
			glossy++
			continue
		}
		t := targets[i]
		y := 0.2126*t[0] + 0.7152*t[1] + 0.0722*t[2]
		obs = append(obs, patchObs{i, p.Neutral(), s.rgb, l.gain(c.X, c.Y), t, t.Lab(), 1 / (math.Pow(math.Max(y, 0), 2.0/3) + 0.05)})
	}
	return
}

// minPatches is the least number of patches that a correction can rest on.
const minPatches = 14

// fitColour tries the tone curves and matrices and takes the simplest whose leave-one-out error is not clearly worse
// than the best. ok is false where too few patches can be used.
func fitColour(obs []patchObs) (ColourFit, bool) {
	if len(obs) < minPatches {
		return ColourFit{}, false
	}
	type trial struct {
		fit  ColourFit
		cost float64
	}
	var best *trial
	for _, m := range []matrixKind{matrixGains, matrix3x3, matrixRoot} {
		for _, t := range []toneKind{toneSRGB, toneSmooth, toneNeutrals} {
			f, ok := fitModel(obs, t, m)
			if !ok {
				continue
			}
			leaveOneOut(obs, t, m, &f)
			var sum float64
			var n int
			for _, e := range f.Residuals {
				if !math.IsNaN(e) {
					sum += e
					n++
				}
			}
			if n < minPatches {
				continue
			}
			cost := sum / float64(n)
			// A more complex model must be better by a tenth: leave-one-out means are themselves uncertain by about that.
			if best == nil || cost < 0.92*best.cost {
				best = &trial{f, cost}
			}
		}
	}
	if best == nil {
		return ColourFit{}, false
	}
	return best.fit, true
}

// hiddenError is the CIEDE2000 error of a patch that is not the patch: a leaf lies over it.
const hiddenError = 8.0

// withoutHidden takes out patches that something lies over, worst first, until the rest agree. ok is false where too
// few agree.
func withoutHidden(obs []patchObs, f ColourFit, ok bool) ([]patchObs, ColourFit, bool, int) {
	hidden := 0
	for ok && f.Worst > hiddenError {
		worst := -1
		for i, o := range obs {
			if e := f.Residuals[o.index]; !math.IsNaN(e) && (worst < 0 || e > f.Residuals[obs[worst].index]) {
				worst = i
			}
		}
		obs = slices.Delete(slices.Clone(obs), worst, worst+1)
		hidden++
		f, ok = fitColour(obs)
	}
	return obs, f, ok, hidden
}

func fitModel(obs []patchObs, t toneKind, m matrixKind) (ColourFit, bool) {
	f := ColourFit{Model: t.String() + ", " + m.String(), Root: m == matrixRoot, Used: len(obs)}
	var ok bool
	if f.Tone, ok = fitTone(obs, t); !ok {
		return f, false
	}
	return f, fitMatrix(obs, m, &f)
}

func leaveOneOut(obs []patchObs, t toneKind, m matrixKind, f *ColourFit) {
	f.Residuals = make([]float64, 2*card.PatchesPerRow)
	for i := range f.Residuals {
		f.Residuals[i] = math.NaN()
	}
	var all []float64
	var l2, a2, b2, h2, nb, nh float64
	rest := make([]patchObs, 0, len(obs))
	for i, o := range obs {
		rest = append(append(rest[:0], obs[:i]...), obs[i+1:]...)
		g, ok := fitModel(rest, t, m)
		if !ok {
			continue
		}
		lab := g.corrected(o).Lab()
		e := colour.DeltaE2000(lab, o.lab)
		f.Residuals[o.index] = e
		all = append(all, e)
		if o.index >= card.PatchesPerRow {
			d := func(x, y float64) float64 { return (x - y) * (x - y) }
			l2, a2, b2, nb = l2+d(lab.L, o.lab.L), a2+d(lab.A, o.lab.A), b2+d(lab.B, o.lab.B), nb+1
			if o.lab.Chroma() > 15 {
				dh := math.Remainder(lab.HueDeg()-o.lab.HueDeg(), 360)
				h2, nh = h2+dh*dh, nh+1
			}
		}
	}
	if len(all) == 0 {
		return
	}
	slices.Sort(all)
	f.Median, f.Worst = (all[(len(all)-1)/2]+all[len(all)/2])/2, all[len(all)-1]
	if nb > 0 {
		f.LU, f.AU, f.BU = math.Sqrt(l2/nb), math.Sqrt(a2/nb), math.Sqrt(b2/nb)
	}
	if nh > 0 {
		f.HueU = math.Sqrt(h2 / nh)
	}
}

// corrected is the patch's colour under the light of the card's centre.
func (f *ColourFit) corrected(o patchObs) colour.RGB {
	return f.apply(f.toned(o))
}

func (f *ColourFit) toned(o patchObs) (x colour.RGB) {
	for c := range 3 {
		v := math.Min(math.Max(o.rgb[c], 0), 255)
		i := min(int(v), 254)
		d := v - float64(i)
		x[c] = (f.Tone[c][i]*(1-d) + f.Tone[c][i+1]*d) / o.gain[c]
	}
	return
}

func fitMatrix(obs []patchObs, m matrixKind, f *ColourFit) bool {
	n := [...]int{1, 3, 6}[m]
	for c := range 3 {
		A, b := make([][]float64, n), make([]float64, n)
		for i := range A {
			A[i] = make([]float64, n)
		}
		for _, o := range obs {
			x := f.toned(o)
			t := []float64{x[0], x[1], x[2]}
			if m == matrixGains {
				t = []float64{x[c]}
			} else if m == matrixRoot {
				t = append(t, root(x[0]*x[1]), root(x[1]*x[2]), root(x[2]*x[0]))
			}
			w := o.weight * o.weight
			for i := range n {
				for j := range n {
					A[i][j] += w * t[i] * t[j]
				}
				b[i] += w * t[i] * o.target[c]
			}
		}
		x, ok := geom.SolveSymmetric(A, b)
		if !ok {
			return false
		}
		f.M[c] = [6]float64{}
		if m == matrixGains {
			f.M[c][c] = x[0]
		} else {
			copy(f.M[c][:], x)
		}
	}
	return true
}

// fitTone makes the tone tables. "smooth" bends the sRGB curve by a quadratic in the logarithm of light, one for all
// channels with a gain each; "neutrals" runs through the greys: the logarithm of what a grey should be over its sRGB light is
// interpolated, since a camera's curve bends away from sRGB's slowly, and carried on straight below the darkest grey.
func fitTone(obs []patchObs, kind toneKind) (tone [3][256]float64, ok bool) {
	if kind == toneSRGB {
		for c := range 3 {
			tone[c] = colour.LinearOf8
		}
		return tone, true
	}
	var greys []patchObs
	for _, o := range obs {
		if o.neutral {
			greys = append(greys, o)
		}
	}
	if len(greys) < 6 {
		return tone, false
	}
	if kind == toneSmooth {
		return smoothTone(greys)
	}
	for c := range 3 {
		var xs, ys []float64
		g := slices.Clone(greys)
		slices.SortFunc(g, func(a, b patchObs) int { return cmp.Compare(a.rgb[c], b.rgb[c]) })
		for _, o := range g {
			x := o.rgb[c]
			if len(xs) > 0 && x < xs[len(xs)-1]+1 {
				return tone, false
			}
			xs, ys = append(xs, x), append(ys, math.Log(o.target[c]*o.gain[c]/math.Max(at8(x), 1e-5)))
		}
		bend := pchip(xs, ys)
		for v := range 256 {
			tone[c][v] = colour.LinearOf8[v] * math.Exp(bend(float64(v)))
			if v > 0 && tone[c][v] < tone[c][v-1] {
				return tone, false
			}
		}
	}
	return tone, true
}

func smoothTone(greys []patchObs) (tone [3][256]float64, ok bool) {
	// ln target = a_c + b ln s + d (ln s)^2 with s the sRGB light: b = 1, d = 0 is the sRGB curve itself.
	const n = 5
	A, b := make([][]float64, n), make([]float64, n)
	for i := range A {
		A[i] = make([]float64, n)
	}
	for _, o := range greys {
		for c := range 3 {
			s := math.Log(math.Max(at8(o.rgb[c]), 1e-4))
			var t [n]float64
			t[c], t[3], t[4] = 1, s, s*s
			y := math.Log(math.Max(o.target[c]*o.gain[c], 1e-5))
			for i := range n {
				for j := range n {
					A[i][j] += t[i] * t[j]
				}
				b[i] += t[i] * y
			}
		}
	}
	x, ok := geom.SolveSymmetric(A, b)
	if !ok {
		return tone, false
	}
	// Below the darkest grey the curve goes on with the slope it has there, as sRGB light does.
	floor := math.Inf(1)
	for _, o := range greys {
		floor = math.Min(floor, at8((o.rgb[0]+o.rgb[1]+o.rgb[2])/3))
	}
	for c := range 3 {
		at := func(l float64) float64 {
			s := math.Log(l)
			return math.Exp(x[c] + x[3]*s + x[4]*s*s)
		}
		for v := range 256 {
			l := colour.LinearOf8[v]
			if l < floor/2 {
				tone[c][v] = at(floor/2) * l / (floor / 2)
			} else {
				tone[c][v] = at(l)
			}
			if v > 0 && tone[c][v] < tone[c][v-1] {
				return tone, false
			}
		}
	}
	return tone, true
}

// pchip interpolates points by cubics that do not overshoot (Fritsch & Carlson 1980, SIAM J. Numer. Anal. 17:238);
// beyond the ends it goes on straight, with the slope of the last piece.
func pchip(x, y []float64) func(float64) float64 {
	n := len(x)
	d, m := make([]float64, n-1), make([]float64, n)
	for i := range d {
		d[i] = (y[i+1] - y[i]) / (x[i+1] - x[i])
	}
	m[0], m[n-1] = d[0], d[n-2]
	for i := 1; i < n-1; i++ {
		if d[i-1]*d[i] > 0 {
			h0, h1 := x[i]-x[i-1], x[i+1]-x[i]
			w1, w2 := 2*h1+h0, h1+2*h0
			m[i] = (w1 + w2) / (w1/d[i-1] + w2/d[i])
		}
	}
	return func(v float64) float64 {
		switch {
		case v < x[0]:
			return y[0] + m[0]*(v-x[0])
		case v > x[n-1]:
			return y[n-1] + m[n-1]*(v-x[n-1])
		}
		i := 0
		for i < n-2 && v > x[i+1] {
			i++
		}
		h := x[i+1] - x[i]
		t := (v - x[i]) / h
		return y[i]*(1+2*t)*(1-t)*(1-t) + h*m[i]*t*(1-t)*(1-t) + y[i+1]*t*t*(3-2*t) - h*m[i+1]*t*t*(1-t)
	}
}
