package pipeline

import (
	"fmt"
	"math"
	"strings"

	"phototrack/internal/calib"
	"phototrack/internal/collection"
	"phototrack/internal/gate"
	"phototrack/internal/geom"
	"phototrack/internal/measure/leaf"
	"phototrack/internal/record"
)

// leafInput is the calibrated photo as the measuring of leaves takes it.
func (m *measuring) leafInput() leaf.Input {
	cal := m.cal
	in := leaf.Input{
		Img: m.frame.Img, CardToPx: cal.Plane, DistanceMM: cal.DistanceMM, ScalePxPerMM: cal.ScalePxPerMM,
		EdgeSpreadPx: cal.EdgeSpreadPx, Eye: cal.Camera.Centre(), Colour: leafColour(&cal.Colour),
		AreaRelU: cal.AreaRelU(geom.MM{X: 0, Y: 100}), PrintRelU: cal.PrintRelU,
		LU: cal.Colour.LU, AU: cal.Colour.AU, BU: cal.Colour.BU, HueDegU: cal.Colour.HueU,
		Card: points(cal.Outline(2)), Net: m.net, WantRegions: m.job.Regions,
	}
	for _, t := range cal.TagOutlines(1) {
		in.Tags = append(in.Tags, points(t))
	}
	m.drawn(func(keep bool, outline []record.Point) {
		in.Marks = append(in.Marks, leaf.Mark{Keep: keep, Points: outline})
	})
	return in
}

func (m *measuring) leaf() {
	ms := m.settings.Measurement
	in := m.leafInput()
	s := leaf.DefaultSettings()
	s.DepthCommonMM, s.DepthShotMM, s.SlopeDeg = ms.DepthCommonMM, ms.DepthShotMM, ms.SlopeDeg
	s.MinSpeckMM2, s.MinHoleMM2 = ms.MinSpeckMM2, ms.MinHoleMM2
	s.Classes = ClassTable(m.settings.Classes)
	m.wholeFoot(in, s)
	res, why, err := leaf.Measure(in, s)
	if err != nil {
		m.fail(gate.NoPlant, "%v", err)
		m.parts()
		m.pictures(nil)
		return
	}
	m.p.Reasons = append(m.p.Reasons, why...)
	m.p.Quantities = append(m.p.Quantities, res.Quantities...)
	m.p.Outlines, m.leaves = res.Outlines, res.Mask
	for _, d := range res.Doubtful {
		m.p.Outlines = append(m.p.Outlines, record.Outline{Kind: KindUnsure, Closed: true, Points: d.Outline})
		for _, hole := range d.Holes {
			m.p.Outlines = append(m.p.Outlines, record.Outline{Kind: KindUnsureHole, Closed: true, Points: hole})
		}
	}
	m.keepRegions(res.Regions)
	m.p.Notes = append(m.p.Notes, res.Notes...)
	if len(res.Colours.Parts) > 0 {
		m.extra("colours", res.Colours.String())
	}
	m.parts()
	m.pictures(&in)
}

// wholeFoot notes which kinds of areas were drawn and, where there are any, where the foot of the whole plant lies: what is
// left out by hand must not move the point on which photos are laid over each other.
func (m *measuring) wholeFoot(in leaf.Input, s leaf.Settings) {
	if len(in.Marks) == 0 {
		return
	}
	kinds := map[bool]string{}
	for _, k := range in.Marks {
		kinds[k.Keep] = collection.MarkLeaveOut
		if k.Keep {
			kinds[k.Keep] = collection.MarkKeep
		}
	}
	m.extra(record.ExtraAreas, strings.TrimSpace(kinds[true]+" "+kinds[false]))
	in.Marks = nil
	res, _, err := leaf.Measure(in, s)
	if err != nil {
		return // without areas there is nothing to be found; then the areas say where it is
	}
	if x, y, ok := footPX(res.Outlines, m.cal); ok {
		m.extra(record.ExtraFoot, fmt.Sprintf("%.1f,%.1f", x, y))
	}
}

// footPX is the middle of the lowest tenth of the leaves in the plane of the card, in px of the photo.
func footPX(outlines []record.Outline, cal *calib.Calibration) (x, y float64, ok bool) {
	var all []geom.MM
	for _, o := range outlines {
		if o.Kind == "leaf" {
			for _, q := range o.Points {
				all = append(all, cal.ToPlane.MM(geom.PX{X: q.X, Y: q.Y}))
			}
		}
	}
	if len(all) == 0 {
		return 0, 0, false
	}
	top, foot := math.Inf(1), math.Inf(-1)
	for _, p := range all {
		top, foot = min(top, p.Y), max(foot, p.Y)
	}
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, p := range all {
		if p.Y >= foot-(foot-top)/10 {
			lo, hi = min(lo, p.X), max(hi, p.X)
		}
	}
	px := cal.Plane.Px(geom.MM{X: (lo + hi) / 2, Y: foot})
	return px.X, px.Y, finite(px.X) && finite(px.Y)
}
