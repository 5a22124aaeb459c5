package leaf

import (
	"math"
	"slices"
)

// rim is a point of the mask's outline with how wide the edge is there.
type rim struct {
	x, y   int     // the mask's pixel
	width  float32 // 20 to 80 %, photo px; 0: not to be told
	typic  float32 // median along the outline nearby; 0: too few
	nx, ny float32 // towards the inside
}

const (
	// leastEdge is the least contrast, camera levels, at which an edge's width can be told.
	leastEdge = 16
	// nearbyRims is how many points of the outline to each side the typical width is taken from, fewRims how many must tell it.
	nearbyRims, fewRims = 12, 9
	// leastSlope is the least change of the smoothed mask over two pixels from which an outline's direction is taken: along a straight outline
	// it is 0.36, and on a thin strip, whose two sides cancel, next to nothing. By eye.
	leastSlope = 0.01
)

// rims are the points of the mask's outline, loop by loop, with the width of the edge at each, measured in the photo itself along the
// outline's normal.
func rims(in *Input, g *grid, m []uint8, unit float64) (out [][]rim) {
	smooth := make([]float32, len(m))
	for i, v := range m {
		smooth[i] = float32(v)
	}
	const reach = 2
	b := bounds(m, g.w, g.h)
	once := boxMeanIn(smooth, g.w, g.h, reach, b.grow(2*reach, g.w, g.h))
	smooth = boxMeanIn(once, g.w, g.h, reach, b.grow(reach, g.w, g.h)) // nothing beyond the outline's neighbours is asked for
	var inside [256]bool
	inside[1] = true
	for _, loop := range contours(m, g.w, g.h, b, &inside) {
		var line []rim
		for i, a := range loop {
			b := loop[(i+1)%len(loop)]
			dx, dy := sign(b[0]-a[0]), sign(b[1]-a[1])
			for a != b {
				if x, y := rightOf(a, dx, dy); x > 1 && y > 1 && x < g.w-2 && y < g.h-2 && (len(line) == 0 || line[len(line)-1].x != x || line[len(line)-1].y != y) {
					q := rim{x: x, y: y}
					k := y*g.w + x
					nx, ny := smooth[k+1]-smooth[k-1], smooth[k+g.w]-smooth[k-g.w]
					if n := float32(math.Hypot(float64(nx), float64(ny))); n > leastSlope {
						q.nx, q.ny = nx/n, ny/n
						q.width = edgeWidth(in, g, &q, unit)
					}
					line = append(line, q)
				}
				a[0], a[1] = a[0]+dx, a[1]+dy
			}
		}
		typical(line)
		out = append(out, line)
	}
	return
}

// rightOf is the pixel to the right of a step from a corner: with an outline, the inside.
func rightOf(corner [2]int32, dx, dy int32) (x, y int) {
	x, y = int(corner[0]), int(corner[1])
	switch {
	case dx > 0:
	case dx < 0:
		x, y = x-1, y-1
	case dy > 0:
		x--
	default:
		y--
	}
	return
}

func sign(v int32) int32 {
	switch {
	case v > 0:
		return 1
	case v < 0:
		return -1
	}
	return 0
}

// typical fills in the median width nearby.
func typical(line []rim) {
	n := len(line)
	var near []float32
	for i := range line {
		near = near[:0]
		for j := i - nearbyRims; j <= i+nearbyRims; j++ {
			if n <= 2*nearbyRims && (j < 0 || j >= n) {
				continue
			}
			if w := line[(j+n)%n].width; w > 0 {
				near = append(near, w)
			}
		}
		if len(near) >= fewRims {
			slices.Sort(near)
			line[i].typic = near[len(near)/2]
		}
	}
}

const rimSteps = 41 // of half a unit each

// edgeWidth is the width of the edge at a point of the outline, 20 to 80 %, photo px.
func edgeWidth(in *Input, g *grid, q *rim, unit float64) float32 {
	var p [rimSteps]float32
	cx, cy := (float64(q.x)+0.5)*float64(g.k)-0.5, (float64(q.y)+0.5)*float64(g.k)-0.5
	step := unit / 2
	for s := range p {
		t := (float64(s) - rimSteps/2) * step
		x, y := cx+t*float64(q.nx), cy+t*float64(q.ny)
		if x < 0 || y < 0 || x >= float64(in.Img.W-1) || y >= float64(in.Img.H-1) {
			return 0
		}
		ix, iy := int(x), int(y)
		u, v := float32(x-float64(ix)), float32(y-float64(iy))
		o := 3 * (iy*in.Img.W + ix)
		a, b := in.Img.Pix[o:o+6], in.Img.Pix[o+3*in.Img.W:][:6]
		top := light(a) + u*(light(a[3:])-light(a))
		low := light(b) + u*(light(b[3:])-light(b))
		p[s] = top + v*(low-top)
	}
	rise, width := steepest(&p)
	if rise < leastEdge || width > rimSteps/2 {
		return 0
	}
	return width * float32(step)
}

// light is about a pixel's luma. The colours by themselves are no measure of sharpness: JPEG files mostly hold them at half the size.
func light(bgr []uint8) float32 {
	return 0.11*float32(bgr[0]) + 0.59*float32(bgr[1]) + 0.3*float32(bgr[2])
}

// steepest finds the steepest place near the middle, follows it to both sides as long as it rises (or falls) on, and gives the height of
// that rise and the steps between its 20 and 80 %, as the width of the peak of the slope at half its height says it (for a Gaussian
// blur 0.715 times that). Slow shading beside the edge does not count.
func steepest(p *[rimSteps]float32) (rise, width float32) {
	var s, d [rimSteps]float32
	for i := range p {
		s[i] = (p[max(0, i-1)] + 2*p[i] + p[min(rimSteps-1, i+1)]) / 4
	}
	for i := 1; i < rimSteps-1; i++ {
		d[i] = s[i+1] - s[i-1]
	}
	const mid, reach = rimSteps / 2, 7
	if s[mid+5] < s[mid-5] { // the other leaf beyond a narrow gap rises the other way
		for i := range d {
			d[i] = -d[i]
		}
	}
	at := mid
	for i := mid - reach; i <= mid+reach; i++ {
		if d[i] > d[at] {
			at = i
		}
	}
	half := d[at] / 2
	side := func(step int) float32 {
		for i := at; ; i += step {
			rise += d[i] / 2
			if j := i + step; j < 1 || j >= rimSteps-1 {
				return float32(rimSteps)
			} else if d[j] < half {
				return float32((i-at)*step) + (d[i]-half)/(d[i]-d[j])
			}
		}
	}
	width = side(1) + side(-1)
	return rise - d[at]/2, 0.715 * width
}
