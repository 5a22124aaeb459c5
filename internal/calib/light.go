package calib

import (
	"math"
	"slices"
	"sync"

	"phototrack/internal/card"
	"phototrack/internal/colour"
	"phototrack/internal/geom"
	"phototrack/internal/raster"
)

// sample is the mean colour of a small field of the card, in the camera's own 8-bit values 0..255 (red, green, blue),
// before any correction; the middle three fifths of the pixels count, so that dust and a stroke of print do not.
type sample struct {
	rgb     [3]float64
	spread  float64 // robust relative spread of the green values' linear light: gloss and shadow edges make it large
	clipped bool    // a fifth of its pixels or more are at a channel's end
	inside  bool    // in the photo
}

// clipHigh and clipLow are the camera values from which a channel tells nothing more.
const (
	clipHigh = 253
	clipLow  = 1
)

func sampleField(img raster.BGR, h geom.Homography, cx, cy, half float64) sample {
	const n = 13
	var v [3][]float64
	for j := range n {
		for i := range n {
			p := h.Px(geom.MM{X: cx + half*(2*float64(i)/(n-1)-1), Y: cy + half*(2*float64(j)/(n-1)-1)})
			if !(p.X >= 0 && p.Y >= 0 && p.X <= float64(img.W-1) && p.Y <= float64(img.H-1)) {
				return sample{}
			}
			x0, y0 := min(int(p.X), img.W-2), min(int(p.Y), img.H-2)
			fx, fy := p.X-float64(x0), p.Y-float64(y0)
			k := 3 * (y0*img.W + x0)
			l := k + 3*img.W
			for c := range 3 {
				b := 2 - c
				v[c] = append(v[c], (1-fy)*((1-fx)*float64(img.Pix[k+b])+fx*float64(img.Pix[k+3+b]))+
					fy*((1-fx)*float64(img.Pix[l+b])+fx*float64(img.Pix[l+3+b])))
			}
		}
	}
	s := sample{inside: true}
	for c := range 3 {
		slices.Sort(v[c])
		m := len(v[c])
		s.rgb[c] = avg(v[c][m/5 : m-m/5])
		if v[c][m-m/5] >= clipHigh || v[c][m/5] <= clipLow {
			s.clipped = true
		}
	}
	g := v[1]
	lo, hi := at8(g[len(g)/10]), at8(g[len(g)-1-len(g)/10])
	s.spread = (hi - lo) / math.Max(at8(s.rgb[1]), 1e-4)
	return s
}

// at8 is the linear light of a fractional 8-bit sRGB value.
func at8(v float64) float64 {
	v = math.Min(math.Max(v, 0), 255)
	i := min(int(v), 254)
	f := v - float64(i)
	return colour.LinearOf8[i]*(1-f) + colour.LinearOf8[i+1]*f
}

var whiteSamples = sync.OnceValue(card.WhiteSamplesMM)

// light is how the light varies over the card: the logarithm of each channel's light is a plane (or a quadric where
// that is clearly better) about the card's centre.
type light struct {
	coef        [3][6]float64
	per100      float64 // relative change of the green light over 100 mm, by the plane part
	chroma100   float64 // relative change of the red to blue ratio over 100 mm: mixed light
	whiteMedian [3]float64
	clipped     float64 // share of white samples that are clipped
	seen        int
	residual    float64
	local       []localLight // what the smooth surface leaves at each white sample: a shadow's or reflection's flank
}

type localLight struct {
	x, y float64
	ln   [3]float64
}

// localMM is the reach of the local correction: patches lie within 7 mm of bare paper above or below.
const localMM = 7.0

func (l light) gain(x, y float64) (g [3]float64) {
	t := lightTerms(x, y)
	var near [3]float64
	sum := 1e-3 // far from any sample the correction fades out
	for _, p := range l.local {
		d := ((p.x-x)*(p.x-x) + (p.y-y)*(p.y-y)) / (localMM * localMM)
		if d > 6 {
			continue
		}
		w := math.Exp(-d)
		sum += w
		for c := range 3 {
			near[c] += w * p.ln[c]
		}
	}
	for c := range 3 {
		s := near[c] / sum
		for k := 1; k < 6; k++ {
			s += l.coef[c][k] * t[k]
		}
		g[c] = math.Exp(s)
	}
	return
}

func lightTerms(x, y float64) [6]float64 {
	u, v := (x-card.WidthMM/2)/100, (y-card.HeightMM/2)/100
	return [6]float64{1, u, v, u * u, u * v, v * v}
}

// fitLight fits the light over the card's bare white ground.
func fitLight(img raster.BGR, h geom.Homography) light {
	var l light
	type obs struct {
		x, y float64
		t    [6]float64
		ln   [3]float64
	}
	var all []obs
	var med [3][]float64
	clipped := 0
	for _, p := range whiteSamples() {
		s := sampleField(img, h, p.X, p.Y, 0.7)
		if !s.inside {
			continue
		}
		l.seen++
		for c := range 3 {
			med[c] = append(med[c], s.rgb[c])
		}
		if s.clipped {
			clipped++
			continue
		}
		o := obs{x: p.X, y: p.Y, t: lightTerms(p.X, p.Y)}
		for c := range 3 {
			o.ln[c] = math.Log(math.Max(at8(s.rgb[c]), 1e-5))
		}
		all = append(all, o)
	}
	if l.seen == 0 {
		return l
	}
	l.clipped = float64(clipped) / float64(l.seen)
	for c := range 3 {
		slices.Sort(med[c])
		l.whiteMedian[c] = med[c][len(med[c])/2]
	}
	if len(all) < 12 {
		return l
	}
	// Points in shadow or under something lie far below the rest: Tukey weights about the fit in green.
	w := make([]float64, len(all))
	for i := range w {
		w[i] = 1
	}
	terms := 3
	for pass := range 8 {
		if pass == 5 && len(all) >= 24 {
			terms = 6
		}
		for c := range 3 {
			A, b := make([][]float64, terms), make([]float64, terms)
			for i := range A {
				A[i] = make([]float64, terms)
				A[i][i] = 1e-6
			}
			for k, o := range all {
				for i := range terms {
					for j := range terms {
						A[i][j] += w[k] * o.t[i] * o.t[j]
					}
					b[i] += w[k] * o.t[i] * o.ln[c]
				}
			}
			if x, ok := geom.SolveSymmetric(A, b); ok {
				l.coef[c] = [6]float64{}
				copy(l.coef[c][:], x)
			}
		}
		res := make([]float64, len(all))
		for k, o := range all {
			var s float64
			for i := range 6 {
				s += l.coef[1][i] * o.t[i]
			}
			res[k] = math.Abs(o.ln[1] - s)
		}
		sorted := slices.Clone(res)
		slices.Sort(sorted)
		l.residual = sorted[len(sorted)/2] * 1.4826
		scale := math.Max(4.685*l.residual, 0.12)
		for k, r := range res {
			w[k] = 0
			if r < scale {
				u := r / scale
				w[k] = (1 - u*u) * (1 - u*u)
			}
		}
	}
	// What is left is the light's own pattern unless the sample is dirty or covered: more than a fifth off is not light.
	for _, o := range all {
		q := localLight{x: o.x, y: o.y}
		for c := range 3 {
			q.ln[c] = o.ln[c]
			for i := range 6 {
				q.ln[c] -= l.coef[c][i] * o.t[i]
			}
		}
		if math.Abs(q.ln[1]) < 0.22 {
			l.local = append(l.local, q)
		}
	}
	l.per100 = math.Hypot(l.coef[1][1], l.coef[1][2])
	l.chroma100 = math.Hypot(l.coef[0][1]-l.coef[2][1], l.coef[0][2]-l.coef[2][2])
	return l
}
