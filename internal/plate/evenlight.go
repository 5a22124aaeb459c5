package plate

import (
	"image"
	"math"
	"slices"
	"sync"

	"gonum.org/v1/gonum/mat"

	"phototrack/internal/card"
	"phototrack/internal/colour"
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

// evened returns the picture with its colours evened out (see quiet) and the light's fall-off taken out; k is the
// picture's size over the photo's. Values between two levels are spread over both by an ordered pattern (Bayer 1973), so
// that a flat area keeps its mean.
func evened(m *image.NRGBA, toPx [9]float64, k float64, light plane) *image.NRGBA {
	gain := light.over(toPx)
	pix := quiet(m, k)
	out := image.NewNRGBA(m.Rect)
	w := m.Rect.Dx()
	for y := range m.Rect.Dy() {
		for x := range w {
			c, g := pix[y*w+x].linear(), gain(x, y)
			to := out.Pix[y*out.Stride+4*x:]
			for ch := range 3 {
				to[ch] = encode8(c[ch]*g, bayer[y%4][x%4])
			}
			to[3] = 255
		}
	}
	return out
}

// bayer are the places of a 4 x 4 square in the order that spreads them best, in sixteenths of a level.
var bayer = [4][4]float32{{0.5, 8.5, 2.5, 10.5}, {12.5, 4.5, 14.5, 6.5}, {3.5, 11.5, 1.5, 9.5}, {15.5, 7.5, 13.5, 5.5}}

// over gives what each pixel is to be multiplied with to be in the light of the card's centre.
func (p plane) over(toPx [9]float64) func(x, y int) float64 {
	inv, ok := invert(toPx)
	if !ok || p == (plane{}) {
		return func(int, int) float64 { return 1 }
	}
	return func(x, y int) float64 {
		q := apply(inv, Point{float64(x), float64(y)})
		u := (min(max(q.X, 0), card.WidthMM) - card.WidthMM/2) / 100
		v := (min(max(q.Y, 0), card.HeightMM) - card.HeightMM/2) / 100
		// e^-s to third order: s stays within 0.4, where this is good to 0.1 %
		s := p[1]*u + p[2]*v
		return 1 - s*(1-s/2*(1-s/3))
	}
}

// encodeTable holds the sRGB value, 0 to 255, of linear light in steps of 1/4096, and one more.
var encodeTable = sync.OnceValue(func() *[4098]float32 {
	var t [4098]float32
	for i := range t {
		t[i] = float32(255 * colour.Encode(min(float64(i)/4096, 1)))
	}
	return &t
})

// encode8 gives the level of a linear light; up, in sixteenths, decides between two.
func encode8(l float64, up float32) uint8 {
	x := min(max(l, 0), 1) * 4096
	i := int(x)
	t := encodeTable()
	return uint8(t[i] + (t[i+1]-t[i])*float32(x-float64(i)) + min(up/16, 255-t[i]))
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
				if px[c] >= 254 || px[c] <= 8 {
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

// near keeps the places whose light lies within three robust deviations of the plane.
func (p plane) near(obs []whiteObs) []whiteObs {
	off := make([]float64, len(obs))
	for i, o := range obs {
		off[i] = math.Abs(o.ln - p[0] - p[1]*o.u - p[2]*o.v)
	}
	sorted := slices.Clone(off)
	slices.Sort(sorted)
	limit := 3 * 1.4826 * max(sorted[len(sorted)/2], 0.003)
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
