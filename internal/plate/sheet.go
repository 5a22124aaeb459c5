package plate

import (
	"fmt"
	"io"

	"phototrack/internal/pdfcolour"
)

// Sheets parts a collection's frames, one of each plant, into pages of one plate set, all at the same scale: the spec
// must have one row. Frames are best given a Head.
func Sheets(s Spec, perPage int) ([]Spec, error) {
	if len(s.Rows) != 1 || perPage < 1 {
		return nil, fmt.Errorf("a sheet has one row of frames and at least one on a page, not %d and %d", len(s.Rows), perPage)
	}
	all := s.Rows[0].Frames
	if len(s.frames()) == 0 {
		return nil, ErrNothing
	}
	all = append([]Frame(nil), all...) // plants of different habit are centred, not set on one foot
	for i := range all {
		if e := all[i].Extent; !e.Empty() {
			all[i].Anchor = Point{(e.X0 + e.X1) / 2, (e.Y0 + e.Y1) / 2}
		}
	}
	s.Rows = []Row{{Frames: all}}
	for _, f := range s.frames() {
		s.need = s.need.union(f.reach())
	}
	var out []Spec
	for from := 0; from < len(all); from += perPage {
		p := s
		p.Rows = []Row{{Frames: all[from:min(from+perPage, len(all))]}}
		if len(p.frames()) == 0 {
			continue
		}
		if len(out) > 0 {
			p.fixed = out[0].fixed
		} else {
			l, err := plan(&p)
			if err != nil {
				return nil, err
			}
			p.fixed = l.scale
		}
		out = append(out, p)
	}
	return out, nil
}

// WriteSheetsPDF writes pages of one preset into one PDF.
func WriteSheetsPDF(w io.Writer, pages []Spec) error {
	if len(pages) == 0 {
		return ErrNothing
	}
	mm := 25.4 / pages[0].Preset.DPI
	pdf := newPDF(float64(pages[0].Preset.W)*mm, float64(pages[0].Preset.H)*mm, pages[0].filled("").Title)
	p := &page{pdf: pdf, mm: mm}
	for i := range pages {
		l, err := plan(&pages[i])
		if err != nil {
			return err
		}
		pdf.AddPage()
		compose(&pages[i], l, p)
	}
	if p.err != nil {
		return p.err
	}
	return pdfcolour.Write(w, pdf)
}
