package plate

import (
	"bytes"
	"image/png"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/caption"
	"phototrack/internal/reftest"
)

// TestPDFIsAtExactScale draws the written page with poppler, an independent reader, and measures on it: a square of
// 60 mm must be 60 mm over the stated scale on paper, within half a per cent.
func TestPDFIsAtExactScale(t *testing.T) {
	tool := reftest.Tool(t, "pdftoppm")
	const side, dpi = 60.0, 300.0
	preset, _ := PresetNamed("a4")
	s := Spec{Preset: preset, Rows: []Row{{Frames: []Frame{squareFrame(t, side, 8, 5, 3)}}}, Exact: true, Words: caption.Words{Plant: 12, Name: "Fern 🌿 & friends"}}
	var b bytes.Buffer
	require.NoError(t, WritePDF(&b, s))
	dir := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(dir, "p.pdf"), b.Bytes(), 0o644))
	out, err := exec.Command(tool, "-r", "300", "-png", filepath.Join(dir, "p.pdf"), filepath.Join(dir, "p")).CombinedOutput()
	require.NoError(t, err, string(out))
	f, err := os.Open(filepath.Join(dir, "p-1.png"))
	require.NoError(t, err)
	defer f.Close()
	m, err := png.Decode(f)
	require.NoError(t, err)
	assert.InDelta(t, 3508, m.Bounds().Dx(), 2, "A4 across")
	assert.InDelta(t, 2480, m.Bounds().Dy(), 2, "A4 down")
	l, err := plan(&s)
	require.NoError(t, err)
	paperMM := math.Sqrt(darkness(m, middle(l))) / dpi * 25.4
	ratio := preset.DPI / 25.4 / l.scale
	assert.InDelta(t, side/ratio, paperMM, side/ratio*0.005, "at 1 : %g", ratio)
}

// TestPDFTextIsText reads the words back.
func TestPDFTextIsText(t *testing.T) {
	tool := reftest.Tool(t, "pdftotext")
	preset, _ := PresetNamed("a4")
	f := squareFrame(t, 60, 0, 0, 2)
	f.Values = []string{"leaf area 214 ± 4\u202fcm²"}
	var b bytes.Buffer
	require.NoError(t, WritePDF(&b, Spec{Preset: preset, Rows: []Row{{Frames: []Frame{f}}}, Words: caption.Words{Plant: 12, Name: "Clivia Ä"}}))
	cmd := exec.Command(tool, "-", "-")
	cmd.Stdin = &b
	out, err := cmd.Output()
	require.NoError(t, err)
	text := strings.ReplaceAll(string(out), "\u00a0", " ")
	assert.Contains(t, text, "12 Clivia Ä")
	assert.Contains(t, text, "leaf area 214 ± 4 cm²")
	assert.Contains(t, text, "7 March 2026")
}
