package plate

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"image"
	"image/png"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/caption"
	"phototrack/internal/icc"
	"phototrack/internal/reftest"
)

// chunksOf lists a PNG's chunks in their order.
func chunksOf(t testing.TB, data []byte) (names []string, body map[string][]byte) {
	t.Helper()
	body = map[string][]byte{}
	for at := 8; at < len(data); {
		n := int(binary.BigEndian.Uint32(data[at:]))
		kind := string(data[at+4 : at+8])
		names = append(names, kind)
		body[kind] = data[at+8 : at+8+n]
		at += 12 + n
	}
	return names, body
}

// TestPNGHoldsTheProfile reads the written file back and hands its profile to Little CMS.
func TestPNGHoldsTheProfile(t *testing.T) {
	var b bytes.Buffer
	preset, _ := PresetNamed("a4")
	require.NoError(t, encodePNG(&b, image.NewNRGBA(image.Rect(0, 0, 4, 4)), preset.DPI))
	_, err := png.Decode(bytes.NewReader(b.Bytes()))
	require.NoError(t, err, "the file is still a sound PNG, chunk sums and all")
	names, body := chunksOf(t, b.Bytes())
	assert.Equal(t, []string{"IHDR", "gAMA", "cHRM", "iCCP", "pHYs", "IDAT", "IEND"}, names, "all before the picture, and no sRGB chunk beside a profile")
	// 300 dpi is 11811 pixels a metre
	assert.Equal(t, []byte{0, 0, 0x2e, 0x23, 0, 0, 0x2e, 0x23, 1}, body["pHYs"])
	require.True(t, bytes.HasPrefix(body["iCCP"], []byte("sRGB\x00\x00")))
	z, err := zlib.NewReader(bytes.NewReader(body["iCCP"][6:]))
	require.NoError(t, err)
	data, err := io.ReadAll(z)
	require.NoError(t, err)
	p, err := icc.Open(data)
	require.NoError(t, err)
	defer p.Close()
	assert.Contains(t, p.Name(), "sRGB")
	r, err := p.ToSRGB(nil)
	require.NoError(t, err)
	assert.True(t, r.Untouched, "to Little CMS it is sRGB")
}

// TestToolsSeeTheProfile asks programs of others.
func TestToolsSeeTheProfile(t *testing.T) {
	s := oneFrame(t, nil, caption.Words{Plant: 12, Name: "Clivia A"})
	dir := t.TempDir()
	var pic, pdf bytes.Buffer
	require.NoError(t, WritePNG(&pic, s))
	require.NoError(t, WritePDF(&pdf, s))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "p.png"), pic.Bytes(), 0o644))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "p.pdf"), pdf.Bytes(), 0o644))
	for _, c := range []struct {
		name, file string
		command    []string
		want       string
	}{
		{"poppler on the PDF", "p.pdf", []string{"pdfimages", "-list"}, " icc "},
		{"exiftool on the PNG", "p.png", []string{"exiftool", "-ProfileDescription", "-s3"}, "sRGB IEC61966-2.1"},
		{"pngcheck on the PNG", "p.png", []string{"pngcheck"}, "OK: "},
		{"qpdf on the PDF", "p.pdf", []string{"qpdf", "--check"}, "No syntax or stream encoding errors found"},
	} {
		t.Run(c.name, func(t *testing.T) {
			out, err := exec.Command(reftest.Tool(t, c.command[0]), append(c.command[1:], filepath.Join(dir, c.file))...).CombinedOutput()
			require.NoError(t, err, string(out))
			assert.Contains(t, string(out), c.want)
			assert.NotContains(t, strings.ToLower(string(out)), "warning")
		})
	}
}
