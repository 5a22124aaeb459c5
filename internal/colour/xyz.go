package colour

import "math"

// XYZ are CIE 1931 tristimulus values, 2 degree observer, Y = 1 for white.
type XYZ [3]float64

// WhiteD50 is the white of ISO 13655 and of the ICC's profile connection space.
var WhiteD50 = XYZ{0.96422, 1, 0.82521}

// WhiteD65 is the white that Lab and the sRGB matrix of this package stand on.
var WhiteD65 = XYZ{whiteX, whiteY, whiteZ}

// XYZ turns CIELAB coordinates for the given white into tristimulus values (CIE 15:2004, 8.2.1, inverted).
func (l Lab) XYZ(white XYZ) (out XYZ) {
	fy := (l.L + 16) / 116
	for i, f := range [3]float64{fy + l.A/500, fy, fy - l.B/200} {
		t := f * f * f
		if t <= labEpsilon {
			t = (116*f - 16) / labKappa
		}
		out[i] = t * white[i]
	}
	return
}

// bradford is the cone response matrix of the Bradford transform (Lam 1985; ICC.1:2010, annex E).
var bradford = [3][3]float64{{0.8951, 0.2664, -0.1614}, {-0.7502, 1.7135, 0.0367}, {0.0389, -0.0685, 1.0296}}

// Adapt carries a colour seen under one white over to another by the linear Bradford transform.
func (c XYZ) Adapt(from, to XYZ) XYZ {
	a, f, t := mul(bradford, c), mul(bradford, from), mul(bradford, to)
	for i := range a {
		a[i] *= t[i] / f[i]
	}
	return mul(inverse(bradford), a)
}

// FromXYZ turns tristimulus values for D65 into linear sRGB: the inverse of the matrix that Lab uses.
func FromXYZ(c XYZ) RGB { return RGB(mul(inverse(toXYZ), c)) }

func mul(m [3][3]float64, v XYZ) (out XYZ) {
	for i := range 3 {
		out[i] = m[i][0]*v[0] + m[i][1]*v[1] + m[i][2]*v[2]
	}
	return
}

func inverse(m [3][3]float64) (out [3][3]float64) {
	minor := func(i, j int) float64 {
		a, b, c, d := (i+1)%3, (i+2)%3, (j+1)%3, (j+2)%3
		return m[a][c]*m[b][d] - m[a][d]*m[b][c]
	}
	det := m[0][0]*minor(0, 0) + m[0][1]*minor(0, 1) + m[0][2]*minor(0, 2)
	if det == 0 {
		return [3][3]float64{{math.NaN()}}
	}
	for i := range 3 {
		for j := range 3 {
			out[j][i] = minor(i, j) / det
		}
	}
	return
}
