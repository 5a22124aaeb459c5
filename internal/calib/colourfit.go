package calib

import (
	"math"
	"slices"

	"phototrack/internal/card"
	"phototrack/internal/colour"
	"phototrack/internal/gate"
	"phototrack/internal/geom"
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

type matrixKind int

const (
	matrixGains matrixKind = iota
	matrix3x3
	matrixRoot
)

func (k matrixKind) String() string {
	return [...]string{"gains", "3x3 matrix", "root-polynomial of degree 2"}[k]
}

// fitColour tries the tone curves and matrices, the simplest first, and takes a more complex one where its
// leave-one-out errors are clearly less. ok is false where too few patches can be used.
func fitColour(obs []patchObs) (ColourFit, bool) {
	if len(obs) < gate.MinPatches {
		return ColourFit{}, false
	}
	var best *ColourFit
	curves := &curveCache{}
	for _, m := range []matrixKind{matrixGains, matrix3x3, matrixRoot} {
		for _, t := range []toneKind{toneSRGB, toneGlare, toneCurve} {
			f, ok := fitModel(obs, t, m, curves)
			if !ok {
				continue
			}
			leaveOneOut(obs, t, m, curves, &f)
			if f.judged() >= gate.MinPatches && (best == nil || f.clearlyBetter(best)) {
				best = &f
			}
		}
	}
	if best == nil {
		return ColourFit{}, false
	}
	return *best, true
}

// judged is the number of patches with a leave-one-out error.
func (f *ColourFit) judged() (n int) {
	for _, e := range f.Residuals {
		if !math.IsNaN(e) {
			n++
		}
	}
	return
}

// A model takes the place of a simpler one where its leave-one-out errors are less by a tenth on average (and by more
// than nothing at all), and by twice the standard error of that difference over the patches: a model that wins by
// chance on one photo and not on the next would move colours between photos of an unchanged plant.
const (
	betterShare  = 0.9
	betterSigmas = 2.0
	betterLeast  = 0.02 // CIEDE2000
)

func (f *ColourFit) clearlyBetter(than *ColourFit) bool {
	var a, b, d, d2, n float64
	for i, e := range f.Residuals {
		o := than.Residuals[i]
		if math.IsNaN(e) || math.IsNaN(o) {
			continue
		}
		a, b, d, d2, n = a+e, b+o, d+o-e, d2+(o-e)*(o-e), n+1
	}
	if n < gate.MinPatches || a > betterShare*b || b-a < betterLeast*n {
		return false
	}
	d /= n
	return d > betterSigmas*math.Sqrt(math.Max(d2/n-d*d, 0)/(n-1))
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

func fitModel(obs []patchObs, t toneKind, m matrixKind, curves *curveCache) (ColourFit, bool) {
	f := ColourFit{Model: t.String() + ", " + m.String(), Root: m == matrixRoot, Used: len(obs)}
	var ok bool
	if f.Tone, ok = fitTone(obs, t, m, curves); !ok {
		return f, false
	}
	return f, fitMatrix(obs, m, &f)
}

// leastChroma is the chroma below which a patch's hue says little: of a grey none (chosen by eye).
const leastChroma = 15

func leaveOneOut(obs []patchObs, t toneKind, m matrixKind, curves *curveCache, f *ColourFit) {
	f.Residuals = make([]float64, 2*card.PatchesPerRow)
	for i := range f.Residuals {
		f.Residuals[i] = math.NaN()
	}
	var all []float64
	var l2, a2, b2, h2, nb, nh float64
	rest := make([]patchObs, 0, len(obs))
	for i, o := range obs {
		rest = append(append(rest[:0], obs[:i]...), obs[i+1:]...)
		g, ok := fitModel(rest, t, m, curves)
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
			if o.lab.Chroma() > leastChroma {
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
		v := math.Min(math.Max(o.rgb[c], 0), math.MaxUint8)
		i := min(int(v), math.MaxUint8-1)
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
