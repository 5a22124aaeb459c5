package leaf

import (
	"math"

	"phototrack/internal/raster"
)

// Where the plant in focus meets one behind it, the border is the front leaf's outline, so it is sharp. Two regions that
// meet in a blurred border, or in none, lie on the same side.

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

// Costs of parting two regions, per grid pixel of their border, in samples of outline of full contrast.
const (
	fullContrast = 40.0
	partCost     = 0.3
	partStep     = 7.0  // CIELAB step across the border at which it falls to 1/e, where its focus is not seen
	partRise     = 10.0 // rise of a sharp edge, camera values, at which it falls to 1/e
)

// link is what joins two regions.
type link struct {
	sharp, blur float64 // length of border, weighted by contrast
	part        float64 // cost of parting them
}

// linksOf measures what joins the regions of a label picture.
func linksOf(g *grid, label []int32, es *edges) map[pair]*link {
	ls := map[pair]*link{}
	eachBorder(g, label, func(a, b int32, i, j int, step float64) {
		l := entry(ls, a, b)
		e, f := es.at(i), es.at(j)
		if f.seen && (!e.seen || f.share > e.share) {
			e = f
		}
		c := min(float64(e.rise), fullContrast)
		switch {
		case e.seen && e.share > contactSharp:
			l.sharp += c / fullContrast / 2 // as outlines, which are sampled at every other pixel
			l.part += partCost * math.Exp(-c/partRise)
		case e.seen && e.share < contactBlur:
			l.blur += c / fullContrast / 2
			l.part += partCost
		default:
			l.part += partCost * math.Exp(-sqr(step/partStep))
		}
	})
	return ls
}

// edges measures the edges at grid pixels when asked, each once.
type edges struct {
	in              *Input
	g               *grid
	narrow, inFocus float64
	known           []edgeSeen
}

type edgeSeen struct {
	share, rise float32 // as contactAt gives them; the share in parts of an edge's in focus
	asked, seen bool
}

func newEdges(in *Input, g *grid) *edges {
	e := &edges{in: in, g: g, known: make([]edgeSeen, g.w*g.h)}
	e.narrow, e.inFocus = contactScale(in)
	return e
}

func (e *edges) at(i int) *edgeSeen {
	s := &e.known[i]
	if s.asked {
		return s
	}
	s.asked = true
	w := e.g.w
	x, y := i%w, i/w
	if x < 4 || y < 4 || x >= w-4 || y >= e.g.h-4 {
		return s
	}
	grey := func(i int) float64 {
		p := e.g.pix[3*i : 3*i+3 : 3*i+3]
		return float64(114*int(p[0])+587*int(p[1])+299*int(p[2])) / 1000
	}
	var gx, gy float64
	for d := -1; d <= 1; d++ {
		gx += grey(i+d*w+1) - grey(i+d*w-1)
		gy += grey(i+d+w) - grey(i+d-w)
	}
	n := math.Hypot(gx, gy)
	if n < minGradient {
		return s
	}
	px, py := e.g.photo(float64(x), float64(y))
	if share, rise, ok := contactAt(e.in.Img, px, py, gx/n, gy/n, e.narrow); ok {
		s.share, s.rise, s.seen = float32(share/e.inFocus), float32(rise), true
	}
	return s
}

// minGradient is the least gradient, in sums of three camera values over two grid pixels, that has a direction.
const minGradient = 3
