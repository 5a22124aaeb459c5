package scenemaker

import (
	"math"

	"phototrack/internal/colour"
	"phototrack/internal/geom"
)

// Light is a lamp or window from one side and light from all around.
type Light struct {
	LampKelvin    float64
	AroundKelvin  float64
	LampShare     float64    // of the light on the card that is the lamp's
	From          geom.Vec3  // towards the lamp, in the card's frame; z negative
	GradientPer   [2]float64 // relative change of the lamp's light over 100 mm, in x and in y
	BalanceLeaves float64    // share of the colour cast that the camera's white balance leaves in the photo
}

// Blackbody is the linear sRGB colour of black-body light of that temperature, green at 1. The locus is the cubic
// approximation of Kim et al. 2002 (1667 to 25,000 K; coefficients from memory, checked against CIE 15's illuminant A and
// the published point of 6500 K in the tests).
func Blackbody(kelvin float64) colour.RGB {
	t := 1000 / kelvin
	var x, y float64
	if kelvin < 4000 {
		x = -0.2661239*t*t*t - 0.2343589*t*t + 0.8776956*t + 0.179910
	} else {
		x = -3.0258469*t*t*t + 2.1070379*t*t + 0.2226347*t + 0.240390
	}
	switch {
	case kelvin < 2222:
		y = -1.1063814*x*x*x - 1.34811020*x*x + 2.18555832*x - 0.20219683
	case kelvin < 4000:
		y = -0.9549476*x*x*x - 1.37418593*x*x + 2.09137015*x - 0.16748867
	default:
		y = 3.0817580*x*x*x - 5.87338670*x*x + 3.75112997*x - 0.37001483
	}
	c := colour.FromXYZ(colour.XYZ{x / y, 1, (1 - x - y) / y})
	return colour.RGB{c[0] / c[1], 1, math.Max(0.02, c[2]/c[1])}
}

// field is the light ready for use: what falls on a surface, after the camera's white balance.
type field struct {
	lamp, around colour.RGB
	gx, gy       float64
	from         geom.Vec3
}

func (l Light) field() field {
	lamp, around := Blackbody(l.LampKelvin), Blackbody(l.AroundKelvin)
	f := field{gx: l.GradientPer[0] / 100, gy: l.GradientPer[1] / 100}
	n := geom.Norm(l.From)
	for i := range 3 {
		cast := l.LampShare*lamp[i] + (1-l.LampShare)*around[i]
		gain := math.Pow(cast, l.BalanceLeaves-1)
		f.lamp[i] = l.LampShare * lamp[i] * gain
		f.around[i] = (1 - l.LampShare) * around[i] * gain
		f.from[i] = l.From[i] / n
	}
	return f
}

// on is the lamp's share of the light on a surface of that normal, relative to the card's (normal 0, 0, -1).
func (f *field) on(normal geom.Vec3) float64 {
	return math.Max(0, geom.Dot(normal, f.from)) / -f.from[2]
}

// at is the light at a place of the card's frame, of which lamp is the surface's factor.
func (f *field) at(x, y, lamp float64) colour.RGB {
	g := lamp * math.Exp(f.gx*(x-74)+f.gy*(y-50))
	return colour.RGB{f.lamp[0]*g + f.around[0], f.lamp[1]*g + f.around[1], f.lamp[2]*g + f.around[2]}
}
