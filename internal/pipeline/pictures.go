package pipeline

import (
	"bytes"

	"phototrack/internal/codec"
	"phototrack/internal/measure/leaf"
	"phototrack/internal/raster"
	"phototrack/internal/shrink"
)

// Kinds of working pictures that are stored with a photo.
const (
	PicturePlain       = "plain"        // the photo with corrected colours, reduced
	PictureOverlay     = "overlay"      // the same with what was measured drawn on it
	PictureWall        = "wall"         // the unrolled wall of a clear pot
	PictureWallOverlay = "wall_overlay" // the same with the roots drawn on it
)

// pictures stores the working pictures: a report and its plates then never decode an original again.
func (m *measuring) pictures(in *leaf.Input) {
	if !m.job.Pictures {
		return
	}
	small := shrink.To(m.frame.Img, m.settings.Report.PicturePx)
	if m.cal.Colour.Used > 0 {
		m.corrected(small)
	}
	m.store(PicturePlain, small)
	over := raster.BGR{W: small.W, H: small.H, Pix: bytes.Clone(small.Pix)}
	m.drawSeen(over)
	data, err := codec.WriteJPEGOf(m.annotate(over), m.settings.Report.Quality)
	m.keep(PictureOverlay, data, err)
}

// corrected gives a picture of the photo the colours that the card says.
func (m *measuring) corrected(img raster.BGR) {
	if m.colours == nil {
		m.colours = correctionTable(&m.cal.Colour)
	}
	m.colours.correct(img)
}

// plateQuality is the least JPEG quality of the pictures that plates are made from. On plates of the rendered series, 1440
// pairs of a patch in two lights, 14 differ by more than CIEDE2000 2 at quality 82 (worst 2.9) and 2 at 92, 95 and 98
// (worst 2.1 to 2.7).
const plateQuality = 92

func (m *measuring) store(kind string, img raster.BGR) {
	quality := m.settings.Report.Quality
	if kind == PicturePlain {
		quality = max(quality, plateQuality)
	}
	data, err := codec.WriteJPEG(img, quality)
	m.keep(kind, data, err)
}

func (m *measuring) keep(kind string, data []byte, err error) {
	if err != nil {
		return // a picture in memory of a sane size encodes; without it a report only lacks the picture
	}
	if m.p.Pictures == nil {
		m.p.Pictures = map[string][]byte{}
	}
	m.p.Pictures[kind] = data
}
