package leaf

import (
	"math"

	"phototrack/internal/raster"
)

// Where two regions of tissue meet, the focus of the border between them says how they may lie. A border between the
// plant in focus and one behind it is the front leaf's outline, so it is sharp; two regions behind meet in a blurred
// border. So of two that meet in a sharp border one is in front, and two that meet in a blurred one lie on the same side.

// contactAt measures the edge at photo position (x, y) with normal (nx, ny) by what share of the rise over a wide window
// happens in a narrow one. A slow rise beside the edge, as by light or by a blurred rim just behind it, changes both
// little. rise is the step over the wide window, camera values.
func contactAt(img raster.BGR, x, y, nx, ny, narrow float64) (share, rise float64, ok bool) {
	var prof [maxProfile]float64 // brightness
	a := contactHalf(narrow)     // half the narrow window
	b := 4 * a                   // half the wide one
	half := b + max(2, int(narrow+0.5))
	n := 2*half + 1
	if n > maxProfile {
		return 0, 0, false
	}
	for t := -half; t <= half; t++ {
		sum := 0
		for s := -2; s <= 2; s++ {
			px := x + float64(t)*nx - float64(s)*ny
			py := y + float64(t)*ny + float64(s)*nx
			x0, y0 := int(px+0.5), int(py+0.5)
			if x0 < 0 || y0 < 0 || x0 >= img.W || y0 >= img.H {
				return 0, 0, false
			}
			p := img.Pix[3*(y0*img.W+x0):][:3]
			sum += 114*int(p[0]) + 587*int(p[1]) + 299*int(p[2])
		}
		prof[t+half] = float64(sum) / 5000
	}
	for t := b; t < n-b; t++ {
		near := math.Abs(prof[t+a] - prof[t-a])
		far := math.Abs(mean3(&prof, t+b-1, n) - mean3(&prof, t-b+1, n))
		if far >= minContactRise && near > share*rise { // the steepest place
			share, rise, ok = near/far, far, true
		}
	}
	return min(1, share), rise, ok
}

func contactHalf(narrow float64) int { return max(1, int(narrow/2+0.5)) }

func mean3(p *[maxProfile]float64, t, n int) float64 {
	t = max(1, min(n-2, t))
	return (p[t-1] + p[t] + p[t+1]) / 3
}

const (
	maxProfile     = 128
	minContactRise = 12.0 // camera values; the noise of a mean of five pixels is below 2
	// Parts of the share an edge in focus has, above which a border is sharp and below which it is blurred: edges spread
	// up to about 1.7 times, and from about 2.6 times, as wide as the card's.
	contactSharp = 0.72
	contactBlur  = 0.55
)

// contactScale gives the narrow window's width in px, and the share of its rise that an edge in focus has in it: a
// Gaussian edge's 10 to 90 % width is 2.563 sigma.
func contactScale(in *Input) (narrow, inFocus float64) {
	narrow = max(2, in.EdgeSpreadPx)
	return narrow, math.Erf(float64(contactHalf(narrow)) * 2.563 / in.EdgeSpreadPx / math.Sqrt2)
}

// borderFocus adds to the borders bs how sharp they are, every other pixel of them, weighted by contrast.
func borderFocus(in *Input, g *grid, label []int32, bs map[pair]*border) {
	w, h := g.w, g.h
	narrow, inFocus := contactScale(in)
	for y := 4; y < h-4; y++ {
		for x := 4 + y%2; x < w-4; x += 2 {
			i := y*w + x
			a := label[i]
			if a <= 0 {
				continue
			}
			b := int32(0)
			for _, q := range [4]int{i + 1, i + w, i - 1, i - w} {
				if l := label[q]; l > 0 && l != a {
					b = l
					break
				}
			}
			if b == 0 {
				continue
			}
			nx, ny, ok := towards(g, label, x, y, a, b)
			if !ok {
				continue
			}
			px, py := g.photo(float64(x)+nx*0.5, float64(y)+ny*0.5)
			share, rise, ok := contactAt(in.Img, px, py, nx, ny, narrow)
			if !ok {
				continue
			}
			e := bs[pair{min(a, b), max(a, b)}]
			if e == nil {
				continue
			}
			switch c := min(rise, fullContrast); {
			case share > contactSharp*inFocus:
				e.sharp += c
			case share < contactBlur*inFocus:
				e.blur += c
			}
		}
	}
}

// towards is the direction from region a to region b about (x, y); not ok near ground, card or a third region's corner.
func towards(g *grid, label []int32, x, y int, a, b int32) (nx, ny float64, ok bool) {
	const r = 3
	var sx, sy, tx, ty, n, k float64
	for dy := -r; dy <= r; dy++ {
		for dx := -r; dx <= r; dx++ {
			switch label[(y+dy)*g.w+x+dx] {
			case a:
				sx, sy, n = sx+float64(dx), sy+float64(dy), n+1
			case b:
				tx, ty, k = tx+float64(dx), ty+float64(dy), k+1
			}
		}
	}
	if n < 8 || k < 8 || n+k < 44 {
		return 0, 0, false
	}
	nx, ny = tx/k-sx/n, ty/k-sy/n
	d := math.Hypot(nx, ny)
	if d < 1.5 {
		return 0, 0, false
	}
	return nx / d, ny / d, true
}
