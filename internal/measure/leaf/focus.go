package leaf

import (
	"math"
	"slices"

	"phototrack/internal/raster"
)

// Plants that stand behind the measured one are out of focus: their outlines and their texture are spread by the lens
// over several pixels, while the card and the leaves held in its plane are sharp. The outline of a region is what its
// own focus shows best; but where a sharp leaf lies over a blurred one, the edge between them is the sharp leaf's, so
// only the outline against the ground speaks for both; inside a region its texture does, and between two regions the
// focus of their border says whether one must be in front (focusborder.go). focuscut.go weighs it all.

// focusOf is what was seen of one region.
type focusOf struct {
	size        int
	sharp, blur float64 // length of outline against the ground, weighted by contrast
	texture     float64 // size of the fine detail inside, camera values
	texN        int
}

// edge is what the profile across an outline shows.
type edge struct {
	slope    float64 // steepest slope over the whole height, per photo px
	contrast float64 // camera values
	colour   bool    // it shows in colour and hardly in brightness
}

// edgeAt measures the edge at photo position (x, y) with outward normal (nx, ny), in brightness where it shows there, else
// in the colour channel where it shows most. JPEG keeps colours at half resolution, so an edge in colour alone is never
// quite sharp. ok is false where there is too little contrast to tell.
func edgeAt(img raster.BGR, x, y, nx, ny float64, reach int) (e edge, ok bool) {
	var prof [4][64]float64 // blue, green, red, brightness
	n := 2*reach + 1
	for t := -reach; t <= reach; t++ {
		for s := -1; s <= 1; s++ {
			px := x + float64(t)*nx - float64(s)*ny
			py := y + float64(t)*ny + float64(s)*nx
			x0, y0 := int(math.Floor(px)), int(math.Floor(py))
			if x0 < 0 || y0 < 0 || x0+1 >= img.W || y0+1 >= img.H {
				return e, false
			}
			fx, fy := px-float64(x0), py-float64(y0)
			k := 3 * (y0*img.W + x0)
			l := k + 3*img.W
			for c := range 3 {
				prof[c][t+reach] += ((1-fy)*((1-fx)*float64(img.Pix[k+c])+fx*float64(img.Pix[k+3+c])) +
					fy*((1-fx)*float64(img.Pix[l+c])+fx*float64(img.Pix[l+3+c]))) / 3
			}
		}
		i := t + reach
		prof[3][i] = 0.114*prof[0][i] + 0.587*prof[1][i] + 0.299*prof[2][i]
	}
	q := reach / 2
	step := func(c int) float64 {
		var in, out float64
		for t := range q {
			in += prof[c][t]
			out += prof[c][n-1-t]
		}
		return math.Abs(out-in) / float64(q)
	}
	best := 3
	e.contrast = step(3)
	if e.contrast < minBrightContrast {
		e.colour = true
		for c := range 3 {
			if d := step(c); d > e.contrast {
				best, e.contrast = c, d
			}
		}
		if e.contrast < minEdgeContrast {
			return e, false
		}
	}
	steep := 0.0
	for t := 2; t < n; t++ { // over two pixels: a sharp edge is as wide, and noise is halved
		steep = max(steep, math.Abs(prof[best][t]-prof[best][t-2])/2)
	}
	e.slope = steep / e.contrast
	return e, true
}

// blurred says whether the edge is out of focus, where an edge in the card's plane has the slope sharp; not ok where it
// may be either.
func (e *edge) blurred(sharp float64) (blur, ok bool) {
	if !e.colour {
		return e.slope < 0.55*sharp, true
	}
	return e.slope < 0.4*sharp, e.slope < 0.35*sharp || e.slope > 0.45*sharp
}

// minEdgeContrast is the least step in camera values at which an edge's slope stands out of noise and texture.
// An edge in brightness that is weaker than minBrightContrast is looked for in colour.
const (
	minEdgeContrast   = 14
	minBrightContrast = 20
)

// regionFocus gathers the focus of every region 1..n. sharpSlope is the slope of an edge in the card's plane.
func regionFocus(in *Input, g *grid, m []uint8, label []int32, n int, sharpSlope float64) []focusOf {
	fs := make([]focusOf, n+1)
	regionTexture(in, g, m, label, fs)
	regionOutline(in, g, m, label, fs, sharpSlope, true)
	return fs
}

// regionTexture adds sizes and the detail inside the regions.
func regionTexture(in *Input, g *grid, m []uint8, label []int32, fs []focusOf) {
	w, h := g.w, g.h
	detail := texture(in, g, m)
	inside := erodeLabels(label, w, h, 2)
	for i, l := range label {
		if l <= 0 {
			continue
		}
		f := &fs[l]
		f.size++
		if inside[i] != 0 {
			f.texture += float64(detail[i])
			f.texN++
		}
	}
	for i := range fs {
		if fs[i].texN > 0 {
			fs[i].texture = sqr(fs[i].texture / float64(fs[i].texN))
		}
	}
}

// regionOutline adds the sharpness of the regions' outlines against the ground, every other pixel of them; edges that
// show in colour alone only where asked for. Without labels, all of m is region 1.
func regionOutline(in *Input, g *grid, m []uint8, label []int32, fs []focusOf, sharpSlope float64, colours bool) {
	w, h := g.w, g.h
	reach := int(min(30, max(8, 12/sharpSlope*0.4)))
	narrow, inFocus := contactScale(in)
	for y := 4; y < h-4; y++ {
		for x := 4; x < w-4; x++ {
			i := y*w + x
			if m[i] == 0 || (m[i-1] != 0 && m[i+1] != 0 && m[i-w] != 0 && m[i+w] != 0) || (x+y)%2 != 0 {
				continue
			}
			l := int32(1)
			if label != nil {
				if l = label[i]; l <= 0 {
					continue
				}
			}
			nx, ny, ok := outward(g, m, x, y)
			if !ok {
				continue
			}
			px, py := g.photo(float64(x)+nx*0.5, float64(y)+ny*0.5)
			e, ok := edgeAt(in.Img, px, py, nx, ny, reach)
			if !ok || (e.colour && !colours) {
				continue
			}
			blur, ok := e.blurred(sharpSlope)
			if blur && ok {
				// A sharp leaf just before the rim of a blurred one: the profile is wide, but its steepest place is not.
				share, _, seen := contactAt(in.Img, px, py, nx, ny, narrow)
				ok = !seen || share < contactSharp*inFocus
			}
			switch c := min(e.contrast, 40); {
			case !ok:
			case blur:
				fs[l].blur += c
			default:
				fs[l].sharp += c
			}
		}
	}
}

// outward is the direction from the mask to the ground at an outline pixel; not ok near card, tag or the mask's corners.
func outward(g *grid, m []uint8, x, y int) (nx, ny float64, ok bool) {
	const r = 3
	n := 0
	for dy := -r; dy <= r; dy++ {
		for dx := -r; dx <= r; dx++ {
			i := (y+dy)*g.w + x + dx
			if g.block[i] != 0 {
				return 0, 0, false
			}
			if m[i] == 0 {
				nx += float64(dx)
				ny += float64(dy)
				n++
			}
		}
	}
	d := math.Hypot(nx, ny)
	if n < 10 || d < 20 {
		return 0, 0, false
	}
	return nx / d, ny / d, true
}

func erodeLabels(label []int32, w, h, r int) []uint8 {
	edge := make([]uint8, len(label))
	for y := 1; y < h-1; y++ {
		for x := 1; x < w-1; x++ {
			i := y*w + x
			if l := label[i]; l != label[i+1] || l != label[i+w] {
				edge[i] = 1
			}
		}
	}
	out := dilate(edge, w, h, r)
	for i := range out {
		if label[i] > 0 && out[i] == 0 {
			out[i] = 1
		} else {
			out[i] = 0
		}
	}
	return out
}

// texture gives, on the grid, the square root of the size of the fine detail of the photo's green for pixels of m: what the mean of 3 x 3
// photo pixels differs by from the mean of the four such squares 4 px away. That is fine enough for a lens out of focus
// to wipe out, and averages the camera's noise; of the root, a mean is little moved by the few edges in a region.
func texture(in *Input, g *grid, m []uint8) []float32 {
	out := make([]float32, len(m))
	img := in.Img
	st := 3 * img.W
	const d = 4
	b := bounds(m, g.w, g.h)
	margin := (d + 2 + g.k - 1) / g.k
	for y := max(margin, b.y0); y < min(g.h-margin-1, b.y1); y++ {
		for x := max(margin, b.x0); x < min(g.w-margin-1, b.x1); x++ {
			i := y*g.w + x
			if m[i] == 0 {
				continue
			}
			k := 3*((y*g.k+g.k/2)*img.W+x*g.k+g.k/2) + 1
			at := func(dx, dy int) (s int) {
				o := k + 3*(dx-1) + st*(dy-1)
				for range 3 {
					s += int(img.Pix[o]) + int(img.Pix[o+3]) + int(img.Pix[o+6])
					o += st
				}
				return
			}
			v := float32(4*at(0, 0)-at(-d, 0)-at(d, 0)-at(0, -d)-at(0, d)) / 36
			out[i] = sqrt32(abs32(v))
		}
	}
	return out
}

// leaveOutBehind clears from m what stands behind, out of focus, and says what share of m that was. Where no outline
// is blurred, nothing is touched.
func leaveOutBehind(in *Input, g *grid, m []uint8) float64 {
	spread := in.EdgeSpreadPx
	if spread <= 0 || math.IsNaN(spread) {
		return 0
	}
	sharpSlope := 0.8 / max(spread, 1.2)
	fs := make([]focusOf, 2)
	regionOutline(in, g, m, nil, fs, sharpSlope, false)
	all := fs[1]
	if all.blur < 0.04*(all.blur+all.sharp) {
		return 0
	}
	label, n := basins(g, m, steepness(g, m))
	fs = make([]focusOf, n+1)
	regionOutline(in, g, m, label, fs, sharpSlope, true)
	bs := bordersOf(g, label)
	borderFocus(in, g, label, bs)
	small := slices.Clone(label)
	n = joinBasins(label, n, bs, joinStep, slices.Clone(fs))
	n = partMixed(label, small, n, fs)
	fs = regionFocus(in, g, m, label, n, sharpSlope)
	bs = bordersOf(g, label)
	borderFocus(in, g, label, bs)
	behind := judgeFocus(fs, bs)
	if behind == nil {
		return 0
	}
	total, out := 0, 0
	for i, l := range label {
		if m[i] == 0 {
			continue
		}
		total++
		if behind[l] {
			m[i] = 0
			out++
		}
	}
	return float64(out) / float64(max(1, total))
}

// leastBehindPercent is the least share of tissue with blurred outlines of its own from which something is taken to
// stand behind.
const leastBehindPercent = 3

// joinStep is the mean colour step, CIELAB, under which neighbouring basins are one leaf.
const joinStep = 5

// contradicts says that the outlines of two regions are clearly sharp and clearly blurred.
func (f *focusOf) contradicts(o *focusOf) bool {
	const clear = 120
	a, b := f.sharp+f.blur, o.sharp+o.blur
	if a < clear || b < clear {
		return false
	}
	x, y := f.blur/a, o.blur/b
	return (x < 0.35 && y > 0.65) || (x > 0.65 && y < 0.35)
}
