package root

import (
	"math"
	"slices"

	"phototrack/internal/raster"
	"phototrack/internal/wall"
)

// plane is the photo's brightness resampled on the plane of the pot's axis, with its gradients; 1 px is 1 mm.
type plane struct {
	x0, y0 float64 // card mm of the first px
	w, h   int
	grey   []float32
	gx, gy []float32 // strength of vertical and of horizontal edges, 0..1
	ok     []bool
}

// newPlane covers what the photo shows of the axis plane (z = -offset of the card's frame), at most reach mm around the
// card.
func newPlane(img raster.BGR, cam wall.Camera, offset float64, blocked [][][2]float64) *plane {
	const left, right, above, below = 330.0, 480.0, 220.0, 330.0
	p := &plane{x0: -left, y0: -above, w: int(left + right), h: int(above + below)}
	n := p.w * p.h
	g := raster.NewFloat(p.w, p.h)
	p.ok = make([]bool, n)
	hidden := newScreen(blocked)
	at := newPlaces(img, p.w)
	right2, low := float64(img.W-4), float64(img.H-4)
	across := cam.Turn(wall.Vec{1}) // from one place of a row to the next, in the camera's frame
	for y := range p.h {
		at.clear()
		first := cam.Place(wall.Vec{p.x0, p.y0 + float64(y), -offset})
		for x := range p.w {
			n := float64(x)
			z := first[2] + n*across[2]
			if z <= behindLens {
				continue
			}
			z = 1 / z
			u, v := cam.Fx*(first[0]+n*across[0])*z+cam.Cx, cam.Fy*(first[1]+n*across[1])*z+cam.Cy
			if u >= 2 && v >= 2 && u <= right2 && v <= low && !hidden.hides(u, v) {
				at.add(y*p.w+x, u, v)
			}
		}
		column := at.columns()
		for n, v := range at.greys() {
			i := column[n]
			g.Pix[i], p.ok[i] = v, true
		}
	}
	p.grey = g.Pix
	p.gradients(g)
	return p
}

const (
	everyEdge = 7 // of so many pixels the edge of one is looked at for what a strong one is
	// strongMM2 is how much of the plane has edges that are as strong as any: 4 % of what the photos of ../shared/scenes show of it. It is an area
	// and no share, so that more or less of a bare bench in the photo makes no edge weaker.
	strongMM2  = 5000
	leastFaint = 75 // per cent of what is seen that have no such edges, however little it is; by eye
	// leastStrong is the strength of an edge that is no strong one on any photo: strong edges of leaves must not outvote long faint walls. By eye.
	leastStrong = 12
)

// gradients finds the edges of the plane and how strong each is, 0..1, beside the strong ones.
func (p *plane) gradients(g raster.Float) {
	n := p.w * p.h
	p.gx, p.gy = make([]float32, n), make([]float32, n)
	var strong []uint32 // the bits of what is above leastStrong, in the order of the numbers: see spread
	looked := 0
	for y := 2; y < p.h-2; y++ {
		for x := 2; x < p.w-2; x++ {
			i := y*p.w + x
			if !p.ok[i-2*p.w-2] || !p.ok[i+2*p.w+2] || !p.ok[i-2*p.w+2] || !p.ok[i+2*p.w-2] {
				continue
			}
			at := func(dx, dy int) float32 { return g.Pix[i+dy*p.w+dx] }
			sx := at(1, -1) + 2*at(1, 0) + at(1, 1) - at(-1, -1) - 2*at(-1, 0) - at(-1, 1)
			sy := at(-1, 1) + 2*at(0, 1) + at(1, 1) - at(-1, -1) - 2*at(0, -1) - at(1, -1)
			p.gx[i], p.gy[i] = float32(math.Abs(float64(sx))), float32(math.Abs(float64(sy)))
			if i%everyEdge == 0 {
				looked++
				if p.gx[i] > leastStrong {
					strong = append(strong, math.Float32bits(p.gx[i]))
				}
			}
		}
	}
	if looked == 0 {
		return
	}
	limit := float32(leastStrong)
	if above := min(strongMM2/everyEdge, looked-1-looked*leastFaint/100); above < len(strong) {
		slices.Sort(strong)
		limit = math.Float32frombits(strong[len(strong)-1-above])
	}
	spread(p.gx, p.w, p.h, limit)
	spread(p.gy, p.w, p.h, limit)
}

// spread clips at limit, scales to 0..1 and takes the largest of 3 x 3. The values are not negative, so that their bits are in the order of the
// numbers: whole numbers compare several times faster, since no NaN is asked about.
func spread(g []float32, w, h int, limit float32) {
	bits := make([]uint32, len(g))
	for i, v := range g {
		bits[i] = math.Float32bits(v)
	}
	high := make([]uint32, w) // the largest of three rows
	most := math.Float32bits(limit)
	for y := 1; y < h-1; y++ {
		up, at, down := bits[(y-1)*w:][:w], bits[y*w:][:w], bits[(y+1)*w:][:w]
		for x := range high {
			high[x] = max(up[x], at[x], down[x])
		}
		row := g[y*w : (y+1)*w]
		for x := 1; x < w-1; x++ {
			row[x] = math.Float32frombits(min(max(high[x-1], high[x], high[x+1]), most)) / limit
		}
	}
}

func (p *plane) look(g []float32, x, y float64) float32 {
	u, v := int(x-p.x0+0.5), int(y-p.y0+0.5)
	if u < 0 || v < 0 || u >= p.w || v >= p.h {
		return 0
	}
	return g[v*p.w+u]
}
