package plate

import (
	"bytes"
	"image"
	"image/png"
	"os/exec"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/caption"
	"phototrack/internal/record"
	"phototrack/internal/reftest"
)

// readPDF gives the words of a written PDF, by poppler.
func readPDF(t testing.TB, data []byte) string {
	t.Helper()
	cmd := exec.Command(reftest.Tool(t, "pdftotext"), "-layout", "-", "-")
	cmd.Stdin = bytes.NewReader(data)
	var faults bytes.Buffer
	cmd.Stderr = &faults
	out, err := cmd.Output()
	require.NoError(t, err)
	assert.Empty(t, faults.String(), "a sound file")
	return strings.Join(strings.Fields(strings.ReplaceAll(string(out), "\u00a0", " ")), " ")
}

func oneFrame(t testing.TB, texts *caption.Texts, w caption.Words) Spec {
	t.Helper()
	preset, _ := PresetNamed("screen")
	f := squareFrame(t, 60, 0, 0, 2)
	f.Values = []string{"leaf area 214 ± 4\u202fcm²"}
	return Spec{Preset: preset, Texts: texts, Words: w, Rows: []Row{{Frames: []Frame{f}}}}
}

// TestForeignWordsOnThePage writes names that mean something to PDF, to templates or to terminals and reads them back as
// they were.
func TestForeignWordsOnThePage(t *testing.T) {
	long := strings.Repeat("Paphiopedilum rothschildianum ", 8)
	for _, c := range []struct{ name, plant, want string }{
		{"marks of PDF", `Fern (\) Tj ET << /JS (x) >>`, `12 Fern (\) Tj ET << /JS (x) >>`},
		{"a bracket left open", `((( \`, `12 ((( \`},
		{"marks of templates", "{{.Plant}} {{end}}", "12 {{.Plant}} {{end}}"},
		{"marks of HTML", `<b onclick="x">&amp;`, `12 <b onclick="x">&amp;`},
		{"controls and turned lines", "Fe\x00rn\x1b[31m \u202e12\u2066", "12 Fern[31m 12"},
		{"letters the faces lack", "蘭 🌿 Fern", "12 □ □ Fern"},
		{"accents of their own", "Ko\u0308niger", "12 Königer"},
		{"too long for the page", long, "Paphiopedilum rothschildianum Paphiopedilum"},
		{"one word too long", strings.Repeat("W", 400), "12 WWWWWW"},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := oneFrame(t, nil, caption.Words{Plant: 12, Name: c.plant, Collection: c.plant})
			var pdf, pic bytes.Buffer
			require.NoError(t, WritePDF(&pdf, s))
			assert.Contains(t, readPDF(t, pdf.Bytes()), c.want)
			require.NoError(t, WritePNG(&pic, s))
			m, err := png.Decode(&pic)
			require.NoError(t, err)
			assert.True(t, blank(m, image.Rect(s.Preset.W-38, 0, s.Preset.W, s.Preset.H)), "nothing runs into the right margin")
		})
	}
}

// blank says that a region shows nothing but paper.
func blank(m image.Image, r image.Rectangle) bool {
	for y := r.Min.Y; y < r.Max.Y; y++ {
		for x := r.Min.X; x < r.Max.X; x++ {
			if v, _, _, _ := m.At(x, y).RGBA(); uint8(v>>8) != paperInk.R {
				return false
			}
		}
	}
	return true
}

func TestGrowersTemplatesOnThePage(t *testing.T) {
	texts := caption.Texts{
		Title:   "No. {{.Plant}}, {{.Name}}",
		Caption: "{{.First}}; group {{.Group}}; {{.Dates}}; " + strings.Repeat("and more words ", 40),
		Foot:    "photo: {{.Collection}}",
	}
	s := oneFrame(t, &texts, caption.Words{Plant: 12, Name: "Clivia A", Group: "clivia", Collection: "north bench"})
	var pdf bytes.Buffer
	require.NoError(t, WritePDF(&pdf, s))
	text := readPDF(t, pdf.Bytes())
	assert.Contains(t, text, "No. 12, Clivia A")
	assert.Contains(t, text, "leaf area 214 ± 4 cm²; group clivia; 7 March 2026; and more words")
	assert.Contains(t, text, "…", "two lines and no more")
	assert.Contains(t, text, "photo: north bench")

	one, err := plan(&s)
	require.NoError(t, err)
	assert.Equal(t, 2, one.captionRows)
	s.Texts = &caption.Texts{Title: "{{.Nonsense}}"} // refused when the settings are read; here the default stands in
	pdf.Reset()
	require.NoError(t, WritePDF(&pdf, s))
	text = readPDF(t, pdf.Bytes())
	assert.Contains(t, text, "12 Clivia A")
	assert.NotContains(t, text, "Same scale", "an empty caption is none")
}

func TestWordsOfAPlate(t *testing.T) {
	a, b := Frame{Date: "2026-03-07", Image: image.NewNRGBA(image.Rect(0, 0, 2, 2)), Values: []string{"early"}}, Frame{Date: "2026-05-09", Image: image.NewNRGBA(image.Rect(0, 0, 2, 2)), Values: []string{"late"}}
	row := Row{Frames: []Frame{a, b}, Events: []record.Event{{Date: "2026-02-01", Kind: "feed"}, {Date: "2026-04-18", Kind: "repot"}, {Date: "2026-05-09", Kind: "move"}}}
	s := Spec{Words: caption.Words{Plant: 12}, Rows: []Row{row}}
	w := s.days()
	assert.Equal(t, caption.List{"7 March 2026", "9 May 2026"}, w.Dates)
	assert.Equal(t, caption.List{"repot, 18 April 2026"}, w.Events, "those between the first and the last day")
	assert.Equal(t, caption.List{"early"}, w.First)
	assert.Equal(t, caption.List{"late"}, w.Latest)
	s.Rows = append(s.Rows, row)
	s.Words.Plant = 0
	assert.Empty(t, s.days().First, "two plants have no one value")
	assert.Len(t, s.days().Dates, 2)
}

func TestLongNotesGoOnInASecondLine(t *testing.T) {
	r := Row{Frames: []Frame{{Date: "2026-03-07"}, {Date: "2026-05-09", Head: "12 Clivia"}}, Events: []record.Event{{Date: "2026-04-18", Kind: "repot", Note: strings.Repeat("fresh mix and one size up ", 9)}}}
	on := newRaster(0, 0, paperInk)
	lines := under(on, &layout{unit: 10, panelW: 300}, r, 1)
	require.Len(t, lines, 5, "head, date, event, and two of the note: %v", lines)
	for _, n := range lines {
		assert.LessOrEqual(t, on.width(n.size, n.face, n.text), 300.0)
	}
	assert.True(t, strings.HasSuffix(lines[4].text, "…"))
}
