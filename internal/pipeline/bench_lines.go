package pipeline

import (
	"fmt"
	"math"

	"phototrack/internal/collection"
	"phototrack/internal/gate"
	"phototrack/internal/geom"
	"phototrack/internal/measure/part"
	"phototrack/internal/measure/register"
	"phototrack/internal/measure/root"
	"phototrack/internal/photo"
	"phototrack/internal/record"
)

// LineTable is a photo that lies open for lines: decoded and calibrated once, so that a line is measured while it is drawn.
type LineTable struct {
	m  *measuring
	in part.Input
	s  part.Settings
}

// OpenLines lays a photo open. It must have been measured before (by a worker, which may die of a damaged file). The error is a
// sentence for the grower: a photo without a scale, or one that was refused.
func OpenLines(data []byte, p *record.Photo, c *collection.Collection) (*LineTable, error) {
	limits := photo.Limits{MaxPixels: int64(c.Settings.Run.MaxMegapixels) * 1_000_000, MaxBytes: int64(c.Settings.Run.MaxFileMB) * 1_000_000}
	frame, err := photo.Read(data, limits)
	if err != nil {
		return nil, err
	}
	fresh := record.Photo{Name: p.Name, SHA256: p.SHA256, WidthPx: frame.WidthPx, HeightPx: frame.HeightPx, Taken: p.Taken}
	m := &measuring{job: Job{Name: p.Name}, c: c, p: &fresh, settings: c.Settings, override: c.OverrideFor(p.SHA256, p.Name), frame: frame}
	if !m.calibrate() || m.cal.ScalePxPerMM <= 0 || gate.StatusOf(p.Reasons) == record.Rejected {
		return nil, fmt.Errorf("the photo was refused, so nothing can be measured on it")
	}
	m.p.Plant, m.p.View = p.Plant, p.View
	if p.View == record.Root {
		res, _, err := root.Measure(m.rootInput(), root.Settings{})
		if err != nil {
			return nil, fmt.Errorf("the pot was not found, so nothing can be measured on its wall")
		}
		w := part.NewWall(m.rootInput().Camera, res.PotWall)
		m.wall = &w
	}
	return &LineTable{m, m.partInput(), m.partSettings()}, nil
}

// Measured is what a line comes to.
type Measured struct {
	Quantities []record.Quantity `json:"quantities"`
	Curve      [][2]float64      `json:"curve"` // relative to the photo
	Found      float64           `json:"found"` // share of it where edges were found
}

// Measure measures a line as it stands. Errors: a sentence for the grower.
func (t *LineTable) Measure(l *collection.Line) (Measured, error) {
	if err := l.Check(); err != nil {
		return Measured{}, err
	}
	r, err := part.Measure(t.in, partLine(l, t.m.p.WidthPx, t.m.p.HeightPx), t.s)
	if err != nil {
		return Measured{}, err
	}
	return Measured{r.Quantities, t.relative(r.Curve), r.FoundShare}, nil
}

func (t *LineTable) relative(points []geom.PX) (out [][2]float64) {
	w, h := float64(t.m.p.WidthPx), float64(t.m.p.HeightPx)
	for _, p := range points {
		out = append(out, [2]float64{math.Min(1, math.Max(0, (p.X+0.5)/w)), math.Min(1, math.Max(0, (p.Y+0.5)/h))})
	}
	return
}

// Proposed is a line of an earlier photo carried to a later one.
type Proposed struct {
	Line  collection.Line `json:"line"`
	Is    Measured        `json:"is"`
	Grown float64         `json:"grown"` // mm beyond the earlier tip
	Sure  bool            `json:"sure"`
	Why   string          `json:"why,omitempty"` // why it is not proposed
}

// How much of the plant about its lines two photos are registered over: half the side of the region, and beyond the lines (chosen by eye).
const leastRegionMM, roundLinesMM = 80, 30

// Carry carries lines of the photo before to this one: the plant is found again by its own features, then each line is drawn
// to the edges there. What is not sure says why.
func (t *LineTable) Carry(before *LineTable, lines []collection.Line) []Proposed {
	out := make([]Proposed, len(lines))
	from, to := geom.MM{X: math.Inf(1), Y: math.Inf(1)}, geom.MM{X: math.Inf(-1), Y: math.Inf(-1)}
	olds := make([]part.Line, len(lines))
	for i := range lines {
		out[i].Line = lines[i]
		out[i].Line.Drawn, out[i].Line.Points = collection.DrawnAccepted, nil
		olds[i] = partLine(&lines[i], before.m.p.WidthPx, before.m.p.HeightPx)
		for _, p := range olds[i].Points {
			if q, ok := before.in.Surface.MM(p); ok {
				from.X, from.Y, to.X, to.Y = math.Min(from.X, q.X), math.Min(from.Y, q.Y), math.Max(to.X, q.X), math.Max(to.Y, q.Y)
			}
		}
	}
	if t.m.p.View != before.m.p.View || !(from.X <= to.X) {
		for i := range out {
			out[i].Why = "the photos show different sides"
		}
		return out
	}
	// Registered over the whole plant about the lines.
	mid := geom.MM{X: (from.X + to.X) / 2, Y: (from.Y + to.Y) / 2}
	half := math.Max(leastRegionMM, math.Max(to.X-from.X, to.Y-from.Y)/2+roundLinesMM)
	r := register.Find(before.view(), t.view(), geom.MM{X: mid.X - half, Y: mid.Y - half}, geom.MM{X: mid.X + half, Y: mid.Y + half})
	for i := range out {
		if !r.Sure {
			out[i].Why = r.Because
			continue
		}
		p := part.Propose(before.in, t.in, olds[i], r.Move.At)
		out[i].Sure, out[i].Why, out[i].Grown = p.Sure, p.Why, p.Grown
		out[i].Line.Points = t.relative(p.Points)
		out[i].Is = Measured{p.Result.Quantities, t.relative(p.Result.Curve), p.Result.FoundShare}
		if out[i].Sure {
			if err := out[i].Line.Check(); err != nil {
				out[i].Sure, out[i].Why = false, err.Error()
			}
		}
	}
	return out
}

func (t *LineTable) view() register.View {
	v := register.View{Img: t.m.frame.Img, Surface: t.in.Surface, Hidden: [][]geom.PX{t.m.cal.Outline(4)}}
	v.Hidden = append(v.Hidden, t.m.cal.TagOutlines(4)...)
	return v
}
