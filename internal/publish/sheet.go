package publish

import (
	"bytes"
	"context"
	"image"

	"phototrack/internal/codec"
	"phototrack/internal/pipeline"
	"phototrack/internal/pixels"
	"phototrack/internal/plate"
	"phototrack/internal/record"
)

const (
	sheetName    = "plates/collection.pdf"
	sheetPerPage = 12 // on A4 lying: four across, three down
)

// writeSheet writes the sheet of the whole collection: each plant's latest photo of the period, leaves before roots, all
// at one scale; ok is false where there are fewer than two. Pictures are opened one at a time, when they are drawn.
func (a *atelier) writeSheet(ctx context.Context) (ok bool, err error) {
	var plants []record.Plant
	var photos []*record.Photo
	for _, p := range a.c.Plants {
		for _, view := range []record.View{record.Leaf, record.Root} {
			if list := a.shelf.counted(p.Number, view, a.an.To); len(list) > 0 && list[len(list)-1].Taken.Day() >= a.an.From {
				plants, photos = append(plants, p), append(photos, list[len(list)-1])
				break
			}
		}
	}
	preset, _ := plate.PresetNamed("a4")
	s := newSpec(a.c, preset, record.Plant{}, "", plate.Row{})
	s.Words.Name = s.Words.Collection
	from := a.inputs(ctx, s, photos, pipeline.PicturePlain, plants...)
	if len(photos) >= 2 && a.kept.stays(sheetName, from) {
		return true, nil
	}
	for i, ph := range photos {
		if f, ok := a.frame(ctx, plants[i], ph, a.later(ctx, ph)); ok {
			f.Head = label(plants[i])
			s.Rows[0].Frames = append(s.Rows[0].Frames, f)
		}
	}
	if len(s.Rows[0].Frames) < 2 || ctx.Err() != nil {
		return false, ctx.Err()
	}
	pages, err := plate.Sheets(s, sheetPerPage)
	if err != nil {
		return false, nil // as with single plates: none is better than no report
	}
	var b bytes.Buffer
	if err := plate.WriteSheetsPDF(&b, pages); err != nil {
		return false, nil
	}
	err = a.kept.write(sheetName, from, b.Bytes())
	return err == nil, err
}

// later gives a picture that is fetched again and decoded when it is drawn.
func (a *atelier) later(ctx context.Context, ph *record.Photo) func([]byte) (image.Image, error) {
	return func(data []byte) (image.Image, error) {
		w, h, err := codec.JPEGSize(data)
		return plate.Later{Size: image.Pt(w, h), Open: func() *image.NRGBA {
			data, ok, err := a.st.Picture(ctx, ph.SHA256, pipeline.PicturePlain)
			if err != nil || !ok {
				return nil
			}
			m, err := codec.ReadJPEGInto(data, pixels.New)
			if err != nil {
				return nil
			}
			return m
		}}, err
	}
}
