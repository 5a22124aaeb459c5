// Package colour is the colour mathematics of the project: sRGB (IEC 61966-2-1), CIELAB for D65 and the 2 degree
// observer (CIE 15), CIEDE2000, and two indices of greenness. Pure functions on plain numbers; no files.
package colour

import "math"

// Lab is a CIELAB colour, D65, 2 degree observer. L runs from 0 to 100, A and B from about -100 to 100.
type Lab struct{ L, A, B float64 }

// RGB is a linear-light sRGB colour, 0..1 for what a screen can show; values outside are allowed.
type RGB [3]float64

// Matrix of IEC 61966-2-1 and the D65 white that belongs to it, to the digits scikit-image uses: the reference tables
// of the tests stand on these.
var toXYZ = [3][3]float64{
	{0.412453, 0.357580, 0.180423},
	{0.212671, 0.715160, 0.072169},
	{0.019334, 0.119193, 0.950227},
}

const (
	whiteX, whiteY, whiteZ = 0.95047, 1.0, 1.08883
	labEpsilon             = 216.0 / 24389.0 // CIE 15:2004, exact
	labKappa               = 24389.0 / 27.0
)

// LinearOf8 is the sRGB decoding of every 8-bit value, 0..1 (IEC 61966-2-1).
var LinearOf8 = func() (t [256]float64) {
	for i := range t {
		t[i] = Linear(float64(i) / 255)
	}
	return
}()

// Where the straight piece of the sRGB curve ends, encoded and linear (IEC 61966-2-1).
const encodedKnee, linearKnee = 0.04045, 0.0031308

// Linear decodes an sRGB value 0..1 to linear light (IEC 61966-2-1).
func Linear(v float64) float64 {
	if v <= encodedKnee {
		return v / 12.92
	}
	return math.Pow((v+0.055)/1.055, 2.4)
}

// Encode turns linear light into an sRGB value 0..1; what lies outside 0..1 is clipped.
func Encode(l float64) float64 {
	switch {
	case l <= 0 || math.IsNaN(l):
		return 0
	case l >= 1:
		return 1
	case l <= linearKnee:
		return 12.92 * l
	default:
		return 1.055*math.Pow(l, 1/2.4) - 0.055
	}
}

// Encode8 turns linear light into an 8-bit sRGB value, rounded.
func Encode8(l float64) uint8 { return uint8(Encode(l)*255 + 0.5) }

// FromSRGB8 decodes an 8-bit sRGB colour.
func FromSRGB8(r, g, b uint8) RGB { return RGB{LinearOf8[r], LinearOf8[g], LinearOf8[b]} }

// Lab gives the CIELAB coordinates of a linear sRGB colour. Negative light is taken as it is on the straight part of
// the curve, so that a colour slightly out of gamut has a defined place.
func (c RGB) Lab() Lab {
	f := func(t float64) float64 {
		if t > labEpsilon {
			return math.Cbrt(t)
		}
		return (labKappa*t + 16) / 116
	}
	x := f((toXYZ[0][0]*c[0] + toXYZ[0][1]*c[1] + toXYZ[0][2]*c[2]) / whiteX)
	y := f((toXYZ[1][0]*c[0] + toXYZ[1][1]*c[1] + toXYZ[1][2]*c[2]) / whiteY)
	z := f((toXYZ[2][0]*c[0] + toXYZ[2][1]*c[1] + toXYZ[2][2]*c[2]) / whiteZ)
	return Lab{116*y - 16, 500 * (x - y), 200 * (y - z)}
}

// Chroma is C*ab, the distance from grey.
func (l Lab) Chroma() float64 { return math.Hypot(l.A, l.B) }

// HueDeg is h_ab in degrees, 0 <= h < 360. It means nothing near grey.
func (l Lab) HueDeg() float64 {
	h := math.Atan2(l.B, l.A) * 180 / math.Pi
	if h < 0 {
		h += 360
	}
	return h
}

const fullTurn = 360 // degrees

// DeltaE2000 is the CIEDE2000 difference of two CIELAB colours, kL = kC = kH = 1.
// Sharma, Wu & Dalal (2005), Color Res. Appl. 30:21-30; variables follow the paper.
func DeltaE2000(x, y Lab) float64 {
	const deg = math.Pi / 180
	C1, C2 := x.Chroma(), y.Chroma()
	Cbar := (C1 + C2) / 2
	C7 := math.Pow(Cbar, 7)
	G := 0.5 * (1 - math.Sqrt(C7/(C7+6103515625))) // 25^7
	a1, a2 := (1+G)*x.A, (1+G)*y.A
	C1p, C2p := math.Hypot(a1, x.B), math.Hypot(a2, y.B)
	h := func(b, a float64) float64 {
		if a == 0 && b == 0 {
			return 0
		}
		t := math.Atan2(b, a) / deg
		if t < 0 {
			t += 360
		}
		return t
	}
	h1, h2 := h(x.B, a1), h(y.B, a2)
	// The branches turn on a difference of 180 degrees; pair 10 of the published table lies exactly there, and rounding
	// must not decide it.
	const half = 180 + 1e-9
	var dh, hbar float64
	switch {
	case C1p*C2p == 0:
		dh, hbar = 0, h1+h2
	default:
		dh = h2 - h1
		if dh > half {
			dh -= 360
		} else if dh < -half {
			dh += 360
		}
		switch {
		case math.Abs(h1-h2) <= half:
			hbar = (h1 + h2) / 2
		case h1+h2 < fullTurn:
			hbar = (h1 + h2 + 360) / 2
		default:
			hbar = (h1 + h2 - 360) / 2
		}
	}
	dL, dC := y.L-x.L, C2p-C1p
	dH := 2 * math.Sqrt(C1p*C2p) * math.Sin(dh*deg/2)
	Lbar, Cbarp := (x.L+y.L)/2, (C1p+C2p)/2
	T := 1 - 0.17*math.Cos((hbar-30)*deg) + 0.24*math.Cos(2*hbar*deg) + 0.32*math.Cos((3*hbar+6)*deg) - 0.20*math.Cos((4*hbar-63)*deg)
	dTheta := 30 * math.Exp(-math.Pow((hbar-275)/25, 2))
	Cp7 := math.Pow(Cbarp, 7)
	RC := 2 * math.Sqrt(Cp7/(Cp7+6103515625))
	l50 := (Lbar - 50) * (Lbar - 50)
	SL := 1 + 0.015*l50/math.Sqrt(20+l50)
	SC := 1 + 0.045*Cbarp
	SH := 1 + 0.015*Cbarp*T
	RT := -math.Sin(2*dTheta*deg) * RC
	l, c, hh := dL/SL, dC/SC, dH/SH
	return math.Sqrt(l*l + c*c + hh*hh + RT*c*hh)
}
