package leaf

import "phototrack/internal/raster"

// TintColour gives the overlay colour of a class, red, green, blue: from the set of Okabe & Ito (2008), which readers
// with any colour vision tell apart. Green tissue is left as it is.
func TintColour(class uint8) (rgb [3]uint8, ok bool) {
	switch class {
	case Yellow:
		return [3]uint8{240, 228, 66}, true
	case Purple:
		return [3]uint8{204, 121, 167}, true
	case Brown:
		return [3]uint8{213, 94, 0}, true
	case NoClass:
		return [3]uint8{86, 180, 233}, true
	}
	return rgb, false
}

// tintSlope is the direction of each class's hatching, so that the classes differ in print without colour too: yellow
// rises, purple falls, brown lies, what is not judged stands.
var tintSlope = [5][2]int{{1, 0}, {0, 0}, {1, 1}, {1, -1}, {0, 1}}

// hatchEvery is how far the lines of the hatching lie apart, line widths: close enough for small leaves, far enough to read the leaf between.
const hatchEvery = 4

// Tint draws the colour classes over a picture of the whole photo at any reduction: every fourth line of a hatching in
// full, the rest at a third, so that the leaf shows through.
func (m Mask) Tint(pic raster.BGR) {
	if m.W == 0 || m.H == 0 || pic.W == 0 || pic.H == 0 {
		return
	}
	step := max(1, max(pic.W, pic.H)/500)
	from := make([]int, pic.W) // the mask's column of each of the picture's
	for x := range from {
		from[x] = min(m.W-1, x*m.W/pic.W)
	}
	var inks [5][3]uint8
	var tinted [256]bool // by the mask's value
	for c := range inks {
		inks[c], tinted[c+1] = TintColour(uint8(c))
	}
	for y := range pic.H {
		row := m.Pix[min(m.H-1, y*m.H/pic.H)*m.W:][:m.W]
		for x, mx := range from {
			v := row[mx]
			if !tinted[v] {
				continue
			}
			c := v - 1
			share := 85 // of 256
			if s := tintSlope[c]; (s[0]*x+s[1]*y)/step%hatchEvery == 0 {
				share = 230
			}
			p := pic.Pix[3*(y*pic.W+x):][:3:3]
			for k := range 3 {
				p[2-k] = uint8((int(p[2-k])*(256-share) + int(inks[c][k])*share) >> 8)
			}
		}
	}
}
