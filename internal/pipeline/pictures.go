package pipeline

import (
	"bytes"
	"image"
	"image/jpeg"

	"phototrack/internal/calib"
	"phototrack/internal/colour"
	"phototrack/internal/measure/leaf"
	"phototrack/internal/raster"
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
	small := Reduce(m.frame.Img, m.settings.Report.PicturePx)
	if m.cal.Colour.Used > 0 {
		CorrectColours(small, &m.cal.Colour)
	}
	m.store(PicturePlain, small)
	over := raster.BGR{W: small.W, H: small.H, Pix: bytes.Clone(small.Pix)}
	m.drawSeen(over)
	m.keep(PictureOverlay, m.annotate(ToImage(over)))
}

// plateQuality is the least JPEG quality of the pictures that plates are made from: below it dark greys of the card
// differ by up to 3.5 CIEDE2000 between lights, at it by up to 2.5.
const plateQuality = 92

func (m *measuring) store(kind string, img raster.BGR) { m.keep(kind, ToImage(img)) }

func (m *measuring) keep(kind string, img image.Image) {
	quality := m.settings.Report.Quality
	if kind == PicturePlain {
		quality = max(quality, plateQuality)
	}
	var buf bytes.Buffer
	if err := jpeg.Encode(&buf, img, &jpeg.Options{Quality: quality}); err != nil {
		return // an image in memory of a sane size encodes; without it a report only lacks the picture
	}
	if m.p.Pictures == nil {
		m.p.Pictures = map[string][]byte{}
	}
	m.p.Pictures[kind] = buf.Bytes()
}

// ToImage copies a picture into Go's own form.
func ToImage(b raster.BGR) *image.NRGBA {
	out := image.NewNRGBA(image.Rect(0, 0, b.W, b.H))
	for i, n := 0, b.W*b.H; i < n; i++ {
		p := b.Pix[3*i : 3*i+3 : 3*i+3]
		q := out.Pix[4*i : 4*i+4 : 4*i+4]
		q[0], q[1], q[2], q[3] = p[2], p[1], p[0], 255
	}
	return out
}

// Reduce makes a copy whose longer side is at most longPx, each pixel the mean of the area it stands for, in the
// encoded values (the eye's scale).
func Reduce(img raster.BGR, longPx int) raster.BGR {
	long := max(img.W, img.H)
	if long <= longPx {
		out := raster.NewBGR(img.W, img.H)
		copy(out.Pix, img.Pix)
		return out
	}
	w, h := max(1, img.W*longPx/long), max(1, img.H*longPx/long)
	out := raster.NewBGR(w, h)
	xs := spans(img.W, w)
	ys := spans(img.H, h)
	acc := make([]uint32, 3*w)
	for y := range h {
		clear(acc)
		n := uint32(0)
		for sy := ys[y]; sy < ys[y+1]; sy++ {
			row := img.Pix[3*sy*img.W : 3*(sy+1)*img.W]
			for x := range w {
				var b, g, r uint32
				for sx := xs[x]; sx < xs[x+1]; sx++ {
					p := row[3*sx : 3*sx+3 : 3*sx+3]
					b, g, r = b+uint32(p[0]), g+uint32(p[1]), r+uint32(p[2])
				}
				acc[3*x], acc[3*x+1], acc[3*x+2] = acc[3*x]+b, acc[3*x+1]+g, acc[3*x+2]+r
			}
			n++
		}
		for x := range w {
			k := n * uint32(xs[x+1]-xs[x])
			for c := range 3 {
				out.Pix[3*(y*w+x)+c] = uint8((acc[3*x+c] + k/2) / k)
			}
		}
	}
	return out
}

// spans divides n source pixels into m runs of nearly equal length.
func spans(n, m int) []int {
	out := make([]int, m+1)
	for i := range out {
		out[i] = i * n / m
	}
	return out
}

const lutSide = 33

// CorrectColours applies a fitted colour correction to a picture in place, by a table of 33 x 33 x 33 colours and
// interpolation between its eight neighbours.
func CorrectColours(img raster.BGR, f *calib.ColourFit) {
	var lut [lutSide * lutSide * lutSide][3]float32
	at := func(i int) uint8 { return uint8(min(255, i*8)) }
	for b := range lutSide {
		for g := range lutSide {
			for r := range lutSide {
				c := f.Linear(at(b), at(g), at(r))
				for k := range 3 {
					lut[(b*lutSide+g)*lutSide+r][k] = float32(255 * colour.Encode(c[k]))
				}
			}
		}
	}
	for i := 0; i+2 < len(img.Pix); i += 3 {
		p := img.Pix[i : i+3 : i+3]
		b, g, r := int(p[0])>>3, int(p[1])>>3, int(p[2])>>3
		fb, fg, fr := float32(p[0]&7)/8, float32(p[1]&7)/8, float32(p[2]&7)/8
		base := (b*lutSide+g)*lutSide + r
		for k := range 3 {
			c00 := lut[base][k]*(1-fr) + lut[base+1][k]*fr
			c01 := lut[base+lutSide][k]*(1-fr) + lut[base+lutSide+1][k]*fr
			c10 := lut[base+lutSide*lutSide][k]*(1-fr) + lut[base+lutSide*lutSide+1][k]*fr
			c11 := lut[base+lutSide*lutSide+lutSide][k]*(1-fr) + lut[base+lutSide*lutSide+lutSide+1][k]*fr
			v := (c00*(1-fg)+c01*fg)*(1-fb) + (c10*(1-fg)+c11*fg)*fb
			p[2-k] = uint8(v + 0.5)
		}
	}
}
