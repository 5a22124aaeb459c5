package plate

import (
	"bytes"
	"encoding/binary"
	"hash/crc32"
	"image"
	"image/png"
	"io"
	"math"
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

// WritePNG writes a plate as PNG, marked as sRGB and with its size on paper.
func WritePNG(w io.Writer, s Spec) error {
	m, _, err := Render(s)
	if err != nil {
		return err
	}
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
	return pdf.Output(w)
}

// pngHead is the length of the PNG signature and its IHDR chunk: what follows must come before the picture's data.
const pngHead = 8 + 4 + 4 + 13 + 4

// encodePNG writes a PNG with the chunks that Go's encoder does not know: sRGB (the colour space, perceptual intent),
// gAMA for readers that know only that, and pHYs (pixels per metre). W3C PNG Specification, third edition, 11.3.
func encodePNG(w io.Writer, m image.Image, dpi float64) error {
	var b bytes.Buffer
	if err := (&png.Encoder{CompressionLevel: png.DefaultCompression}).Encode(&b, m); err != nil {
		return err
	}
	all := b.Bytes()
	if _, err := w.Write(all[:pngHead]); err != nil {
		return err
	}
	ppm := uint32(math.Round(dpi / 0.0254))
	phys := binary.BigEndian.AppendUint32(binary.BigEndian.AppendUint32(nil, ppm), ppm)
	for _, c := range [][]byte{chunk("sRGB", []byte{0}), chunk("gAMA", binary.BigEndian.AppendUint32(nil, 45455)), chunk("pHYs", append(phys, 1))} {
		if _, err := w.Write(c); err != nil {
			return err
		}
	}
	_, err := w.Write(all[pngHead:])
	return err
}

// chunk frames a PNG chunk: length, type, data, CRC-32 of type and data.
func chunk(kind string, data []byte) []byte {
	out := binary.BigEndian.AppendUint32(nil, uint32(len(data)))
	out = append(append(out, kind...), data...)
	return binary.BigEndian.AppendUint32(out, crc32.ChecksumIEEE(out[4:]))
}
