package plate

import (
	"image"
	"math"
	"slices"
	"sync"

	"gonum.org/v1/gonum/mat"

	"phototrack/internal/card"
	"phototrack/internal/colour"
	"phototrack/internal/pixels"
	"phototrack/internal/uncert"
)

// The stored working picture has its colours corrected by one rule for the whole picture; a light that falls off over
// the card is still in it. Side by side on a plate that shows, so it is taken out here: the logarithm of the light over
// the card's bare white ground is a plane, and each pixel is divided by it. It is one plane for all channels: the white
// ground of a reduced JPEG does not tell the channels apart finely enough (on the rendered series a plane a channel, or
// a quadric, leaves the patches farther apart). Beyond the card nothing is known of the light, so there the value at
// the card's nearest edge is kept.

var whiteGround = sync.OnceValue(card.WhiteSamplesMM)

// leastWhites is the number of white places from which the light is fitted; there are some sixty on a card in full view.
const leastWhites = 24

// plane is ln(light) = a + b u + c v; u and v in hundreds of mm from the card's centre.
type plane [3]float64

// evened returns the picture with its colours evened out (see alike) and the light's fall-off taken out; k is the
// picture's size over the photo's. Values between two levels are spread over both by an ordered pattern, so that a flat
// area keeps its mean.
func evened(m *image.NRGBA, toPx [9]float64, k float64, light plane) *image.NRGBA {
	return pixels.Even(m, alike(k), light.over(toPx))
}

// over gives what is to be taken out of a picture to have it in the light of the card's centre; nil is nothing.
func (p plane) over(toPx [9]float64) *pixels.Light {
	inv, ok := invert(toPx)
	if !ok || p == (plane{}) {
		return nil
	}
	return &pixels.Light{ToMM: inv, Across: card.WidthMM, Down: card.HeightMM, U: p[1], V: p[2]}
}

// steepest is the most light may change over 100 mm to be taken out, as a logarithm; photos beyond it are flagged.
const steepest = 0.6

// fitLight fits the light over the card's white ground: least squares, three times, leaving out what lies off (a leaf
// over the card, a shadow, gloss). The zero plane, light that falls evenly, is returned where the card does not let it be
// told.
func fitLight(m *image.NRGBA, toPx [9]float64) (p plane) {
	var obs []whiteObs
	for _, w := range whiteGround() {
		if o, ok := whiteAt(m, toPx, w); ok {
			obs = append(obs, o)
		}
	}
	for range 3 {
		if len(obs) < leastWhites {
			return plane{}
		}
		var ok bool
		if p, ok = fitPlane(obs); !ok {
			return plane{}
		}
		obs = p.near(obs)
	}
	if math.Hypot(p[1], p[2]) > steepest {
		return plane{}
	}
	return p
}

type whiteObs struct{ u, v, ln float64 }

// A white of the card that is brighter or darker than this, of 255, says nothing of the light (chosen by eye).
const clippedFrom, darkTo = 254, 8

// whiteAt is the mean light of a disc of 0.7 mm of bare paper; ok is false out of frame or where it is clipped.
func whiteAt(m *image.NRGBA, toPx [9]float64, w card.MM) (o whiteObs, ok bool) {
	const n, half = 7, 0.7
	o = whiteObs{u: (w.X - card.WidthMM/2) / 100, v: (w.Y - card.HeightMM/2) / 100}
	sum := 0.0
	var px [4]uint8
	for j := range n {
		for i := range n {
			q := apply(toPx, Point{w.X + half*(2*float64(i)/(n-1)-1), w.Y + half*(2*float64(j)/(n-1)-1)})
			if q.X < 0 || q.Y < 0 || q.X > float64(m.Rect.Dx()-1) || q.Y > float64(m.Rect.Dy()-1) {
				return o, false
			}
			sample(m, q.X, q.Y, px[:])
			for c := range 3 {
				if px[c] >= clippedFrom || px[c] <= darkTo {
					return o, false
				}
			}
			for c, weight := range luminance {
				sum += weight * colour.LinearOf8[px[c]]
			}
		}
	}
	o.ln = math.Log(sum / (n * n))
	return o, true
}

// luminance weighs the linear channels (IEC 61966-2-1, Y of the sRGB primaries).
var luminance = [3]float64{0.2126, 0.7152, 0.0722}

const (
	robustDeviations = 3     // (common practice)
	leastDeviation   = 0.003 // of the logarithm of light: what 8 bits resolve in the whites
)

// near keeps the places whose light lies within three robust deviations of the plane.
func (p plane) near(obs []whiteObs) []whiteObs {
	off := make([]float64, len(obs))
	for i, o := range obs {
		off[i] = math.Abs(o.ln - p[0] - p[1]*o.u - p[2]*o.v)
	}
	sorted := slices.Clone(off)
	slices.Sort(sorted)
	limit := robustDeviations * uncert.DeviationOfMedian * max(sorted[len(sorted)/2], leastDeviation)
	var out []whiteObs
	for i, o := range obs {
		if off[i] <= limit {
			out = append(out, o)
		}
	}
	return out
}

// fitPlane fits by least squares (QR decomposition).
func fitPlane(obs []whiteObs) (f plane, ok bool) {
	a, b := mat.NewDense(len(obs), 3, nil), mat.NewVecDense(len(obs), nil)
	for i, o := range obs {
		a.SetRow(i, []float64{1, o.u, o.v})
		b.SetVec(i, o.ln)
	}
	var x mat.VecDense
	if err := x.SolveVec(a, b); err != nil {
		return f, false
	}
	copy(f[:], x.RawVector().Data)
	return f, true
}
