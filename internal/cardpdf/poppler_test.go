package cardpdf

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"phototrack/internal/reftest"
)

// The tests look at the PDF as a printer would, through Poppler's tools, which share no code with us.

var testDate = time.Date(2026, 3, 1, 12, 0, 0, 0, time.UTC)

func writePDF(t *testing.T, o Options) string {
	t.Helper()
	o.Created = testDate
	var buf bytes.Buffer
	require.NoError(t, Write(&buf, o))
	path := filepath.Join(t.TempDir(), "card.pdf")
	require.NoError(t, os.WriteFile(path, buf.Bytes(), 0o644))
	return path
}

func run(t *testing.T, tool string, args ...string) []byte {
	t.Helper()
	var stderr bytes.Buffer
	cmd := exec.Command(reftest.Tool(t, tool), args...)
	cmd.Stderr = &stderr
	out, err := cmd.Output()
	require.NoError(t, err, stderr.String())
	require.Empty(t, stderr.String(), "the tool complained about the file")
	return out
}

const dpi = 600

// scan is a part of a page at 600 dpi. Its pixels' centres lie at whole numbers.
type scan struct {
	pix  []byte // RGB
	w, h int
	x, y float64 // mm of the first pixel's outer corner on the page
}

// scanPage rasterises a w x h mm part of a page whose top-left corner is at (x, y) mm.
func scanPage(t *testing.T, pdf string, page int, x, y, w, h float64) scan {
	t.Helper()
	px := func(mm float64) int { return int(mm / inchMM * dpi) }
	s := scan{x: float64(px(x)) / dpi * inchMM, y: float64(px(y)) / dpi * inchMM}
	n := strconv.Itoa(page)
	raw := run(t, "pdftoppm", "-r", strconv.Itoa(dpi), "-f", n, "-l", n, "-x", strconv.Itoa(px(x)), "-y", strconv.Itoa(px(y)),
		"-W", strconv.Itoa(px(w)), "-H", strconv.Itoa(px(h)), pdf)
	var top int
	_, err := fmt.Sscanf(string(raw[:20]), "P6\n%d %d\n%d", &s.w, &s.h, &top)
	require.NoError(t, err)
	require.Equal(t, 255, top)
	s.pix = raw[len(raw)-3*s.w*s.h:]
	return s
}

// px turns mm on the page into pixels of the scan.
func (s scan) px(xMM, yMM float64) (float64, float64) {
	return (xMM-s.x)/inchMM*dpi - 0.5, (yMM-s.y)/inchMM*dpi - 0.5
}

func (s scan) mm(x, y float64) (float64, float64) {
	return (x+0.5)/dpi*inchMM + s.x, (y+0.5)/dpi*inchMM + s.y
}

func (s scan) at(x, y int) [3]uint8 {
	i := 3 * (y*s.w + x)
	return [3]uint8{s.pix[i], s.pix[i+1], s.pix[i+2]}
}

func (s scan) gray() []byte {
	out := make([]byte, s.w*s.h)
	for i := range out {
		out[i] = s.pix[3*i+1]
	}
	return out
}
