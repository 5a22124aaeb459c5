package pdfcolour

import (
	"bytes"
	"image"
	"image/jpeg"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"codeberg.org/go-pdf/fpdf"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/reftest"
)

func written(t testing.TB) []byte {
	t.Helper()
	pdf := fpdf.New("P", "mm", "A4", "")
	pdf.SetFont("Helvetica", "", 12)
	pdf.AddPage()
	pdf.Text(20, 20, "a picture")
	var b, out bytes.Buffer
	require.NoError(t, jpeg.Encode(&b, image.NewNRGBA(image.Rect(0, 0, 8, 8)), nil))
	pdf.RegisterImageOptionsReader("p", fpdf.ImageOptions{ImageType: "JPEG"}, &b)
	pdf.ImageOptions("p", 20, 30, 40, 40, false, fpdf.ImageOptions{ImageType: "JPEG"}, 0, "")
	require.NoError(t, pdf.Output(&out))
	return out.Bytes()
}

// poppler runs one of poppler's tools on a file: what it prints, and nothing to complain of.
func poppler(t testing.TB, tool string, data []byte, args ...string) string {
	t.Helper()
	path := reftest.Tool(t, tool)
	file := filepath.Join(t.TempDir(), "x.pdf")
	require.NoError(t, os.WriteFile(file, data, 0o644))
	var faults bytes.Buffer
	cmd := exec.Command(path, append(args, file)...)
	if tool == "pdftotext" {
		cmd.Args = append(cmd.Args, "-")
	}
	cmd.Stderr = &faults
	out, err := cmd.Output()
	require.NoError(t, err)
	assert.Empty(t, faults.String())
	return string(out)
}

func TestPicturesAreInTheProfilesColours(t *testing.T) {
	pdf := written(t)
	kind := func(data []byte) string {
		lines := strings.Split(strings.TrimSpace(poppler(t, "pdfimages", data, "-list")), "\n")
		return strings.Fields(lines[len(lines)-1])[5] // the column "color"
	}
	assert.Equal(t, "rgb", kind(pdf), "fpdf says nothing")
	for _, c := range []struct {
		name string
		b    Binding
		want string
	}{{"printer", Printer, "rgb"}, {"viewer", Viewer, "icc"}} {
		t.Run(c.name, func(t *testing.T) {
			out, err := MarkSRGB(pdf, "/PageMode /UseNone ", c.b)
			require.NoError(t, err)
			assert.True(t, bytes.HasPrefix(out, pdf), "what was there stays byte for byte")
			assert.Equal(t, c.want, kind(out))
			assert.Contains(t, poppler(t, "pdftotext", out), "a picture")
			assert.Contains(t, string(out[len(pdf):]), "/OutputIntents")
		})
	}
}

func TestOnlyWhatFpdfWrites(t *testing.T) {
	pdf := written(t)
	for name, data := range map[string][]byte{
		"nothing": nil, "no PDF": []byte("words"), "cut off": pdf[:len(pdf)-8], "no catalog": bytes.ReplaceAll(pdf, []byte("<<\n/Type /Catalog"), []byte("[<\n/Type /Catalog")),
	} {
		_, err := MarkSRGB(data, "", Viewer)
		assert.Error(t, err, name)
	}
}
