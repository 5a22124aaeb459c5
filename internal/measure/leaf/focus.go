package leaf

import (
	"cmp"
	"math"
	"slices"

	"phototrack/internal/raster"
)

// Plants that stand behind the measured one are out of focus: their outlines and their texture are spread by the lens
// over several pixels, while the card and the leaves held in its plane are sharp. The outline of a region is what its
// own focus shows best; but where a sharp leaf lies over a blurred one, the edge between them is the sharp leaf's, so
// only the outline against the ground speaks for both. Inside a region its texture does (focustexture.go), and what lies
// on either side of a border that is sharp may lie at different depths (focusborder.go). focuscut.go weighs it all.

// focusOf is what was seen of one region.
type focusOf struct {
	size        int
	sharp, blur float64 // length of outline against the ground, weighted by contrast
	texture     float64 // logarithm of the fine detail inside against the coarse, see textures
	texN        int     // grid pixels it was seen on
}

// focusSeen is what a photo shows of focus, whatever the regions.
type focusSeen struct {
	outline      []outlineSample
	sharp, blur  []float64 // of each sample, as judge says
	inside       []uint8   // where texture was looked at
	fine, coarse []float32 // square roots of the detail there
	edges        *edges
}

// of gathers what is seen of the regions 1..n of label.
func (s *focusSeen) of(label []int32, n int) []focusOf {
	fs := make([]focusOf, n+1)
	for i := range s.outline {
		f := &fs[label[s.outline[i].at]]
		f.sharp += s.sharp[i]
		f.blur += s.blur[i]
	}
	sum := make([][2]float64, n+1)
	for i, l := range label {
		if l <= 0 {
			continue
		}
		fs[l].size++
		if s.inside[i] != 0 {
			fs[l].texN++
			sum[l][0] += float64(s.fine[i])
			sum[l][1] += float64(s.coarse[i])
		}
	}
	for l := range fs {
		if f := &fs[l]; f.texN > 0 {
			f.texture = textureOf(sum[l][0]/float64(f.texN), sum[l][1]/float64(f.texN))
		}
	}
	return fs
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

// outlineSample is the edge at a grid pixel of the outline against the ground.
type outlineSample struct {
	edge
	at           int32
	x, y, nx, ny float64 // photo px; the normal points outward
}

// outline samples the edges of m's outline against the ground, at every other pixel of it.
func outline(in *Input, g *grid, m []uint8) (out []outlineSample) {
	w, h := g.w, g.h
	reach := int(min(30, max(8, 6*max(in.EdgeSpreadPx, sampledSpread))))
	for y := 4; y < h-4; y++ {
		for x := 4; x < w-4; x++ {
			i := y*w + x
			if m[i] == 0 || (m[i-1] != 0 && m[i+1] != 0 && m[i-w] != 0 && m[i+w] != 0) || (x+y)%2 != 0 {
				continue
			}
			nx, ny, ok := outward(g, m, x, y)
			if !ok {
				continue
			}
			s := outlineSample{at: int32(i), nx: nx, ny: ny}
			s.x, s.y = g.photo(float64(x)+nx*0.5, float64(y)+ny*0.5)
			if s.edge, ok = edgeAt(in.Img, s.x, s.y, nx, ny, reach); ok {
				out = append(out, s)
			}
		}
	}
	return out
}

// judge says whether an edge is sharp or blurred, by its contrast, where an edge in the plant's plane has the slope sharp;
// both are 0 where it may be either.
func (s *outlineSample) judge(in *Input, sharp float64) (asSharp, asBlur float64) {
	blur, ok := s.blurred(sharp)
	if blur && ok {
		// A sharp leaf just before the rim of a blurred one: the profile is wide, but its steepest place is not.
		narrow, inFocus := contactScale(in)
		share, _, seen := contactAt(in.Img, s.x, s.y, s.nx, s.ny, narrow)
		ok = !seen || share < contactSharp*inFocus
	}
	switch c := min(s.contrast, fullContrast); {
	case !ok:
		return 0, 0
	case blur:
		return 0, c
	default:
		return c, 0
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

// Slopes of edges, in parts of their whole height per photo px: that of an edge as wide as the card's, and the width that
// pixels alone give.
const (
	slopeWidth    = 0.8 // a Gaussian edge's steepest slope times its 10 to 90 % width is 1.02; over two pixels it is less
	sampledSpread = 1.2
)

const (
	ownShare    = 0.1
	nearlySharp = 0.8 // leaves are rounded and shaded: their edges in the card's plane reach 0.8 to 1 of its slope
)

// ownSpread is the width of the edges of the plant itself: leaves may stand a little out of the card's plane, and the
// camera focuses on what it likes. What stands behind is what is blurred against the plant, not against the card. The
// sharpest tenth of the outline is the plant's; where it is nearly as sharp as the card, the card's edges are the measure.
func ownSpread(in *Input, outline []outlineSample) float64 {
	type edge struct{ slope, weight float64 }
	var es []edge
	all := 0.0
	for i := range outline {
		if s := &outline[i]; !s.colour {
			c := min(s.contrast, fullContrast)
			es = append(es, edge{s.slope, c})
			all += c
		}
	}
	slices.SortFunc(es, func(a, b edge) int { return cmp.Compare(b.slope, a.slope) })
	spread := max(in.EdgeSpreadPx, sampledSpread)
	sum := 0.0
	for _, e := range es {
		if sum += e.weight; sum > ownShare*all {
			return max(spread, nearlySharp*slopeWidth/e.slope)
		}
	}
	return spread
}

// leaveOutBehind clears from m what stands behind, out of focus, and says what share of m that was, and how many times
// as wide as the card's the plant's own edges are. Where no outline is blurred, nothing is touched.
func leaveOutBehind(in *Input, g *grid, m, cls []uint8) (share, softness float64) {
	if in.EdgeSpreadPx <= 0 || math.IsNaN(in.EdgeSpreadPx) {
		return 0, 1
	}
	seen := &focusSeen{outline: outline(in, g, m)}
	own := *in
	own.EdgeSpreadPx = ownSpread(in, seen.outline)
	softness = own.EdgeSpreadPx / max(in.EdgeSpreadPx, sampledSpread)
	sharpSlope := slopeWidth / own.EdgeSpreadPx
	seen.sharp, seen.blur = make([]float64, len(seen.outline)), make([]float64, len(seen.outline))
	var sharp, blur float64
	for i := range seen.outline {
		s := &seen.outline[i]
		seen.sharp[i], seen.blur[i] = s.judge(&own, sharpSlope)
		if !s.colour {
			sharp, blur = sharp+seen.sharp[i], blur+seen.blur[i]
		}
	}
	if blur < 0.04*(blur+sharp) {
		return 0, softness
	}
	label, behind := divideFocus(&own, g, m, cls, seen)
	if behind == nil {
		return 0, softness
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
	return float64(out) / float64(max(1, total)), softness
}
