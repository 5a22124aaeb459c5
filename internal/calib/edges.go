package calib

import (
	"math"
	"slices"

	"phototrack/internal/colour"
	"phototrack/internal/geom"
	"phototrack/internal/raster"
	"phototrack/internal/uncert"
)

const (
	edgeSamples    = 40  // profiles along a side
	profileSamples = 61  // samples across the side, over +- profileCells
	profileCells   = 0.7 // of a cell: beyond it lie the code's cells and, outside, the card's edge
	endMargin      = 0.08
	cellsPerSide   = 8
)

// refine places a marker's corners to a few hundredths of a pixel: along each side the profile of linear light
// across the edge is taken, the point at half level found, a line fitted to these points, and neighbouring lines
// crossed. A blurred edge keeps its half level in linear light where it was (in sRGB values it moves by some 0.3 px),
// which a corner detector that works on gradients at the corner does not.
func refine(img raster.BGR, m Marker) Marker {
	cell := m.SidePx() / cellsPerSide
	var lines [4]line
	var spread float64
	for i := range 4 {
		p, q := m.Corners[i], m.Corners[(i+1)%4]
		l, s, ok := fitEdge(img, p, q, cell)
		if !ok {
			m.Refined = false
			m.EdgeSpreadPx = math.NaN()
			return m
		}
		lines[i] = l
		spread += s / 4
	}
	var out [4]geom.PX
	for i := range 4 {
		c, ok := lines[(i+3)%4].cross(lines[i])
		if !ok || dist(c, m.Corners[i]) > cell {
			m.Refined = false
			m.EdgeSpreadPx = math.NaN()
			return m
		}
		out[i] = c
	}
	m.Corners, m.Refined, m.EdgeSpreadPx = out, true, spread
	return m
}

// line is a point and a direction in px.
type line struct{ x, y, dx, dy float64 }

func (a line) cross(b line) (geom.PX, bool) {
	d := a.dx*b.dy - a.dy*b.dx
	if math.Abs(d) < parallel {
		return geom.PX{}, false
	}
	s := ((b.x-a.x)*b.dy - (b.y-a.y)*b.dx) / d
	return geom.PX{X: a.x + s*a.dx, Y: a.y + s*a.dy}, true
}

// How a marker's side is fitted (chosen by eye but for biweight).
const (
	parallel      = 1e-9  // sine between two lines that do not meet
	leastEdgePx   = 8     // length of a side
	leastContrast = 0.02  // of linear light, between paper and ink
	leastOfLine   = 4     // samples on a line
	leastGatePx   = 0.05  // a sample this near to the line counts in full
	biweight      = 4.685 // Tukey's bisquare keeps 95 % of the efficiency of least squares with it (Holland & Welsch 1977)
)

// fitEdge fits the side from p to q (corners run clockwise, so the outside is to the left of the way). It returns the
// line, the 10 to 90 % width of the mean profile in px, and whether there was an edge to fit.
func fitEdge(img raster.BGR, p, q geom.PX, cell float64) (line, float64, bool) {
	length := dist(p, q)
	if length < leastEdgePx {
		return line{}, 0, false
	}
	nx, ny := (q.Y-p.Y)/length, -(q.X-p.X)/length
	step := 2 * profileCells * cell / (profileSamples - 1)
	var prof [profileSamples]float64
	var mean [profileSamples]float64
	var ts, xs []float64
	for i := range edgeSamples {
		t := endMargin + (1-2*endMargin)*float64(i)/(edgeSamples-1)
		x0, y0 := p.X+t*(q.X-p.X), p.Y+t*(q.Y-p.Y)
		for j := range prof {
			d := -profileCells*cell + float64(j)*step
			prof[j] = lightAt(img, x0+d*nx, y0+d*ny)
		}
		const end = profileSamples / 4
		lo, hi := avg(prof[:end]), avg(prof[profileSamples-end:])
		if hi-lo < leastContrast {
			continue
		}
		k := firstAbove(&prof, (lo+hi)/2)
		if k < 0 {
			continue
		}
		f := ((lo+hi)/2 - prof[k-1]) / (prof[k] - prof[k-1])
		ts = append(ts, t*length)
		xs = append(xs, -profileCells*cell+(float64(k-1)+f)*step)
		for j := range prof {
			mean[j] += (prof[j] - lo) / (hi - lo)
		}
	}
	if len(ts) < edgeSamples/4 {
		return line{}, 0, false
	}
	a, b, used := robustLine(ts, xs, 0.3*cell)
	if used < edgeSamples/4 {
		return line{}, 0, false
	}
	ux, uy := (q.X-p.X)/length, (q.Y-p.Y)/length
	l := line{p.X + a*nx, p.Y + a*ny, ux + b*nx, uy + b*ny}
	for j := range mean {
		mean[j] /= float64(len(ts))
	}
	return l, float64(riseSamples(&mean)) * step, true
}

// firstAbove is the first sample of a profile at which it rises above a level; -1 where it does not.
func firstAbove(prof *[profileSamples]float64, level float64) int {
	for j := 1; j < profileSamples; j++ {
		if prof[j-1] <= level && prof[j] > level {
			return j
		}
	}
	return -1
}

// An edge is said to be as wide as from 10 to 90 % of its rise.
const riseFrom, riseTo = 0.1, 0.9

// riseSamples is from the first sample above the one to the first above the other, of a profile that rises from 0 to 1.
func riseSamples(prof *[profileSamples]float64) int {
	above := func(level float64) int { return slices.IndexFunc(prof[:], func(v float64) bool { return v > level }) }
	lo, hi := above(riseFrom), above(riseTo)
	if hi < 0 {
		hi = profileSamples - 1
	}
	return hi - max(0, lo)
}

func avg(v []float64) (m float64) {
	for _, x := range v {
		m += x
	}
	return m / float64(len(v))
}

// robustLine fits x = a + b t with Tukey's biweight about the median, after points further than gate from it are gone.
func robustLine(t, x []float64, gate float64) (a, b float64, used int) {
	s := slices.Clone(x)
	slices.Sort(s)
	a = s[len(s)/2]
	scale := gate
	for range 6 {
		var sw, st, sx, stt, stx float64
		used = 0
		res := make([]float64, 0, len(t))
		for i := range t {
			r := x[i] - a - b*t[i]
			if math.Abs(r) > scale {
				continue
			}
			u := r / scale
			w := (1 - u*u) * (1 - u*u)
			used++
			res = append(res, math.Abs(r))
			sw, st, sx, stt, stx = sw+w, st+w*t[i], sx+w*x[i], stt+w*t[i]*t[i], stx+w*t[i]*x[i]
		}
		d := sw*stt - st*st
		if used < leastOfLine || d <= 0 {
			return a, b, 0
		}
		b = (sw*stx - st*sx) / d
		a = (sx - b*st) / sw
		slices.Sort(res)
		scale = math.Max(biweight*uncert.DeviationOfMedian*res[len(res)/2], leastGatePx)
		scale = math.Min(scale, gate)
	}
	return a, b, used
}

// lightAt is the linear light of the luma at a point, interpolated between the four pixels round it. Outside the
// photo the nearest pixel counts.
func lightAt(img raster.BGR, x, y float64) float64 {
	x = math.Min(math.Max(x, 0), float64(img.W-1))
	y = math.Min(math.Max(y, 0), float64(img.H-1))
	x0, y0 := min(int(x), img.W-2), min(int(y), img.H-2)
	fx, fy := x-float64(x0), y-float64(y0)
	at := func(i int) float64 {
		p := img.Pix[i : i+3 : i+3]
		return colour.LinearOf8[(uint32(p[0])*29+uint32(p[1])*150+uint32(p[2])*77+128)>>8]
	}
	i := 3 * (y0*img.W + x0)
	j := i + 3*img.W
	return (1-fy)*((1-fx)*at(i)+fx*at(i+3)) + fy*((1-fx)*at(j)+fx*at(j+3))
}
