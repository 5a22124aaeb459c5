package calib

import (
	"math"

	"phototrack/internal/colour"
	"phototrack/internal/geom"
)

type toneKind int

const (
	toneSRGB  toneKind = iota // the sRGB curve as it stands
	toneGlare                 // the sRGB curve less a constant light
	toneCurve                 // a smooth curve through the greys, less a constant light
)

func (k toneKind) String() string {
	return [...]string{"sRGB tone", "sRGB tone less glare", "tone from the greys less glare"}[k]
}

// fitTone makes the tone tables: the linear light of each camera value, before gain or matrix.
//
// Every photo of a card has light on it that does not come from the ink: the surface's own reflection of the room and
// the lens's veiling glare (ISO 9358). It adds the same light to all patches, a per cent or so of white's, which
// doubles what is seen of the darkest: in linear light the camera's values are an affine function of the colours.
func fitTone(obs []patchObs, kind toneKind, m matrixKind, curves *curveCache) (tone [3][256]float64, ok bool) {
	switch kind {
	case toneGlare:
		glare, ok := fitGlare(obs, m)
		if !ok {
			return tone, false
		}
		for c := range 3 {
			for v := range 256 {
				tone[c][v] = math.Max(colour.LinearOf8[v]-glare[c], 0)
			}
		}
		return tone, true
	case toneCurve:
		return curves.fit(obs)
	}
	for c := range 3 {
		tone[c] = colour.LinearOf8
	}
	return tone, true
}

// maxGlare is the most that is taken for glare, in camera light: with more, dark patches are lost in it.
const maxGlare = 0.05

// glareColourShare is how far the glare's colour may lie from the light's, as a share of it (one standard deviation): a
// room's walls reflect a somewhat other light than the lamp's.
const glareColourShare = 0.15

// fitGlare is the constant light, in camera values, of the affine fit of the targets to the sRGB light. For gains each
// channel has a term of its own, held near a common one in units of white: what the surface reflects has about the
// light's colour, and one patch's noise must not tint the darks. With a matrix all three are fitted together.
func fitGlare(obs []patchObs, m matrixKind) (glare [3]float64, ok bool) {
	if m != matrixGains {
		return fitGlareMixed(obs)
	}
	// target = k_c s / gain - j_c / gain, j the glare in units of white; k first, then j.
	A, b := zeros(6)
	var yy, n float64
	for _, o := range obs {
		for c := range 3 {
			var t [6]float64
			t[c], t[3+c] = at8(o.rgb[c])/o.gain[c], -1/o.gain[c]
			w := o.weight * o.weight
			accumulate(A, b, t[:], o.target[c], w)
			yy, n = yy+w*o.target[c]*o.target[c], n+1
		}
	}
	x, ok := geom.SolveSymmetric(A, b)
	if !ok {
		return glare, false
	}
	ss := yy
	for i := range x {
		ss -= x[i] * b[i]
	}
	mean := (x[3] + x[4] + x[5]) / 3
	hold := math.Max(ss, 0) / (n - glareTerms) / math.Pow(math.Max(glareColourShare*math.Abs(mean), darkest), 2)
	for c := range 3 { // hold times the squared distance of each term from their mean
		for d := range 3 {
			A[3+c][3+d] -= hold / 3
		}
		A[3+c][3+c] += hold
	}
	if x, ok = geom.SolveSymmetric(A, b); !ok {
		return glare, false
	}
	for c := range 3 {
		if glare[c] = x[3+c] / x[c]; x[c] <= 0 || math.Abs(glare[c]) > maxGlare {
			return glare, false
		}
	}
	return glare, true
}

func fitGlareMixed(obs []patchObs) (glare [3]float64, ok bool) {
	var m geom.Mat3
	var j geom.Vec3
	for c := range 3 {
		A, b := zeros(4)
		for _, o := range obs {
			e := 1 / o.gain[0] / 3 // the gains of the three channels differ by a per cent or two
			e += 1/o.gain[1]/3 + 1/o.gain[2]/3
			t := [4]float64{at8(o.rgb[0]) / o.gain[0], at8(o.rgb[1]) / o.gain[1], at8(o.rgb[2]) / o.gain[2], e}
			accumulate(A, b, t[:], o.target[c], o.weight*o.weight)
		}
		x, ok := geom.SolveSymmetric(A, b)
		if !ok {
			return glare, false
		}
		copy(m[3*c:], x[:3])
		j[c] = x[3]
	}
	inv, err := m.Inv()
	if err != nil {
		return glare, false
	}
	g := inv.Vec(j)
	for c := range 3 {
		if glare[c] = -g[c]; !(math.Abs(glare[c]) < maxGlare) {
			return glare, false
		}
	}
	return glare, true
}

func zeros(n int) (A [][]float64, b []float64) {
	A, b = make([][]float64, n), make([]float64, n)
	for i := range A {
		A[i] = make([]float64, n)
	}
	return
}

func accumulate(A [][]float64, b, t []float64, y, w float64) {
	for i := range t {
		for j := range t {
			A[i][j] += w * t[i] * t[j]
		}
		b[i] += w * t[i] * y
	}
}

// curveCache keeps the curves fitted to sets of greys: leaving out a colour leaves the curve as it is.
type curveCache struct {
	keys  []uint32
	tones []*[3][256]float64 // nil: no monotone curve
}

func (cc *curveCache) fit(obs []patchObs) ([3][256]float64, bool) {
	var key uint32
	var greys []patchObs
	for _, o := range obs {
		if o.neutral {
			key |= 1 << o.index
			greys = append(greys, o)
		}
	}
	for i, k := range cc.keys {
		if k == key {
			if cc.tones[i] == nil {
				return [3][256]float64{}, false
			}
			return *cc.tones[i], true
		}
	}
	tone, ok := fitCurve(greys)
	cc.keys = append(cc.keys, key)
	if ok {
		cc.tones = append(cc.tones, &tone)
	} else {
		cc.tones = append(cc.tones, nil)
	}
	return tone, ok
}

// minGreys is the least number of greys that a curve is fitted to.
const minGreys = 6

const (
	glareTerms = 6    // a gain and a glare for each channel
	leastLeft  = 0.02 // of a grey's light, when the glare is taken off
)

// fitCurve fits the greys of all channels together: light = (sRGB light - glare_c) exp(a_c + b u + d u^2 + e u^3), u the
// camera value over 255. A camera's curve is one for its three channels and bends away from sRGB's slowly; small priors on
// b, d and e keep it from following noise where a grey is missing.
func fitCurve(greys []patchObs) (tone [3][256]float64, ok bool) {
	if len(greys) < minGreys {
		return tone, false
	}
	light := func(p []float64, c int, s, u float64) float64 {
		return math.Max(s-p[3+c], leastLeft*s) * math.Exp(p[c]+u*(p[6]+u*(p[7]+u*p[8])))
	}
	start := make([]float64, 9)
	for c := range 3 {
		var sum float64
		for _, o := range greys {
			sum += math.Log(math.Max(o.target[c]*o.gain[c], noLight) / math.Max(at8(o.rgb[c]), noLight))
		}
		start[c] = sum / float64(len(greys))
	}
	const unit = 100 // residuals about in CIELAB units over 1
	fit := geom.LM(start, 3*len(greys)+6, func(p, r []float64) {
		k := 0
		for _, o := range greys {
			for c := range 3 {
				r[k] = unit * o.weight * (light(p, c, at8(o.rgb[c]), o.rgb[c]/255)/o.gain[c] - o.target[c])
				k++
			}
		}
		for i := range 3 {
			r[k], r[k+1] = p[3+i]/0.02, p[6+i]/2
			k += 2
		}
	}, 25)
	for c := range 3 {
		if math.Abs(fit.P[3+c]) > maxGlare {
			return tone, false
		}
		for v := range 256 {
			tone[c][v] = light(fit.P, c, colour.LinearOf8[v], float64(v)/255)
			if v > 0 && tone[c][v] < tone[c][v-1] {
				return tone, false
			}
		}
	}
	return tone, true
}
