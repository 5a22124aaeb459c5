// Package cardpdf writes the scale card, the plant tags and the how-to-shoot bookmarks as a vector PDF
// at exact size, ready for a home printer. Start with Write; ParseNumbers turns "3,5,9-12" into the
// plant numbers it wants and PaperByName finds the paper.
//
// Everything is placed from package card's figures. The card sits in the very middle of its page, so
// that sides L and R meet back to back when the sheet is turned over either edge. Markers are one
// filled path in black ink only; patches are sRGB values under an sRGB output intent; the document asks
// the viewer not to scale it.
//
// The fonts are Liberation Sans and Liberation Mono (SIL Open Font License 1.1), embedded as subsets.
package cardpdf

import (
	"bytes"
	"fmt"
	"io"
	"time"

	"codeberg.org/go-pdf/fpdf"

	"phototrack/internal/card"
)

// Options says what to print.
type Options struct {
	Paper Paper // the sheet; see PaperByName

	Card  bool           // both sides of the card, with how to print and check it
	HowTo bool           // the two bookmarks on how to shoot
	Tags  []int          // plant numbers to print tags for, card.MinPlant..card.MaxPlant; may be empty
	Names map[int]string // names printed on the tags, by plant number; may be nil or have gaps

	// Created is the date written into the file; the same options and date give the same bytes. The
	// zero time stands for now.
	Created time.Time
}

// Write writes the PDF. Pages: side L, side R (a duplex pair), the printing notes if the paper has no
// room for them beside the card, the bookmarks, the tag sheets. Errors: a number no tag can carry,
// paper too small for the card, nothing to print, or w's own error.
func Write(w io.Writer, o Options) error {
	if err := o.check(); err != nil {
		return err
	}
	doc := newDocument(o)
	if o.Card {
		for _, s := range card.Sides() {
			doc.cardPage(s)
		}
		if !doc.roomBesideCard() {
			doc.printNotesPage()
		}
	}
	if o.HowTo {
		doc.howToPage()
	}
	doc.tagPages(o.Tags, o.Names)

	var buf bytes.Buffer
	if err := doc.pdf.Output(&buf); err != nil {
		return fmt.Errorf("writing the card: %w", err)
	}
	out, err := addPrintHints(buf.Bytes(), o.duplex())
	if err != nil {
		return fmt.Errorf("writing the card: %w", err)
	}
	_, err = w.Write(out)
	return err
}

func (o Options) check() error {
	if !o.Card && !o.HowTo && len(o.Tags) == 0 {
		return fmt.Errorf("nothing to print: ask for the card, the how-to or some tags")
	}
	p := o.Paper
	if p.HeightMM < card.WidthMM || p.WidthMM < card.HeightMM {
		return fmt.Errorf("paper of %.1f x %.1f mm is too small for the %.0f x %.0f mm card", p.WidthMM, p.HeightMM, card.WidthMM, card.HeightMM)
	}
	for _, n := range o.Tags {
		if err := checkNumber(n); err != nil {
			return err
		}
	}
	return nil
}

// document is one PDF under way.
type document struct {
	pdf      *fpdf.Fpdf
	paper    Paper
	coverage coverage
}

func newDocument(o Options) *document {
	pdf := fpdf.NewCustom(&fpdf.InitType{UnitStr: "mm", Size: fpdf.SizeType{Wd: o.Paper.WidthMM, Ht: o.Paper.HeightMM}})
	pdf.SetMargins(0, 0, 0)
	pdf.SetAutoPageBreak(false, 0)
	pdf.SetCellMargin(0)
	pdf.SetCatalogSort(true) // same input, same bytes
	pdf.SetCreationDate(o.Created)
	pdf.SetModificationDate(o.Created)
	pdf.SetTitle("Scale card and plant tags", true)
	pdf.SetSubject("Print at 100 % (actual size)", true)
	pdf.SetCreator("phototrack", true)
	pdf.SetLang("en")
	addFonts(pdf)
	return &document{pdf: pdf, paper: o.Paper, coverage: newCoverage()}
}

// addPage starts a page; landscape turns the paper's long edge level. It returns a canvas with the
// page's origin, and the page's width and height in mm.
func (d *document) addPage(landscape bool, bookmark string) (canvas, float64, float64) {
	w, h := d.paper.WidthMM, d.paper.HeightMM
	orientation := "P"
	if landscape {
		w, h = h, w
		orientation = "L"
	}
	d.pdf.AddPageFormat(orientation, fpdf.SizeType{Wd: d.paper.WidthMM, Ht: d.paper.HeightMM})
	d.pdf.Bookmark(bookmark, 0, 0)
	return canvas{pdf: d.pdf}, w, h
}

// smallestSheetMM is the height below which paper is a photo print: prints are up to 152 mm high, sheets from 279 (Letter) on.
const smallestSheetMM = 200

// small reports whether the paper is a photo print, on which the card takes up the whole sheet.
func (d *document) small() bool { return d.paper.HeightMM < smallestSheetMM }

// roomBesideCard reports whether the printing notes fit above and below the card.
func (d *document) roomBesideCard() bool { return !d.small() }
