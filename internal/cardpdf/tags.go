package cardpdf

import (
	"fmt"
	"strconv"
	"strings"

	"phototrack/internal/card"
)

// Text on a tag keeps one cell of white (2.5 mm) below the marker.
const (
	tagTextTopMM  = card.TagMarkerYMM + card.TagMarkerMM + card.TagMarkerMM/card.MarkerCells
	tagNamePt     = 6.0
	tagNameWideMM = card.TagWidthMM - 2
)

// tag draws one tag with its top-left corner at the origin: large figures, or smaller ones with the
// name below in at most two lines.
func (c canvas) tag(number int, name string) {
	c.marker(number, card.TagMarkerXMM, card.TagMarkerYMM, card.TagMarkerMM)
	c.textColour(black)
	digitsMM, lines := 7.0, []string(nil)
	if name != "" {
		lines = c.wrap(regular.at(tagNamePt), tagNameWideMM, name)
		if len(lines) > 2 {
			lines = []string{lines[0], strings.Join(lines[1:], " ")}
		}
		digitsMM = 5.6 - 0.8*float64(len(lines)-1)
	}
	const middleMM = card.TagWidthMM / 2
	y := tagTextTopMM + 0.6 + digitsMM
	c.textCentred(bold.at(digitsMM/digitHeightEM/ptMM), middleMM, y, strconv.Itoa(number))
	for i, l := range lines {
		c.textCentred(regular.at(tagNamePt), middleMM, y+2.8+2.4*float64(i), c.fit(regular.at(tagNamePt), tagNameWideMM, l))
	}
}

// tagGrid is how many tags a page takes and where the first one lies.
type tagGrid struct {
	columns, rows int
	x, y          float64
}

// gridFor fills a w x h page, keeping margins for the printer, the heading and the cut marks.
func gridFor(w, h float64) tagGrid {
	const sideMM, headMM = 6.0, 12.0
	g := tagGrid{columns: int((w - 2*sideMM) / card.TagWidthMM), rows: int((h - 2*headMM) / card.TagHeightMM)}
	g.x = (w - float64(g.columns)*card.TagWidthMM) / 2
	g.y = (h - float64(g.rows)*card.TagHeightMM) / 2
	return g
}

func (d *document) tagPages(numbers []int, names map[int]string) {
	w, h := d.paper.WidthMM, d.paper.HeightMM
	if d.small() {
		w, h = h, w
	}
	g := gridFor(w, h)
	perPage := g.columns * g.rows
	pages := (len(numbers) + perPage - 1) / perPage
	for p := 0; p < pages; p++ {
		part := numbers[p*perPage : min((p+1)*perPage, len(numbers))]
		d.tagPage(part, names, g, fmt.Sprintf("page %d of %d", p+1, pages))
	}
}

func (d *document) tagPage(numbers []int, names map[int]string, g tagGrid, pageOf string) {
	title := fmt.Sprintf("Plant tags %d to %d", numbers[0], numbers[len(numbers)-1])
	if len(numbers) == 1 {
		title = fmt.Sprintf("Plant tag %d", numbers[0])
	}
	c, w, _ := d.addPage(d.small(), title)

	sheet := c.at(g.x, g.y)
	c.textColour(ink)
	c.text(bold.at(9), g.x, g.y-6.2, title)
	c.textColour(faint)
	c.textRight(regular.at(7), w-g.x, g.y-6.2, pageOf)
	c.text(regular.at(7), g.x, g.y-2.9, "Print at 100 %, one side only. Each black square is 20.0 mm wide. Cut along the grey lines.")

	sheet.cutGrid(len(numbers), g.columns)
	for i, n := range numbers {
		x, y := float64(i%g.columns)*card.TagWidthMM, float64(i/g.columns)*card.TagHeightMM
		sheet.at(x, y).tag(n, d.coverage.clean(names[n]))
	}
}

// cutGrid draws grey hairlines around n tags laid row by row.
func (c canvas) cutGrid(n, columns int) {
	c.stroke(hairline, 0.1)
	rows := (n + columns - 1) / columns
	for r := 0; r <= rows; r++ {
		// The top line spans the first row; any other line ends with the row above it.
		inRow := min(columns, n-max(r-1, 0)*columns)
		y := float64(r) * card.TagHeightMM
		c.line(0, y, float64(inRow)*card.TagWidthMM, y)
	}
	for k := 0; k <= min(columns, n); k++ {
		full := n / columns
		if last := n % columns; last != 0 && k <= last {
			full++
		}
		x := float64(k) * card.TagWidthMM
		c.line(x, 0, x, float64(full)*card.TagHeightMM)
	}
}
