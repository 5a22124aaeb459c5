package publish

import (
	"bytes"
	"context"
	"fmt"
	"math"
	"path/filepath"
	"strings"

	"phototrack/internal/change"
	"phototrack/internal/codec"
	"phototrack/internal/collection"
	"phototrack/internal/fsx"
	"phototrack/internal/measure/root"
	"phototrack/internal/pipeline"
	"phototrack/internal/plate"
	"phototrack/internal/record"
	"phototrack/internal/series"
)

// wallLineMM is how wide a root's centreline is drawn: thinner than any root, so that the root stays in sight.
const wallLineMM = 0.8

// wallPlateName is the file of a plant's unrolled walls.
func wallPlateName(plant int) string { return fmt.Sprintf("%03d_wall.png", plant) }

// writeWallPlate writes the unrolled walls of a plant's clear pot, session by session, with what is new since the one
// before; ok is false where fewer than two walls are stored.
func writeWallPlate(ctx context.Context, c *collection.Collection, st *series.Store, p record.Plant, list []*record.Photo, an change.Analysis, dir string) (ok bool, err error) {
	row := wallRow(ctx, st, p, list, an)
	if len(row.Frames) < 2 {
		return false, nil
	}
	for _, e := range c.Events {
		if e.Plant == p.Number {
			row.Events = append(row.Events, e)
		}
	}
	preset, _ := plate.PresetNamed("wide")
	p.Name = strings.TrimPrefix(p.Name+", the pot's wall unrolled", ", ")
	var b bytes.Buffer
	if err := plate.WritePNG(&b, newSpec(c, preset, p, record.Root, row)); err != nil {
		return false, nil // as with photos: no plate is better than no report
	}
	return true, fsx.WriteFileAtomic(filepath.Join(dir, "plates", wallPlateName(p.Number)), b.Bytes(), 0o644)
}

// wallRow is the row of walls. Each is turned to lie as the first of its run: a run ends where the wall's pattern is not
// found again, as after a repot.
func wallRow(ctx context.Context, st *series.Store, p record.Plant, list []*record.Photo, an change.Analysis) plate.Row {
	row := plate.Row{Label: label(p)}
	var before *root.Wall
	var anchor plate.Point
	for _, ph := range list {
		w, ok := storedWall(ctx, st, ph.SHA256)
		if !ok {
			continue
		}
		data, ok, err := st.Picture(ctx, ph.SHA256, pipeline.PictureWall)
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
		f.Name, f.Values = p.Name, values(ph, an)
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
		row.Frames = append(row.Frames, f)
		before = &w
	}
	return row
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
