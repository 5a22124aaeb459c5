package publish

import (
	"bytes"
	"context"
	"path/filepath"

	"phototrack/internal/change"
	"phototrack/internal/collection"
	"phototrack/internal/fsx"
	"phototrack/internal/plate"
	"phototrack/internal/record"
	"phototrack/internal/series"
)

const (
	sheetName    = "collection.pdf"
	sheetPerPage = 12 // on A4 lying: four across, three down
)

// writeSheet writes the sheet of the whole collection: each plant's latest photo of the period, leaves before roots, all
// at one scale; ok is false where there are fewer than two.
func writeSheet(ctx context.Context, c *collection.Collection, st *series.Store, photos []record.Photo, an change.Analysis, dir string) (ok bool, err error) {
	var row plate.Row
	for _, p := range c.Plants {
		for _, view := range []record.View{record.Leaf, record.Root} {
			list := counted(photos, p.Number, view, an.To)
			if len(list) == 0 || list[len(list)-1].Taken.Day() < an.From {
				continue
			}
			one, _ := plateRow(ctx, c, st, p, list[len(list)-1:], an)
			for _, f := range one.Frames {
				f.Head = label(p)
				row.Frames = append(row.Frames, f)
			}
			break
		}
	}
	if len(row.Frames) < 2 || ctx.Err() != nil {
		return false, ctx.Err()
	}
	preset, _ := plate.PresetNamed("a4")
	s := newSpec(c, preset, record.Plant{}, "", row)
	s.Words.Name = s.Words.Collection
	pages, err := plate.Sheets(s, sheetPerPage)
	if err != nil {
		return false, nil // as with single plates: none is better than no report
	}
	var b bytes.Buffer
	if err := plate.WriteSheetsPDF(&b, pages); err != nil {
		return false, nil
	}
	return true, fsx.WriteFileAtomic(filepath.Join(dir, "plates", sheetName), b.Bytes(), 0o644)
}
