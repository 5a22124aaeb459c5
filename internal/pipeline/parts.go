package pipeline

import (
	"fmt"
	"math"
	"strings"

	"phototrack/internal/collection"
	"phototrack/internal/gate"
	"phototrack/internal/geom"
	"phototrack/internal/measure/part"
	"phototrack/internal/record"
)

// PartOutline and PartAcross are the kinds of outlines that show lines on parts: along one, and across one.
const (
	PartOutline = "part"
	PartAcross  = "part_across"
)

// PartInput is a calibrated photo as package part takes it. The surface is the measured plane; a root photo's lines lie on
// the pot's wall instead.
func (m *measuring) partInput() part.Input {
	c := m.cal
	in := part.Input{Img: m.frame.Img, Surface: part.Plane{ToPX: c.Plane, ToMM: c.ToPlane}, EdgeSpreadPx: c.EdgeSpreadPx, DistanceMM: c.DistanceMM,
		Eye: c.Camera.Centre(), PrintRelU: c.PrintRelU, Card: c.Outline(0), Tags: c.TagOutlines(0),
		RelU: func(p geom.MM) float64 { return c.AreaRelU(p) / 2 }}
	if m.wall != nil {
		in.Surface, in.OnWall = *m.wall, true
		in.RelU = func(geom.MM) float64 { return c.ScaleRelU }
	}
	return in
}

func (m *measuring) partSettings() part.Settings {
	p := m.settings.Parts
	s := part.Settings{DepthMM: p.DepthMM, DepthShotMM: p.DepthShotMM, SlopeDeg: p.SlopeDeg, CardUpDeg: p.CardUpDeg}
	if m.wall != nil { // the pot stands level with the card, and where its wall lies is known from its size
		s.DepthMM, s.DepthShotMM = m.settings.Measurement.DepthCommonMM, m.settings.Measurement.DepthShotMM
	}
	return s
}

// parts measures the lines that were drawn on the photo. What cannot be measured is said in the notes, line by line.
func (m *measuring) parts() {
	if m.c == nil {
		return
	}
	lines := collection.Lines(m.c.MarksFor(m.p.SHA256))
	if len(lines) == 0 {
		return
	}
	if gate.StatusOf(m.p.Reasons) == record.Rejected {
		m.p.Notes = append(m.p.Notes, fmt.Sprintf("The photo was refused, so the %s on it kept but not measured.", plural(len(lines), "line drawn is", "lines drawn are")))
		return
	}
	latest := map[string]int{} // the last line of a part for a quantity counts
	for i, k := range lines {
		for _, q := range k.Line.Measure {
			latest[m.partName(k.Line.Part)+"\x00"+q] = i
		}
	}
	in, s := m.partInput(), m.partSettings()
	for i, k := range lines {
		if err := m.line(&in, s, k.Line, i, latest); err != nil {
			m.p.Notes = append(m.p.Notes, fmt.Sprintf("The line for %s was not measured: %v.", k.Line.Part, err))
		}
	}
}

func plural(n int, one, many string) string {
	if n == 1 {
		return one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// partName is the name as parts.csv writes it.
func (m *measuring) partName(name string) string {
	if p, ok := m.c.Part(m.p.Plant, name); ok {
		return p.Part
	}
	return name
}

// line measures one line and puts its quantities and its drawing into the photo.
func (m *measuring) line(in *part.Input, s part.Settings, l *collection.Line, i int, latest map[string]int) error {
	p, err := m.partToMeasure(l)
	if err != nil {
		return err
	}
	d := partLine(l, m.p.WidthPx, m.p.HeightPx)
	if late := leaveToLater(&d, func(what string) bool { return latest[p.Part+"\x00"+what] != i }); len(late) > 0 {
		m.p.Notes = append(m.p.Notes, fmt.Sprintf("Two lines measure the %s of %s on this photo; the one drawn last counts.", strings.Join(late, " and "), p.Part))
		if !d.Width && !alongLine(&d) {
			return nil
		}
	}
	r, err := part.Measure(*in, d, s)
	if err != nil {
		return err
	}
	for _, q := range r.Quantities {
		if math.IsNaN(q.Value) {
			continue
		}
		q.Part = p.Part
		m.p.Quantities = append(m.p.Quantities, q)
	}
	if !d.NoSnap && r.FoundShare == 0 {
		m.p.Notes = append(m.p.Notes, fmt.Sprintf("No edges were found beside the line for %s: it is measured as it was drawn.", p.Part))
	}
	kind := PartOutline
	if d.Width && !alongLine(&d) {
		kind = PartAcross
	}
	m.p.Outlines = append(m.p.Outlines, record.Outline{Kind: kind, Part: p.Part, Points: points(r.Curve)})
	return nil
}

// partToMeasure is the part that a line is drawn on, if it can be measured there.
func (m *measuring) partToMeasure(l *collection.Line) (record.Part, error) {
	if err := l.Check(); err != nil {
		return record.Part{}, err
	}
	p, ok := m.c.Part(m.p.Plant, l.Part)
	switch {
	case !ok:
		return p, fmt.Errorf("plant %d has no part of that name in %s; add it there, or on the desk page", m.p.Plant, collection.PartsFile)
	case p.Gone(m.p.Taken.Day()):
		return p, fmt.Errorf("the part is gone since %s, by %s", p.Until, collection.PartsFile)
	}
	return p, nil
}

// alongLine says whether a line is to give a quantity along the part.
func alongLine(d *part.Line) bool { return d.Length || d.Bend || d.Angle }

// leaveToLater takes off a line what a later one measures, and names it.
func leaveToLater(d *part.Line, later func(what string) bool) (names []string) {
	for _, m := range []struct {
		on   *bool
		what string
	}{{&d.Length, collection.MeasureLength}, {&d.Width, collection.MeasureWidth}, {&d.Bend, collection.MeasureBend}, {&d.Angle, collection.MeasureAngle}} {
		if *m.on && later(m.what) {
			*m.on = false
			names = append(names, m.what)
		}
	}
	return names
}

// partLine is a mark's line in pixels of a photo.
func partLine(l *collection.Line, width, height int) part.Line {
	d := part.Line{NoSnap: l.NoSnap, Zoom: l.Zoom, Length: l.Measures(collection.MeasureLength), Width: l.Measures(collection.MeasureWidth),
		Bend: l.Measures(collection.MeasureBend), Angle: l.Measures(collection.MeasureAngle)}
	for _, p := range l.Points {
		d.Points = append(d.Points, geom.PX{X: p[0]*float64(width) - 0.5, Y: p[1]*float64(height) - 0.5})
	}
	return d
}
