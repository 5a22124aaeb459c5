package pipeline

import (
	"math"

	"phototrack/internal/raster"
	"phototrack/internal/record"
)

// Colours of overlays, blue, green, red: the Okabe & Ito (2008) set, which colour-blind readers tell apart; every kind
// also has its own width or dash.
var (
	inkSky    = [3]uint8{233, 180, 86}
	inkOrange = [3]uint8{0, 159, 230}
	inkYellow = [3]uint8{66, 228, 240}
	inkPink   = [3]uint8{167, 121, 204}
	inkWhite  = [3]uint8{255, 255, 255}
	inkBlack  = [3]uint8{0, 0, 0}
	inkRed    = [3]uint8{0, 94, 213}
	inkGreen  = [3]uint8{115, 158, 0}
)

// inks are the colours of outlines by their kind; any other is white.
var inks = map[string][3]uint8{
	"hole": inkSky, "discoloured_yellow": inkYellow, "discoloured_purple": inkPink, "discoloured_brown": inkRed,
	KindUnsure: inkGreen, KindUnsureHole: inkGreen, PartOutline: inkOrange, PartAcross: inkOrange,
	"root": inkYellow, "root_old": inkRed, "root_doubt": inkPink, "tip": inkGreen,
}

// leastPenPx is the width of a line on a small picture; on a larger one lines are a 700th of its side (chosen by eye).
const leastPenPx = 1.2

// pen draws lines of a photo on a reduced picture of it.
type pen struct {
	img   raster.BGR
	scale float64 // px of the picture per px of the photo
	width float64 // px of the picture
}

func (p pen) line(q []record.Point, closed bool, ink [3]uint8, width float64) {
	for i := range q {
		j := i + 1
		if j == len(q) {
			if !closed {
				break
			}
			j = 0
		}
		a, b := q[i], q[j]
		stroke{x0: (a.X+0.5)*p.scale - 0.5, y0: (a.Y+0.5)*p.scale - 0.5, x1: (b.X+0.5)*p.scale - 0.5, y1: (b.Y+0.5)*p.scale - 0.5, width: width}.draw(p.img, ink)
	}
}

// edged draws a line with a black one behind it, so that it stands out from any ground.
func (p pen) edged(q []record.Point, closed bool, ink [3]uint8) {
	p.line(q, closed, inkBlack, p.width*2)
	p.line(q, closed, ink, p.width)
}

// drawSeen draws what was seen on a reduced picture: card, tag, and the outlines of what was measured.
func (m *measuring) drawSeen(img raster.BGR) {
	if m.leaves.W > 0 {
		m.leaves.Tint(img)
	}
	p := pen{img, float64(img.W) / float64(m.frame.Img.W), math.Max(leastPenPx, float64(max(img.W, img.H))/700)}
	if m.cal.ScalePxPerMM > 0 {
		p.line(points(m.cal.Outline(0)), true, inkSky, p.width)
	}
	for _, t := range m.cal.TagOutlines(0) {
		p.line(points(t), true, inkOrange, p.width)
	}
	for _, o := range m.p.Outlines {
		ink, ok := inks[o.Kind]
		if !ok {
			ink = inkWhite
		}
		if len(o.Points) == 1 { // a spot: a ring round it
			o.Points, o.Closed = ring(o.Points[0], 5*p.width/p.scale), true
		}
		if o.Kind == "seen_limit" { // dashed, or it would be taken for the pot's edge
			for _, d := range dashes(o.Points, 9*p.width/p.scale) {
				p.edged(d, false, ink)
			}
			continue
		}
		p.edged(o.Points, o.Closed, ink)
	}
}

// ring is a circle of radius r px about p.
func ring(p record.Point, r float64) (out []record.Point) {
	const n = 20
	for i := range n {
		a := 2 * math.Pi * float64(i) / n
		out = append(out, record.Point{X: p.X + r*math.Cos(a), Y: p.Y + r*math.Sin(a)})
	}
	return
}

// stroke is a straight line of a width with round ends, px.
type stroke struct{ x0, y0, x1, y1, width float64 }

// draw draws it, blended at its edges.
func (s stroke) draw(img raster.BGR, ink [3]uint8) {
	x0, y0, x1, y1, width := s.x0, s.y0, s.x1, s.y1, s.width
	r := width/2 + 1
	minX, maxX := int(math.Floor(math.Min(x0, x1)-r)), int(math.Ceil(math.Max(x0, x1)+r))
	minY, maxY := int(math.Floor(math.Min(y0, y1)-r)), int(math.Ceil(math.Max(y0, y1)+r))
	dx, dy := x1-x0, y1-y0
	l2 := dx*dx + dy*dy
	// Most pixels lie outside the line, and most of the others wholly inside: their distance need not be known exactly.
	outside := (width/2 + 0.5) * (width/2 + 0.5) * (1 + 1e-9)
	inside := -1.0
	if width > 1 {
		inside = (width/2 - 0.5) * (width/2 - 0.5) * (1 - 1e-9)
	}
	for y := max(0, minY); y <= min(img.H-1, maxY); y++ {
		for x := max(0, minX); x <= min(img.W-1, maxX); x++ {
			t := 0.0
			if l2 > 0 {
				t = min(1, max(0, ((float64(x)-x0)*dx+(float64(y)-y0)*dy)/l2))
			}
			ex, ey := float64(x)-x0-t*dx, float64(y)-y0-t*dy
			d2 := ex*ex + ey*ey
			if d2 > outside {
				continue
			}
			p := img.Pix[3*(y*img.W+x):][:3:3]
			if d2 < inside {
				p[0], p[1], p[2] = ink[0], ink[1], ink[2]
				continue
			}
			a := min(1, max(0, width/2+0.5-math.Hypot(ex, ey)))
			for c := range 3 {
				p[c] = uint8(float64(p[c])*(1-a) + float64(ink[c])*a + 0.5)
			}
		}
	}
}

// dashes parts a polyline into every other stretch of a length, px.
func dashes(q []record.Point, length float64) (out [][]record.Point) {
	if length <= 0 {
		return [][]record.Point{q}
	}
	at, on := 0.0, true // within the present stretch; whether it is drawn
	var run []record.Point
	for i := 1; i < len(q); i++ {
		a, b := q[i-1], q[i]
		long := math.Hypot(b.X-a.X, b.Y-a.Y)
		for done := 0.0; done < long; {
			step := math.Min(length-at, long-done)
			if on && len(run) == 0 {
				run = append(run, between(a, b, done/long))
			}
			done, at = done+step, at+step
			if on {
				run = append(run, between(a, b, done/long))
			}
			if at >= length {
				if on {
					out, run = append(out, run), nil
				}
				at, on = 0, !on
			}
		}
	}
	if len(run) > 1 {
		out = append(out, run)
	}
	return out
}

// between is the point at a share of the way from a to b.
func between(a, b record.Point, t float64) record.Point {
	return record.Point{X: a.X + t*(b.X-a.X), Y: a.Y + t*(b.Y-a.Y)}
}
