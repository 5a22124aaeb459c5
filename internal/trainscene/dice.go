package trainscene

import (
	"math"
	"math/rand/v2"

	"phototrack/internal/colour"
)

// dice draws at random; one for each scene, so that a scene follows from its seed alone.
type dice struct{ *rand.Rand }

func newDice(seed uint64) dice { return dice{rand.New(rand.NewPCG(seed, 0x9a17))} }

// in is evenly between a and b; near is normal about a; about is a times a log-normal factor.
func (d dice) in(a, b float32) float32      { return a + (b-a)*d.Float32() }
func (d dice) near(a, s float32) float32    { return a + s*float32(d.NormFloat64()) }
func (d dice) about(a, rel float32) float32 { return a * exp(rel*float32(d.NormFloat64())) }
func (d dice) chance(p float32) bool        { return d.Float32() < p }
func (d dice) count(a, b int) int           { return a + d.IntN(b-a+1) }

// log is between a and b, evenly in its logarithm.
func (d dice) log(a, b float32) float32 {
	return exp(d.in(float32(math.Log(float64(a))), float32(math.Log(float64(b)))))
}

// pick draws an index by weights.
func (d dice) pick(weights ...float32) int {
	sum := float32(0)
	for _, w := range weights {
		sum += w
	}
	x := d.Float32() * sum
	for i, w := range weights {
		if x -= w; x < 0 {
			return i
		}
	}
	return len(weights) - 1
}

// lch is a colour given by CIELAB lightness, chroma and hue angle.
func lch(L, C, hDeg float32) rgb {
	s, c := sincos(hDeg * pi / 180)
	lab := colour.Lab{L: float64(L), A: float64(C * c), B: float64(C * s)}
	x := colour.FromXYZ(lab.XYZ(colour.WhiteD65))
	return rgb{clamp(float32(x[0]), 0.002, 1), clamp(float32(x[1]), 0.002, 1), clamp(float32(x[2]), 0.002, 1)}
}

// anyColour is any colour a thing may be painted or glazed in.
func (d dice) anyColour() rgb {
	if d.chance(0.4) {
		return lch(d.in(8, 95), d.in(0, 8), d.in(0, 360))
	}
	return lch(d.in(15, 88), d.in(8, 70), d.in(0, 360))
}

// green is a colour of healthy leaves: from yellow-green over grass green to blue-green, pale to nearly black.
func (d dice) green() rgb {
	switch d.pick(6, 2, 1.5, 1) {
	case 1:
		return lch(d.in(45, 75), d.in(30, 62), d.in(108, 124)) // young and pale
	case 2:
		return lch(d.in(12, 28), d.in(6, 22), d.in(115, 160)) // dark
	case 3:
		return lch(d.in(40, 68), d.in(4, 18), d.in(110, 190)) // grey and blue-green
	}
	return lch(d.in(25, 58), d.in(18, 50), d.in(112, 142))
}

// leafColour is any colour that a leaf may have.
func (d dice) leafColour() rgb {
	switch d.pick(10, 1.2, 0.9, 0.9, 0.9, 0.6) {
	case 1:
		return lch(d.in(15, 45), d.in(10, 55), d.in(-30, 35)) // red to purple
	case 2:
		return lch(d.in(10, 30), d.in(3, 20), d.in(-60, 60)) // nearly black
	case 3:
		return lch(d.in(50, 85), d.in(25, 75), d.in(82, 106)) // yellow
	case 4:
		return lch(d.in(45, 78), d.in(2, 12), d.in(80, 200)) // silver
	case 5:
		return lch(d.in(22, 62), d.in(12, 45), d.in(45, 80)) // brown
	}
	return d.green()
}

// petal is a colour of blooms.
func (d dice) petal() rgb {
	switch d.pick(3, 2, 2, 1, 1, 0.6) {
	case 0:
		return lch(d.in(78, 97), d.in(0, 12), d.in(0, 360)) // white
	case 1:
		return lch(d.in(35, 80), d.in(20, 70), d.in(-50, 10)) // pink and purple
	case 2:
		return lch(d.in(65, 90), d.in(40, 90), d.in(70, 105)) // yellow
	case 3:
		return lch(d.in(30, 55), d.in(45, 80), d.in(20, 50)) // red
	case 4:
		return lch(d.in(30, 65), d.in(20, 60), d.in(270, 320)) // blue
	}
	return lch(d.in(50, 80), d.in(15, 50), d.in(105, 125)) // greenish
}

// wood is a colour of wood, bark and soil.
func (d dice) wood() rgb { return lch(d.in(8, 78), d.in(4, 36), d.in(40, 85)) }
