package publish

import (
	"bytes"
	"context"
	"fmt"
	"image/jpeg"
	"path/filepath"

	"phototrack/internal/change"
	"phototrack/internal/collection"
	"phototrack/internal/fsx"
	"phototrack/internal/measure/leaf"
	"phototrack/internal/plate"
	"phototrack/internal/quantity"
	"phototrack/internal/record"
	"phototrack/internal/report"
	"phototrack/internal/series"
)

// platePanels is how many dates a plate shows: the first, the last, and those between that part the time evenly.
const platePanels = 6

// writePlates writes the month's plates: for each plant and view with a photo in the period and an earlier one.
func writePlates(ctx context.Context, c *collection.Collection, st *series.Store, photos []record.Photo, an change.Analysis, dir string) ([]report.Link, error) {
	var links []report.Link
	for _, p := range c.Plants {
		for _, view := range []record.View{record.Leaf, record.Root} {
			list := counted(photos, p.Number, view, an.To)
			if len(list) < 2 || list[len(list)-1].Taken.Day() < an.From {
				continue
			}
			if ctx.Err() != nil {
				return links, ctx.Err()
			}
			row, ok := plateRow(ctx, c, st, p, spread(list, platePanels), an)
			if !ok {
				continue
			}
			preset, _ := plate.PresetNamed("wide")
			var b bytes.Buffer
			if err := plate.WritePNG(&b, plate.Spec{Preset: preset, Rows: []plate.Row{row}}); err != nil {
				continue // a plant whose pictures cannot be aligned has no plate; its section shows the photos
			}
			name := fmt.Sprintf("%03d_%s.png", p.Number, view)
			if err := fsx.WriteFileAtomic(filepath.Join(dir, "plates", name), b.Bytes(), 0o644); err != nil {
				return links, err
			}
			links = append(links, report.Link{Text: fmt.Sprintf("Plate: %s, month by month", map[record.View]string{record.Leaf: "leaves", record.Root: "roots"}[view]), Href: "plates/" + name, Plant: p.Number})
		}
	}
	return links, nil
}

// spread picks at most n of a list, the first and last among them, evenly.
func spread(list []*record.Photo, n int) []*record.Photo {
	if len(list) <= n {
		return list
	}
	var out []*record.Photo
	for i := range n {
		out = append(out, list[i*(len(list)-1)/(n-1)])
	}
	return out
}

func plateRow(ctx context.Context, c *collection.Collection, st *series.Store, p record.Plant, list []*record.Photo, an change.Analysis) (plate.Row, bool) {
	row := plate.Row{Label: fmt.Sprintf("%d %s", p.Number, p.Name)}
	for _, ph := range list {
		data, ok, err := st.Picture(ctx, ph.SHA256, "plain")
		if err != nil || !ok {
			continue
		}
		img, err := jpeg.Decode(bytes.NewReader(data))
		if err != nil {
			continue
		}
		f, ok := plate.FromPhoto(ph, img)
		if !ok {
			continue
		}
		f.Name = p.Name
		f.Values = values(ph, an)
		row.Frames = append(row.Frames, f)
	}
	for _, e := range c.Events {
		if e.Plant == p.Number {
			row.Events = append(row.Events, e)
		}
	}
	return row, len(row.Frames) >= 2
}

// values are the lines under a panel: the session's main numbers with their intervals.
func values(p *record.Photo, an change.Analysis) []string {
	names := []string{"leaf_area", "purple_share", "yellow_share", "brown_share"}
	if p.View == record.Root {
		names = []string{"root_length", "root_longest"}
	}
	var out []string
	for _, n := range names {
		for _, s := range an.Sessions {
			if s.Plant == p.Plant && s.View == p.View && s.Date == p.Taken.Day() && s.Quantity == n && (n == names[0] || s.Value > s.U95) {
				info := quantity.Of(s.Quantity, s.Unit)
				out = append(out, info.Title+" "+info.Value(s.Value, s.U95))
			}
		}
	}
	return out[:min(3, len(out))]
}

func classRows(s collection.ClassSettings) []report.ClassRow {
	var out []report.ClassRow
	for _, k := range leaf.DefaultClasses().Classes {
		r := report.ClassRow{Name: k.Name, FromDeg: k.FromDeg, ToDeg: k.ToDeg, Reason: k.Reason, MinChroma: s.MinChroma}
		switch k.Name {
		case "green":
			r.FromDeg, r.ToDeg = s.GreenFromDeg, s.PurpleFromDeg
		case "yellow":
			r.FromDeg, r.ToDeg = s.YellowFromDeg, s.GreenFromDeg
		case "brown":
			r.FromDeg, r.ToDeg = s.BrownFromDeg, s.YellowFromDeg
		case "purple":
			r.FromDeg, r.ToDeg = s.PurpleFromDeg, s.BrownFromDeg
		}
		out = append(out, r)
	}
	return out
}
