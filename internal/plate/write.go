package plate

import (
	"bytes"
	"encoding/binary"
	"hash/crc32"
	"image"
	"io"
	"math"
	"sync"

	"github.com/klauspost/compress/zlib"

	"phototrack/internal/pdfcolour"
	"phototrack/internal/pixels"
	"phototrack/internal/srgb"
)

// Render draws a plate as a picture and says its scale, px per mm of plant.
func Render(s Spec) (m *image.NRGBA, scalePxPerMM float64, err error) {
	l, err := plan(&s)
	if err != nil {
		return nil, 0, err
	}
	r := newRaster(s.Preset.W, s.Preset.H, paperInk)
	compose(&s, l, r)
	return r.m, l.scale, r.err
}

// WritePNG writes a plate as PNG, with the sRGB profile and its size on paper.
func WritePNG(w io.Writer, s Spec) error {
	m, _, err := Render(s)
	if err != nil {
		return err
	}
	defer pixels.Done(m)
	return encodePNG(w, m, s.Preset.DPI)
}

// WritePDF writes a plate as a one-page PDF of the preset's size on paper. Its text is text, its fonts are embedded.
func WritePDF(w io.Writer, s Spec) error {
	l, err := plan(&s)
	if err != nil {
		return err
	}
	mm := 25.4 / s.Preset.DPI
	pdf := newPDF(l.w*mm, l.h*mm, s.filled(l.scaleWords).Title)
	pdf.AddPage()
	p := &page{pdf: pdf, mm: mm}
	compose(&s, l, p)
	if p.err != nil {
		return p.err
	}
	return pdfcolour.Write(w, pdf)
}

// encodePNG writes an opaque picture as PNG: iCCP with the sRGB profile, gAMA and cHRM for readers that know only those, and
// pHYs (pixels per metre). W3C PNG Specification, third edition, 11.3; an sRGB chunk beside a profile is advised against
// there.
func encodePNG(w io.Writer, m *image.NRGBA, dpi float64) error {
	var data bytes.Buffer
	z, err := zlib.NewWriterLevel(&data, zlib.BestSpeed)
	if err != nil {
		return err
	}
	z.Write(pixels.PNGRows(m)) // a buffer takes everything
	if err := z.Close(); err != nil {
		return err
	}
	ppm := uint32(math.Round(dpi / 0.0254))
	const depth, rgb = 8, 2
	for _, part := range [][]byte{
		[]byte("\x89PNG\r\n\x1a\n"),
		chunk("IHDR", append(words32(uint32(m.Rect.Dx()), uint32(m.Rect.Dy())), depth, rgb, 0, 0, 0)),
		chunk("gAMA", words32(45455)),
		chunk("cHRM", words32(31270, 32900, 64000, 33000, 30000, 60000, 15000, 6000)), // white, red, green, blue of IEC 61966-2-1
		chunk("iCCP", profileChunk()),
		chunk("pHYs", append(words32(ppm, ppm), 1)),
		chunk("IDAT", data.Bytes()),
		chunk("IEND", nil),
	} {
		if _, err := w.Write(part); err != nil {
			return err
		}
	}
	return nil
}

// words32 are 32-bit numbers, high byte first.
func words32(v ...uint32) (out []byte) {
	for _, x := range v {
		out = binary.BigEndian.AppendUint32(out, x)
	}
	return out
}

// profileChunk is the sRGB profile as iCCP holds it: a name, the compression method, the deflated profile.
var profileChunk = sync.OnceValue(func() []byte {
	var b bytes.Buffer
	b.WriteString("sRGB\x00\x00")
	z := zlib.NewWriter(&b)
	z.Write(srgb.Profile()) // a buffer takes everything
	z.Close()
	return b.Bytes()
})

// chunk frames a PNG chunk: length, type, data, CRC-32 of type and data.
func chunk(kind string, data []byte) []byte {
	out := binary.BigEndian.AppendUint32(nil, uint32(len(data)))
	out = append(append(out, kind...), data...)
	return binary.BigEndian.AppendUint32(out, crc32.ChecksumIEEE(out[4:]))
}
