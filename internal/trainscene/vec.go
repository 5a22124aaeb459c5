package trainscene

import "math"

// vec is a point or a direction; rgb a colour of linear light.
type (
	vec [3]float32
	rgb [3]float32
)

func (a vec) add(b vec) vec     { return vec{a[0] + b[0], a[1] + b[1], a[2] + b[2]} }
func (a vec) sub(b vec) vec     { return vec{a[0] - b[0], a[1] - b[1], a[2] - b[2]} }
func (a vec) mul(s float32) vec { return vec{a[0] * s, a[1] * s, a[2] * s} }
func (a vec) dot(b vec) float32 { return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] }
func (a vec) norm() float32     { return sqrt(a.dot(a)) }
func (a vec) cross(b vec) vec {
	return vec{a[1]*b[2] - a[2]*b[1], a[2]*b[0] - a[0]*b[2], a[0]*b[1] - a[1]*b[0]}
}
func (a rgb) mul(s float32) rgb   { return rgb{a[0] * s, a[1] * s, a[2] * s} }
func (a rgb) times(b rgb) rgb     { return rgb{a[0] * b[0], a[1] * b[1], a[2] * b[2]} }
func (a rgb) add(b rgb) rgb       { return rgb{a[0] + b[0], a[1] + b[1], a[2] + b[2]} }
func mix(a, b rgb, t float32) rgb { return a.mul(1 - t).add(b.mul(t)) }

func (a vec) unit() vec {
	n := a.norm()
	if n < 1e-9 {
		return vec{0, 1, 0}
	}
	return a.mul(1 / n)
}

// about turns a about the unit axis k by an angle in radians.
func (a vec) about(k vec, angle float32) vec {
	s, c := sincos(angle)
	return a.mul(c).add(k.cross(a).mul(s)).add(k.mul(k.dot(a) * (1 - c)))
}

func sqrt(x float32) float32          { return float32(math.Sqrt(float64(max(0, x)))) }
func pow(x, y float32) float32        { return float32(math.Pow(float64(max(0, x)), float64(y))) }
func exp(x float32) float32           { return float32(math.Exp(float64(x))) }
func sin(x float32) float32           { return float32(math.Sin(float64(x))) }
func cos(x float32) float32           { return float32(math.Cos(float64(x))) }
func floor(x float32) float32         { return float32(math.Floor(float64(x))) }
func abs(x float32) float32           { return float32(math.Abs(float64(x))) }
func clamp(x, lo, hi float32) float32 { return max(lo, min(hi, x)) }
func sincos(x float32) (s, c float32) {
	a, b := math.Sincos(float64(x))
	return float32(a), float32(b)
}

// smooth is 0 below a, 1 above b, and a smooth step between.
func smooth(a, b, x float32) float32 {
	t := clamp((x-a)/(b-a), 0, 1)
	return t * t * (3 - 2*t)
}

const pi = float32(math.Pi)
