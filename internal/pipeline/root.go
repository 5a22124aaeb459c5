package pipeline

import (
	"errors"

	"phototrack/internal/gate"
	"phototrack/internal/measure/part"
	"phototrack/internal/measure/root"
	"phototrack/internal/raster"
	"phototrack/internal/record"
	"phototrack/internal/wall"
)

// rootInput is the photo as package root takes it.
func (m *measuring) rootInput() root.Input {
	cal, ms := m.cal, m.settings.Measurement
	cam := cal.Camera
	in := root.Input{
		Img:       m.frame.Img,
		Camera:    wall.Camera{Fx: cam.F, Fy: cam.F, Cx: cam.CX, Cy: cam.CY, R: cam.R, T: wall.Vec(cam.T)},
		Lab:       m.lab,
		ScaleRelU: cal.ScaleRelU, PrintRelU: cal.PrintRelU, DistanceMM: cal.DistanceMM,
		OffsetMM: ms.OffsetMM,
		Blocked:  [][]record.Point{points(cal.Outline(2))},
	}
	for _, t := range cal.TagOutlines(1) {
		in.Blocked = append(in.Blocked, points(t))
	}
	m.drawn(func(keep bool, outline []record.Point) {
		if at, ok := dot(outline, m.p.WidthPx); ok {
			in.Decisions = append(in.Decisions, root.Decision{At: at, Root: keep})
			return
		}
		in.Marks = append(in.Marks, root.Mark{Keep: keep, Points: outline})
	})
	if m.override.OffsetMM != nil {
		in.OffsetMM = *m.override.OffsetMM
	}
	in.Pot, in.PotSource = m.pot()
	return in
}

// root measures the roots seen through the wall of a clear pot.
func (m *measuring) root() {
	ms, in := m.settings.Measurement, m.rootInput()
	res, why, err := root.Measure(in, root.Settings{DepthCommonMM: ms.DepthCommonMM, DepthShotMM: ms.DepthShotMM, Pictures: m.job.Pictures})
	if err != nil {
		if errors.Is(err, root.ErrNoPot) {
			m.p.Reasons = append(m.p.Reasons, why...)
		} else {
			m.fail(gate.NoPot, "%v", err)
		}
		m.parts()
		m.pictures(nil)
		return
	}
	m.p.Reasons = append(m.p.Reasons, why...)
	m.p.Quantities = append(m.p.Quantities, res.Quantities...)
	m.p.Outlines = res.Outlines
	m.p.Notes = append(m.p.Notes, res.Notes...)
	m.p.WallRoots = res.Wall.Roots
	if res.Wall.Pic.W > 0 {
		m.extra("wall", res.Wall.Meta())
	}
	w := part.NewWall(in.Camera, res.PotWall)
	m.wall = &w
	m.parts()
	m.pictures(nil)
	if m.job.Pictures {
		if res.Wall.Pic.W > 0 {
			pic := raster.BGR{W: res.Wall.Pic.W, H: res.Wall.Pic.H, Pix: append([]uint8(nil), res.Wall.Pic.Pix...)}
			m.corrected(pic)
			m.store(PictureWall, pic)
		}
		if res.WallShown.W > 0 {
			m.store(PictureWallOverlay, res.WallShown)
		}
	}
}

// dotShare of the photo's width is the largest mark that is a dot: the grower's word on the stretch of root it touches,
// not an area.
const dotShare = 0.008

// dot is the middle of an outline that is no larger than a dot.
func dot(outline []record.Point, widthPx int) (record.Point, bool) {
	if len(outline) < 3 {
		return record.Point{}, false
	}
	a, b := outline[0], outline[0]
	for _, p := range outline {
		a = record.Point{X: min(a.X, p.X), Y: min(a.Y, p.Y)}
		b = record.Point{X: max(b.X, p.X), Y: max(b.Y, p.Y)}
	}
	most := dotShare * float64(widthPx)
	return record.Point{X: (a.X + b.X) / 2, Y: (a.Y + b.Y) / 2}, b.X-a.X <= most && b.Y-a.Y <= most
}

// pot is the clear pot in force on the photo's day and where its size comes from.
func (m *measuring) pot() (record.Pot, string) {
	if m.override.Pot.Known() {
		return m.override.Pot, "a correction"
	}
	if m.c == nil {
		return record.Pot{}, ""
	}
	return m.c.PotAt(m.p.Plant, m.p.Taken.Day()), "plants.csv and events.csv"
}

func (m *measuring) lab(b, g, r uint8) (float32, float32, float32) {
	c := m.cal.Colour.Lab(b, g, r)
	return float32(c.L), float32(c.A), float32(c.B)
}
