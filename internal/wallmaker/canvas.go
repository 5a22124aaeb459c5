package wallmaker

import (
	"math"
	"math/rand/v2"
)

// rgb is a colour in linear light, 1 being a white card's.
type rgb [3]float32

func (c rgb) times(k float32) rgb { return rgb{c[0] * k, c[1] * k, c[2] * k} }

func (c rgb) mul(d rgb) rgb { return rgb{c[0] * d[0], c[1] * d[1], c[2] * d[2]} }

func (c rgb) mix(d rgb, t float32) rgb {
	return rgb{c[0] + t*(d[0]-c[0]), c[1] + t*(d[1]-c[1]), c[2] + t*(d[2]-c[2])}
}

// lab is a colour given as CIELAB (D65), clipped to what sRGB holds.
func lab(l, a, b float64) rgb {
	inv := func(t float64) float64 {
		if t > 6.0/29 {
			return t * t * t
		}
		return 3 * (6.0 / 29) * (6.0 / 29) * (t - 4.0/29)
	}
	fy := (l + 16) / 116
	x, y, z := 0.95047*inv(fy+a/500), inv(fy), 1.08883*inv(fy-b/200)
	clip := func(v float64) float32 { return float32(math.Max(0.002, math.Min(1, v))) }
	return rgb{clip(3.2406*x - 1.5372*y - 0.4986*z), clip(-0.9689*x + 1.8758*y + 0.0415*z), clip(0.0557*x - 0.2040*y + 1.0570*z)}
}

// canvas is what is drawn on: for every pixel the nearest thing behind the wall.
type canvas struct {
	w, h  int
	z     []float32 // mm behind the wall
	nx    []float32 // normal, x right and y down, z to the camera is the rest
	ny    []float32
	col   []rgb     // colour of the thing in white light
	gloss []float32 // 0 matt .. 1 wet
	class []uint8
	id    []uint16 // which root, from 1; 0 none

	manner  manner
	courses []Course

	// the nearest root at every pixel, seen or covered
	rootZ     []float32
	rootClass []uint8
	rootID    []uint16

	mid, top float64 // px: column of azimuth 0; row of the rim
	r0, k    float64 // radius at the rim, mm; its change per mm of depth
	tall     float64 // wall from rim to base, mm
}

const far = 60 // mm: behind everything

func newCanvas(w, h int) *canvas {
	n := w * h
	c := &canvas{w: w, h: h, z: make([]float32, n), nx: make([]float32, n), ny: make([]float32, n), col: make([]rgb, n), gloss: make([]float32, n), class: make([]uint8, n), id: make([]uint16, n)}
	c.rootZ, c.rootClass, c.rootID = make([]float32, n), make([]uint8, n), make([]uint16, n)
	for i := range c.z {
		c.z[i], c.rootZ[i] = far, far
	}
	return c
}

// mm is the place of a pixel: along the chord from azimuth 0, and below the rim.
func (c *canvas) mm(x, y int) (float64, float64) {
	return (float64(x) - c.mid) / fine, (float64(y) - c.top) / fine
}

// px is the inverse of mm.
func (c *canvas) px(x, y float64) (float64, float64) { return c.mid + x*fine, c.top + y*fine }

// radius is the wall's radius at a depth, mm.
func (c *canvas) radius(y float64) float64 { return math.Max(8, c.r0+c.k*y) }

// chord is where a place along the wall (mm from azimuth 0) is seen, mm from the middle.
func (c *canvas) chord(u, y float64) float64 {
	r := c.radius(y)
	return r * math.Sin(math.Max(-math.Pi/2, math.Min(math.Pi/2, u/r)))
}

// along is the inverse of chord.
func (c *canvas) along(x, y float64) float64 {
	r := c.radius(y)
	return r * math.Asin(math.Max(-1, math.Min(1, x/r)))
}

// spot is what put writes.
type spot struct {
	z, nx, ny, gloss float32
	col              rgb
	class            uint8
	id               uint16
}

func (c *canvas) put(i int, s spot) {
	if s.z >= c.z[i] {
		return
	}
	c.z[i], c.nx[i], c.ny[i], c.gloss[i], c.col[i], c.class[i], c.id[i] = s.z, s.nx, s.ny, s.gloss, s.col, s.class, s.id
}

// box is the pixels within reach mm of a place, cut to the canvas.
func (c *canvas) box(x, y, reach float64) (x0, y0, x1, y1 int) {
	u, v := c.px(x, y)
	r := reach * fine
	return max(0, int(u-r)), max(0, int(v-r)), min(c.w-1, int(u+r)+1), min(c.h-1, int(v+r)+1)
}

// dice is the random choices of one sample.
type dice struct{ *rand.Rand }

func (d dice) in(lo, hi float64) float64 { return lo + (hi-lo)*d.Float64() }

func (d dice) between(lo, hi int) int { return lo + d.IntN(hi-lo+1) }

func (d dice) chance(p float64) bool { return d.Float64() < p }

func (d dice) normal() float64 { return d.NormFloat64() }

// logIn draws evenly in the logarithm: as many of each size.
func (d dice) logIn(lo, hi float64) float64 { return lo * math.Exp(d.Float64()*math.Log(hi/lo)) }

// near draws a colour about a CIELAB colour.
func (d dice) near(l, a, b, spread float64) rgb {
	return lab(math.Max(3, l+spread*d.normal()), a+0.5*spread*d.normal(), b+0.6*spread*d.normal())
}
