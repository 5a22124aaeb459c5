package pipeline

import (
	"bytes"
	"image"
	"image/png"

	"phototrack/internal/measure/leaf"
	"phototrack/internal/raster"
	"phototrack/internal/record"
)

// PictureRegions is the picture of classes, a PNG file of the photo's size with one byte a pixel: class codes of package
// regions, 255 in doubt. It is made only for who asks (Job.Regions) and not stored.
const PictureRegions = "regions"

// KindUnsure is the outline of a place of which the program is not sure whether it is leaf.
const KindUnsure = "unsure"

// KindUnsureHole is the outline of a hole in the place that was given before it: what lies in it is sure.
const KindUnsureHole = "unsure_hole"

// keepRegions keeps the classes of a photo that was measured.
func (m *measuring) keepRegions(r raster.Mask) {
	if !m.job.Regions || r.W == 0 {
		return
	}
	var buf bytes.Buffer
	err := png.Encode(&buf, &image.Gray{Pix: r.Pix, Stride: r.W, Rect: image.Rect(0, 0, r.W, r.H)})
	m.keep(PictureRegions, buf.Bytes(), err)
}

// regionsAlone says what is where in a photo that could not be measured: in the camera's colours where there is no card, and
// then of all leaves.
func (m *measuring) regionsAlone() {
	if !m.job.Regions || m.frame == nil || m.p.Pictures[PictureRegions] != nil || m.p.View == record.Root {
		return
	}
	if tooSmall(m.frame) {
		return
	}
	in := leaf.Input{Img: m.frame.Img, Colour: leaf.SRGB(), Net: m.net}
	if m.cal != nil && m.cal.ScalePxPerMM > 0 && m.cal.Colour.Used > 0 {
		in = m.leafInput()
	}
	r, err := leaf.Regions(in, leaf.DefaultSettings())
	if err == nil {
		m.keepRegions(r)
	}
}
