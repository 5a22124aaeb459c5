package desk

import (
	"fmt"
	"math"

	"phototrack/internal/collection"
	"phototrack/internal/gate"
	"phototrack/internal/geom"
	"phototrack/internal/pipeline"
	"phototrack/internal/record"
	"phototrack/internal/words"
)

// doubtful is a part of a photo of which the program is not sure what it is. The grower's word becomes an area with the same
// rings, to be taken back like any other.
type doubtful struct {
	Size  string         `json:"size"` // "12 cm²", "" where there is no scale
	Rings [][][2]float64 `json:"rings"`
	At    [2]float64     `json:"at"`             // where its number stands: within the place
	Line  [][2]float64   `json:"line,omitempty"` // a stretch of root: drawn and clicked as a line; the rings are a dot on it
	Was   *earlierWord   `json:"was,omitempty"`
}

// earlierWord is what the grower said of the place on an earlier photo. It is offered and never taken by itself.
type earlierWord struct {
	What string `json:"what"` // keep | leave_out
	When string `json:"when"` // the earlier photo's day in words, "" for none
	Note string `json:"note"`
}

const (
	// growShare is by how much of the photo's longer side an answer is drawn larger than its place, so that it covers it:
	// about one place of the picture in which the doubt was found.
	growShare = 0.001
	// sameShare is the share of a place that an earlier answer must cover to be offered for it.
	sameShare = 1.0 / 3
	// earlierPhotos is how many photos back earlier answers are looked for.
	earlierPhotos = 6
)

// placesOf are the places of a photo that wait for the grower's word. list are the photos of the same view of the plant, by time.
func placesOf(c *collection.Collection, list []*record.Photo, p *record.Photo) (out []doubtful) {
	out = []doubtful{}
	if p.WidthPx == 0 || p.HeightPx == 0 {
		return out
	}
	if p.View == record.Root {
		return append(out, stretchesOf(p)...)
	}
	w, h := float64(p.WidthPx), float64(p.HeightPx)
	grow := growShare * math.Max(w, h)
	for i, o := range p.Outlines {
		if o.Kind != pipeline.KindUnsure || !o.Closed || len(o.Points) < 3 {
			continue
		}
		k := doubtful{Rings: [][][2]float64{ring(grown(o.Points, grow), w, h)}}
		var holes [][]record.Point
		for _, hole := range p.Outlines[i+1:] {
			if hole.Kind != pipeline.KindUnsureHole {
				break
			}
			holes = append(holes, hole.Points)
			r := ring(grown(hole.Points, -grow), w, h)
			if (collection.Mark{What: collection.MarkKeep, Rings: [][][2]float64{r}}).Check() == nil {
				k.Rings = append(k.Rings, r)
			}
		}
		if (collection.Mark{What: collection.MarkKeep, Rings: k.Rings}).Check() != nil {
			continue // too thin to be answered for
		}
		k.Size = sizeOf(p, o.Points, holes)
		k.At = middle(samples(k.Rings))
		out = append(out, k)
	}
	if len(out) > 0 {
		offer(out, c, list, p)
	}
	return out
}

// offer gives each place what was said of it on the latest earlier photo that had an answer there.
func offer(places []doubtful, c *collection.Collection, list []*record.Photo, p *record.Photo) {
	if p.Plant == 0 {
		return
	}
	var before []*record.Photo
	for _, q := range list {
		if q.SHA256 == p.SHA256 {
			break
		}
		before = append(before, q)
	}
	before = before[max(0, len(before)-earlierPhotos):]
	for i := len(before) - 1; i >= 0; i-- {
		q := before[i]
		marks := pipeline.CarryAreas(collection.Areas(c.MarksFor(q.SHA256)), q, p)
		for k := range places {
			if places[k].Was != nil {
				continue
			}
			if what := saidOf(&places[k], marks); what != "" {
				word := &earlierWord{What: what, Note: "as on " + q.Name}
				if d := q.Taken.Day(); d != "" {
					word.When = words.LongDay(d)
				}
				places[k].Was = word
			}
		}
	}
}

// saidOf is what areas say of a place: that which covers most of it, "" where none covers enough.
func saidOf(k *doubtful, marks []collection.Mark) (what string) {
	if len(marks) == 0 {
		return ""
	}
	points := samples(k.Rings)
	n := map[string]int{}
	for _, at := range points {
		said := ""
		for _, m := range marks {
			if within(m.Rings, at) && said != collection.MarkLeaveOut { // what is left out wins, as in the measuring
				said = m.What
			}
		}
		n[said]++
	}
	most := sameShare * float64(len(points))
	for _, w := range []string{collection.MarkLeaveOut, collection.MarkKeep} {
		if float64(n[w]) > most {
			what, most = w, float64(n[w])
		}
	}
	return what
}

// sizeOf is a place's area in the plane of the card, in words.
func sizeOf(p *record.Photo, px []record.Point, holes [][]record.Point) string {
	toPx, ok := pipeline.CardToPx(p)
	if !ok {
		return ""
	}
	toMM, err := toPx.Inv()
	if err != nil {
		return ""
	}
	cm2 := areaMM2(toMM, px) / 100
	for _, hole := range holes {
		cm2 -= areaMM2(toMM, hole) / 100
	}
	switch {
	case math.IsNaN(cm2):
		return ""
	case cm2 >= 10: // two digits say enough
		return fmt.Sprintf("%.0f cm²", cm2)
	}
	return fmt.Sprintf("%.1f cm²", cm2)
}

// areaMM2 is the area of an outline in the plane of the card; it is no number where the outline reaches past the horizon.
func areaMM2(toMM geom.Mat3, px []record.Point) float64 {
	sum := 0.0
	for i, q := range px {
		next := px[(i+1)%len(px)]
		ax, ay, okA := toMM.Project(q.X, q.Y)
		bx, by, okB := toMM.Project(next.X, next.Y)
		if !okA || !okB {
			return math.NaN()
		}
		sum += ax*by - bx*ay
	}
	return math.Abs(sum) / 2
}

// grown moves the corners of an outline outwards by d px, inwards where d is negative: along the bisector of the two sides.
func grown(pts []record.Point, d float64) []record.Point {
	n := len(pts)
	area := 0.0
	for i, a := range pts {
		b := pts[(i+1)%n]
		area += a.X*b.Y - b.X*a.Y
	}
	if area < 0 {
		d = -d
	}
	out := make([]record.Point, n)
	for i, q := range pts {
		a, b := pts[(i+n-1)%n], pts[(i+1)%n]
		ux, uy := unit(q.X-a.X, q.Y-a.Y)
		vx, vy := unit(b.X-q.X, b.Y-q.Y)
		nx, ny := unit(uy+vy, -ux-vx)
		out[i] = record.Point{X: q.X + d*nx, Y: q.Y + d*ny}
	}
	return out
}

func unit(x, y float64) (float64, float64) {
	l := math.Hypot(x, y)
	if l == 0 {
		return 0, 0
	}
	return x / l, y / l
}

// ring is an outline as areas are kept: closed, relative to the photo. Six digits are a hundredth of a pixel.
func ring(pts []record.Point, w, h float64) (out [][2]float64) {
	six := func(v float64) float64 { return math.Round(clamp(v)*1e6) / 1e6 }
	for _, q := range pts {
		out = append(out, [2]float64{six((q.X + 0.5) / w), six((q.Y + 0.5) / h)})
	}
	return append(out, out[0])
}

// samples are points spread evenly over an area.
func samples(rings [][][2]float64) (out [][2]float64) {
	const n = 32
	x0, y0, x1, y1 := 1.0, 1.0, 0.0, 0.0
	for _, q := range rings[0] {
		x0, y0, x1, y1 = min(x0, q[0]), min(y0, q[1]), max(x1, q[0]), max(y1, q[1])
	}
	for i := range n {
		for j := range n {
			at := [2]float64{x0 + (x1-x0)*(float64(j)+0.5)/n, y0 + (y1-y0)*(float64(i)+0.5)/n}
			if within(rings, at) {
				out = append(out, at)
			}
		}
	}
	if len(out) == 0 {
		out = [][2]float64{rings[0][0]}
	}
	return out
}

// within says whether a point lies in an area, by the even-odd rule.
func within(rings [][][2]float64, at [2]float64) (in bool) {
	for _, r := range rings {
		for i := 1; i < len(r); i++ {
			a, b := r[i-1], r[i]
			if (a[1] > at[1]) != (b[1] > at[1]) && at[0] < (b[0]-a[0])*(at[1]-a[1])/(b[1]-a[1])+a[0] {
				in = !in
			}
		}
	}
	return in
}

// middle is that of the points which lies nearest to their mean.
func middle(points [][2]float64) (at [2]float64) {
	var m [2]float64
	for _, q := range points {
		m[0] += q[0] / float64(len(points))
		m[1] += q[1] / float64(len(points))
	}
	least := math.Inf(1)
	for _, q := range points {
		if d := math.Hypot(q[0]-m[0], q[1]-m[1]); d < least {
			at, least = q, d
		}
	}
	return at
}

// waiting is a photo of the month that waits for the grower's word.
type waiting struct {
	SHA, Plant, Day, Text string
	Held                  bool // it does not count until then
}

func (w *waiting) before(o *waiting) bool {
	if w.Held != o.Held {
		return w.Held
	}
	return w.Day < o.Day
}

// waitingOf says that a photo waits for the grower's word. One that was left out by hand or refused does not.
func (s *snapshot) waitingOf(p *record.Photo) (w waiting, ok bool) {
	why, ok := gate.Undecided(p)
	if !ok || p.Status == record.Rejected || s.c.OverrideFor(p.SHA256, p.Name).Excluded {
		return w, false
	}
	w = waiting{SHA: p.SHA256, Plant: p.Name, Day: p.Taken.Day(), Text: words.Upper(why.Detail) + ".", Held: why.Code == gate.TooUnsure}
	if q, listed := s.c.Plant(p.Plant); listed {
		w.Plant = itoa(p.Plant) + " " + q.Name
	} else if p.Plant > 0 {
		w.Plant = "Plant " + itoa(p.Plant)
	}
	return w, true
}
