package cardpdf

import (
	"bytes"
	"fmt"
	"math"
	"regexp"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/card"
)

func TestWriteErrors(t *testing.T) {
	a4 := Papers()[0]
	cases := []struct {
		name string
		o    Options
		err  string
	}{
		{"nothing", Options{Paper: a4}, "nothing to print"},
		{"plant 0", Options{Paper: a4, Tags: []int{0}}, "no tag for plant 0"},
		{"plant 575", Options{Paper: a4, Tags: []int{1, 575}}, "no tag for plant 575"},
		{"small paper", Options{Paper: Paper{"a7", 74, 105}, Card: true}, "too small"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			var buf bytes.Buffer
			require.ErrorContains(t, Write(&buf, c.o), c.err)
			assert.Zero(t, buf.Len(), "nothing is written on an error")
		})
	}
}

func TestWriteIsDeterministic(t *testing.T) {
	names := map[int]string{1: "Hoya kerrii", 2: "Überwinterer", 30: "Ελιά"}
	o := Options{Paper: Papers()[0], Card: true, HowTo: true, Tags: []int{1, 2, 30}, Names: names, Created: testDate}
	var a, b bytes.Buffer
	require.NoError(t, Write(&a, o))
	require.NoError(t, Write(&b, o))
	assert.True(t, bytes.Equal(a.Bytes(), b.Bytes()))
}

func TestPageSizesAndCounts(t *testing.T) {
	numbers, err := ParseNumbers("1-70")
	require.NoError(t, err)
	cases := []struct {
		paper string
		w, h  float64 // mm of page 1: ISO 216 A4; 8.5 x 11 in and 6 x 4 in at 25.4 mm
		pages int
	}{
		{"a4", 210, 297, 2 + 1 + 2},
		{"letter", 215.9, 279.4, 2 + 1 + 2},
		{"4x6", 152.4, 101.6, 2 + 1 + 1 + 7},
	}
	boxes := regexp.MustCompile(`(?m)^Page +\d+ size: +([\d.]+) x ([\d.]+) pts`)
	for _, c := range cases {
		t.Run(c.paper, func(t *testing.T) {
			p, err := PaperByName(c.paper)
			require.NoError(t, err)
			pdf := writePDF(t, Options{Paper: p, Card: true, HowTo: true, Tags: numbers})
			sizes := boxes.FindAllStringSubmatch(string(run(t, "pdfinfo", "-f", "1", "-l", "99", pdf)), -1)
			require.Len(t, sizes, c.pages)
			for i, s := range sizes {
				w, _ := strconv.ParseFloat(s[1], 64)
				h, _ := strconv.ParseFloat(s[2], 64)
				w, h = w*ptMM, h*ptMM
				if i == 0 {
					assert.InDelta(t, c.w, w, 0.01)
					assert.InDelta(t, c.h, h, 0.01)
				}
				assert.InDelta(t, p.WidthMM, math.Min(w, h), 0.01, "page %d", i+1)
				assert.InDelta(t, p.HeightMM, math.Max(w, h), 0.01, "page %d", i+1)
			}
		})
	}
}

func TestPrintedWords(t *testing.T) {
	pdf := writePDF(t, Options{Paper: Papers()[0], Card: true, HowTo: true, Tags: []int{7}, Names: map[int]string{7: "Φίκος élastica"}})
	text := string(run(t, "pdftotext", "-layout", pdf, "-"))
	for _, want := range []string{"Print at 100 %", "100 mm", "90 mm", RecordCommand, "SIDE L", "SIDE R", "before watering", "no flash", "plain backdrop", "Φίκος élastica"} {
		assert.Contains(t, text, want)
	}
	fonts := string(run(t, "pdffonts", pdf))
	assert.NotRegexp(t, `(?m)\bno +\w+ +\w+ +\d+ +0$`, fonts, "every font is embedded")
	assert.Contains(t, fonts, "utf8sans")
}

func TestDuplexHint(t *testing.T) {
	cases := []struct {
		name string
		o    Options
		want string
	}{
		{"card alone", Options{Card: true}, "/Duplex /DuplexFlipLongEdge"},
		{"tags alone", Options{Tags: []int{1}}, "/Duplex /Simplex"},
		{"mixture", Options{Card: true, Tags: []int{1}}, ""},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			c.o.Paper = Papers()[0]
			var buf bytes.Buffer
			require.NoError(t, Write(&buf, c.o))
			assert.Contains(t, buf.String(), "/PrintScaling /None")
			assert.Equal(t, c.want != "", bytes.Contains(buf.Bytes(), []byte("/Duplex /")))
			assert.Contains(t, buf.String(), c.want)
		})
	}
}

// edge measures where black begins along a line of n pixels, to a fraction of a pixel: the sum of what
// is not black from outside inwards.
func (s scan) edge(x, y, dx, dy float64, n int) float64 {
	lit := 0.0
	for i := 0; i < n; i++ {
		lit += float64(s.at(int(math.Round(x))+i*int(dx), int(math.Round(y))+i*int(dy))[1]) / 255
	}
	return lit
}

// squareMM finds the edges of a black square expected at (x, y) with the given side, all in page mm:
// left, top, right, bottom, each the mean over many scan lines.
func (s scan) squareMM(x, y, side float64) (edges [4]float64) {
	const reach, lines = 40, 50 // px to either side of the edge, about 1.7 mm; scan lines an edge
	for k := 0; k < lines; k++ {
		f := (float64(k) + 0.5) / lines * side
		x0, y0 := s.px(x, y)
		x1, y1 := s.px(x+side, y+side)
		xf, yf := s.px(x+f, y+f)
		round := math.Round
		left := round(x0) - reach - 0.5 + s.edge(round(x0)-reach, yf, 1, 0, 2*reach)
		right := round(x1) + reach + 0.5 - s.edge(round(x1)+reach, yf, -1, 0, 2*reach)
		top := round(y0) - reach - 0.5 + s.edge(xf, round(y0)-reach, 0, 1, 2*reach)
		bottom := round(y1) + reach + 0.5 - s.edge(xf, round(y1)+reach, 0, -1, 2*reach)
		l, tp := s.mm(left, top)
		r, b := s.mm(right, bottom)
		for i, v := range []float64{l, tp, r, b} {
			edges[i] += v / lines
		}
	}
	return edges
}

// The tolerance asked of the print is 0.05 mm; one pixel at 600 dpi is 0.042 mm.
const cornerTolMM = 0.05

// checkMarker compares edges and cells of one marker with what was meant.
func checkMarker(t *testing.T, s scan, id int, x, y, side float64) (worst float64) {
	t.Helper()
	edges := s.squareMM(x, y, side)
	for i, want := range []float64{x, y, x + side, y + side} {
		assert.InDelta(t, want, edges[i], cornerTolMM, "marker %d edge %d", id, i)
		worst = math.Max(worst, math.Abs(want-edges[i]))
	}
	cell := side / card.MarkerCells
	for r := 0; r < card.MarkerCells; r++ {
		for k := 0; k < card.MarkerCells; k++ {
			px, py := s.px(x+(float64(k)+0.5)*cell, y+(float64(r)+0.5)*cell)
			want := uint8(0)
			if card.CellWhite(id, r, k) {
				want = 255
			}
			require.Equal(t, [3]uint8{want, want, want}, s.at(int(px+0.5), int(py+0.5)), "marker %d cell %d,%d", id, r, k)
		}
	}
	return worst
}

// Both sides on each paper, rasterised: every marker's edges and cells, every patch's colour, the ruler's
// ends, all placed from the page's centre, which is what makes the two sides meet back to back.
func TestCardAtExactSize(t *testing.T) {
	for _, p := range Papers() {
		pdf := writePDF(t, Options{Paper: p, Card: true})
		pageW, pageH := p.WidthMM, p.HeightMM
		if p.WidthMM < card.WidthMM {
			pageW, pageH = pageH, pageW
		}
		x0, y0 := (pageW-card.WidthMM)/2, (pageH-card.HeightMM)/2
		for page, side := range card.Sides() {
			t.Run(fmt.Sprintf("%s side %s", p.Name, side), func(t *testing.T) {
				s := scanPage(t, pdf, page+1, x0, y0, card.WidthMM, card.HeightMM)
				worst := 0.0
				for _, id := range card.MarkerIDs(side) {
					c, _, _ := card.MarkerCornersMM(id)
					worst = math.Max(worst, checkMarker(t, s, id, x0+c[0][0], y0+c[0][1], card.MarkerMM))
				}
				t.Logf("worst marker edge: %.4f mm", worst)
				checkPatches(t, s, x0, y0)
				checkRuler(t, s, x0, y0)
				for _, q := range card.WhiteSamplesMM() {
					px, py := s.px(x0+q.X, y0+q.Y)
					require.Equal(t, [3]uint8{255, 255, 255}, s.at(int(px), int(py)), "white at %v", q)
				}
			})
		}
	}
}

func checkPatches(t *testing.T, s scan, x0, y0 float64) {
	t.Helper()
	const insetMM = 0.1 // the outermost pixels are mixed
	for _, p := range card.Patches() {
		q := p.TopLeftMM()
		ax, ay := s.px(x0+q.X+insetMM, y0+q.Y+insetMM)
		bx, by := s.px(x0+q.X+card.PatchSideMM-insetMM, y0+q.Y+card.PatchSideMM-insetMM)
		for y := int(ay) + 1; y < int(by); y += 5 {
			for x := int(ax) + 1; x < int(bx); x += 5 {
				got := s.at(x, y)
				for i := range got {
					require.InDelta(t, p.SRGB[i], got[i], 1, "patch %s channel %d", p.Name, i)
				}
			}
		}
		gx, gy := s.px(x0+q.X+card.PatchSideMM+0.25, y0+q.Y+card.PatchSideMM/2)
		require.Equal(t, [3]uint8{255, 255, 255}, s.at(int(gx+0.5), int(gy+0.5)), "paper right of patch %s", p.Name)
	}
}

// checkRuler finds the middle of each tick on a line 1 mm above the baseline.
func checkRuler(t *testing.T, s scan, x0, y0 float64) {
	t.Helper()
	for i := 0; i <= 100; i++ {
		want := x0 + 24 + float64(i)
		px, py := s.px(want, y0+65)
		sum, moment := 0.0, 0.0
		for x := int(px) - 10; x <= int(px)+11; x++ {
			dark := 1 - float64(s.at(x, int(py))[1])/255
			sum += dark
			moment += dark * float64(x)
		}
		require.Greater(t, sum, 2.0, "tick %d", i)
		got, _ := s.mm(moment/sum, 0)
		require.InDelta(t, want, got, cornerTolMM, "tick %d", i)
	}
}

func TestTagsAtExactSize(t *testing.T) {
	pdf := writePDF(t, Options{Paper: Papers()[0], Tags: []int{1, 574}, Names: map[int]string{574: "A rather long name that takes two lines"}})
	g := gridFor(210, 297)
	s := scanPage(t, pdf, 1, g.x, g.y, 2*card.TagWidthMM, card.TagHeightMM)
	for i, n := range []int{1, 574} {
		x, y := g.x+float64(i)*card.TagWidthMM, g.y
		checkMarker(t, s, n, x+card.TagMarkerXMM, y+card.TagMarkerYMM, card.TagMarkerMM)
		// One cell of white all round: a line of pixels at 2.3 mm from each edge is bare.
		const quietMM = 2.3
		for f := -quietMM; f <= card.TagMarkerMM+quietMM; f += 0.05 {
			far := card.TagMarkerMM + quietMM
			for _, q := range [][2]float64{{f, -quietMM}, {f, far}, {-quietMM, f}, {far, f}} {
				px, py := s.px(x+card.TagMarkerXMM+q[0], y+card.TagMarkerYMM+q[1])
				require.Equal(t, [3]uint8{255, 255, 255}, s.at(int(px+0.5), int(py+0.5)), "tag %d, quiet zone at %v", n, q)
			}
		}
	}
}
