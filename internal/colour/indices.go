package colour

import "math"

// ExcessGreen is 2g - r - b of the chromatic coordinates r, g, b = R, G, B over their sum, from 8-bit sRGB values
// without linearising: -1..2, NaN for black. Woebbecke, Meyer, Von Bargen & Mortensen (1995), Trans. ASAE 38:259-269.
func ExcessGreen(r, g, b float64) float64 {
	s := r + g + b
	if s <= 0 {
		return math.NaN()
	}
	return (2*g - r - b) / s
}

// DGCI is the dark green colour index [(H-60)/60 + (1-S) + (1-B)]/3 with hue H in degrees and saturation and
// brightness 0..1 of the HSB model, from 8-bit sRGB values, not clamped; NaN for greys, which have no hue.
// Karcher & Richardson (2003), Crop Sci. 43:943-951.
func DGCI(r, g, b float64) float64 {
	hi, lo := math.Max(r, math.Max(g, b)), math.Min(r, math.Min(g, b))
	if hi <= lo {
		return math.NaN()
	}
	d := hi - lo
	var h float64
	switch hi {
	case r:
		h = 60 * (g - b) / d
		if h < 0 {
			h += 360
		}
	case g:
		h = 60*(b-r)/d + 120
	default:
		h = 60*(r-g)/d + 240
	}
	return ((h-60)/60 + (1 - d/hi) + (1 - hi/255)) / 3
}
