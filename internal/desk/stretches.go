package desk

import (
	"fmt"
	"math"
	"sort"

	"phototrack/internal/pipeline"
	"phototrack/internal/record"
)

const (
	// leastStretchMM is the shortest stretch of root in doubt that is asked about; shorter ones are in the interval.
	leastStretchMM = 4.0
	// mostStretches is how many are asked about, the longest first.
	mostStretches = 20
	// dotShare of the photo's width is the size of the dot by which a stretch of root is answered for: the measuring takes
	// an area this small as a word on the stretch that it touches.
	dotShare = 0.004
	// plainPxPerMM stands in for the scale of a photo whose card tells none.
	plainPxPerMM = 6.0
)

// stretchesOf are the stretches of a root photo of which the program is not sure whether they are root, the longest first. The
// answer is a dot on the stretch.
func stretchesOf(p *record.Photo) (out []doubtful) {
	w, h := float64(p.WidthPx), float64(p.HeightPx)
	type one struct {
		k  doubtful
		mm float64
	}
	var all []one
	for _, o := range p.Outlines {
		if o.Kind != "root_doubt" || len(o.Points) < 2 {
			continue
		}
		mm, known := lengthOf(p, o.Points)
		if mm < leastStretchMM {
			continue
		}
		at := halfway(o.Points)
		k := doubtful{Rings: [][][2]float64{dotAt(at, w, h)}, At: [2]float64{clamp((at.X + 0.5) / w), clamp((at.Y + 0.5) / h)}}
		for _, q := range o.Points {
			k.Line = append(k.Line, [2]float64{(q.X + 0.5) / w, (q.Y + 0.5) / h})
		}
		if known {
			k.Size = fmt.Sprintf("%.0f mm", mm)
		}
		all = append(all, one{k, mm})
	}
	sort.SliceStable(all, func(i, j int) bool { return all[i].mm > all[j].mm })
	for _, o := range all[:min(len(all), mostStretches)] {
		out = append(out, o.k)
	}
	return out
}

// lengthOf is a line's length in the plane of the card, mm; known is false where the card tells no scale.
func lengthOf(p *record.Photo, line []record.Point) (mm float64, known bool) {
	if toPx, ok := pipeline.CardToPx(p); ok {
		if toMM, err := toPx.Inv(); err == nil {
			for i := 1; i < len(line); i++ {
				ax, ay, okA := toMM.Project(line[i-1].X, line[i-1].Y)
				bx, by, okB := toMM.Project(line[i].X, line[i].Y)
				if okA && okB {
					mm += math.Hypot(bx-ax, by-ay)
				}
			}
			return mm, true
		}
	}
	for i := 1; i < len(line); i++ {
		mm += math.Hypot(line[i].X-line[i-1].X, line[i].Y-line[i-1].Y) / plainPxPerMM
	}
	return mm, false
}

// halfway is the point of a line at half its length.
func halfway(line []record.Point) record.Point {
	var whole float64
	for i := 1; i < len(line); i++ {
		whole += math.Hypot(line[i].X-line[i-1].X, line[i].Y-line[i-1].Y)
	}
	left := whole / 2
	for i := 1; i < len(line); i++ {
		a, b := line[i-1], line[i]
		l := math.Hypot(b.X-a.X, b.Y-a.Y)
		if l > 0 && left <= l {
			return record.Point{X: a.X + (b.X-a.X)*left/l, Y: a.Y + (b.Y-a.Y)*left/l}
		}
		left -= l
	}
	return line[len(line)-1]
}

// dotAt is a small square about a place, within the photo.
func dotAt(p record.Point, w, h float64) [][2]float64 {
	r := dotShare * w / 2
	x, y := min(max(p.X, r), w-1-r), min(max(p.Y, r), h-1-r)
	return ring([]record.Point{{X: x - r, Y: y - r}, {X: x + r, Y: y - r}, {X: x + r, Y: y + r}, {X: x - r, Y: y + r}}, w, h)
}
