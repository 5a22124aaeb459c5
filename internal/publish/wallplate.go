package publish

import (
	"bytes"
	"context"
	"fmt"
	"math"
	"strings"

	"phototrack/internal/codec"
	"phototrack/internal/measure/root"
	"phototrack/internal/pipeline"
	"phototrack/internal/plate"
	"phototrack/internal/record"
)

// wallLineMM is how wide a root's centreline is drawn: thinner than any root, so that the root stays in sight.
const wallLineMM = 0.8

// wallPlateName is the file of a plant's unrolled walls.
func wallPlateName(plant int) string { return fmt.Sprintf("plates/%03d_wall.png", plant) }

// writeWallPlate writes the unrolled walls of a plant's clear pot, session by session, with what is new since the one
// before; ok is false where fewer than two walls are stored.
func (a *atelier) writeWallPlate(ctx context.Context, t plateTask) (ok bool, err error) {
	name := wallPlateName(t.plant.Number)
	preset, _ := plate.PresetNamed("fit")
	titled := t.plant
	titled.Name = strings.TrimPrefix(titled.Name+", the pot's wall unrolled", ", ")
	row := plate.Row{Label: label(t.plant), Events: a.events(t.plant.Number)}
	s := newSpec(a.c, preset, titled, record.Root, row)
	from := a.inputs(ctx, s, t.list, pipeline.PictureWall, t.plant)
	if a.kept.stays(name, from) {
		return true, nil
	}
	if s.Rows[0].Frames = a.walls(ctx, t.plant, t.list); len(s.Rows[0].Frames) < 2 {
		return false, nil
	}
	var b bytes.Buffer
	if err := plate.WritePNG(&b, s); err != nil {
		return false, nil // as with photos: no plate is better than no report
	}
	err = a.kept.write(name, from, b.Bytes())
	return err == nil, err
}

// walls are the frames of the row of walls. Each is turned to lie as the first of its run: a run ends where the wall's pattern is not
// found again, as after a repot.
func (a *atelier) walls(ctx context.Context, p record.Plant, list []*record.Photo) (out []plate.Frame) {
	var before *root.Wall
	var anchor plate.Point
	for _, ph := range list {
		w, ok := storedWall(ctx, a.st, ph.SHA256)
		if !ok {
			continue
		}
		data, ok, err := a.st.Picture(ctx, ph.SHA256, pipeline.PictureWall)
		if err != nil || !ok {
			continue
		}
		img, err := codec.ReadJPEG(data)
		if err != nil {
			continue
		}
		f, ok := plate.FromWall(ph, img, w.PxPerMM, -w.ZeroPx/w.PxPerMM, 0)
		if !ok {
			continue
		}
		f.Name, f.Values = p.Name, a.figures.values(ph)
		f.Lines = wallLines(w.Roots, false)
		if before != nil {
			if r := root.Register(before, &w); r.OK {
				anchor.X += r.RotationDeg * math.Pi / 180 * w.Pot.TopMM / 2
				anchor.Y += r.ShiftMM
				f.Lines = append(f.Lines, wallLines(r.New, true)...)
			} else {
				anchor = plate.Point{}
				f.Values = append(f.Values, "another wall: nothing to compare")
			}
		}
		f.Anchor = anchor
		out = append(out, f)
		before = &w
	}
	return out
}

func wallLines(roots [][]record.Point, fresh bool) []plate.Line {
	var out []plate.Line
	for _, r := range roots {
		l := plate.Line{WidthMM: wallLineMM, New: fresh}
		for _, q := range r {
			l.Points = append(l.Points, plate.Point{X: q.X, Y: q.Y})
		}
		out = append(out, l)
	}
	return out
}
