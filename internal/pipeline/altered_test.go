package pipeline

import (
	"bytes"
	"encoding/binary"
	"hash/crc32"
	"image"
	"image/color"
	"image/draw"
	"math"
	"slices"

	"github.com/disintegration/imaging"
)

// shade maps every channel of a copy.
func shade(img image.Image, f func(v float64) float64) *image.NRGBA {
	return imaging.AdjustFunc(img, func(c color.NRGBA) color.NRGBA {
		g := func(v uint8) uint8 { return uint8(math.Round(math.Min(255, math.Max(0, f(float64(v)))))) }
		return color.NRGBA{g(c.R), g(c.G), g(c.B), c.A}
	})
}

// The card of the sample photo 012_2026-03_L, in px: its left upper corner, and the px of a millimetre. It stands nearly square to
// the camera.
const cardLeftPx, cardTopPx, cardPxPerMM = 975, 447, 2.81

// painted lays a colour over a part of a copy.
func painted(img image.Image, part image.Rectangle, c color.NRGBA) *image.NRGBA {
	out := imaging.Clone(img)
	draw.Draw(out, part, image.NewUniform(c), image.Point{}, draw.Over)
	return out
}

// onCard lays something leaf green over a part of the card, in millimetres.
func onCard(img image.Image, x0, y0, x1, y1 float64) *image.NRGBA {
	at := func(x, y float64) image.Point {
		return image.Pt(cardLeftPx+int(cardPxPerMM*x), cardTopPx+int(cardPxPerMM*y))
	}
	return painted(img, image.Rectangle{Min: at(x0, y0), Max: at(x1, y1)}, color.NRGBA{43, 95, 50, 255})
}

// lit is a copy in a light that changes along the card: gain of linear red, green and blue by millimetres from its left side.
func lit(img *image.NRGBA, gain func(mm float64) [3]float64) *image.NRGBA {
	out := imaging.Clone(img)
	for x := range out.Rect.Dx() {
		g := gain((float64(x) - cardLeftPx) / cardPxPerMM)
		for y := range out.Rect.Dy() {
			px := out.Pix[y*out.Stride+4*x:]
			for c := range 3 {
				px[c] = uint8(math.Min(255, float64(px[c])*math.Pow(g[c], 1/2.2)+0.5))
			}
		}
	}
	return out
}

// moved is a copy in which each px comes from where from says it lay.
func moved(img *image.NRGBA, from func(x, y float64) (float64, float64)) *image.NRGBA {
	out := imaging.New(img.Rect.Dx(), img.Rect.Dy(), color.NRGBA{120, 120, 120, 255})
	for y := range img.Rect.Dy() {
		for x := range img.Rect.Dx() {
			u, v := from(float64(x), float64(y))
			if !(u >= 0 && v >= 0 && u < float64(img.Rect.Dx()-1) && v < float64(img.Rect.Dy()-1)) {
				continue
			}
			i, j := int(u), int(v)
			u, v = u-float64(i), v-float64(j)
			a, b := img.Pix[j*img.Stride+4*i:], img.Pix[(j+1)*img.Stride+4*i:]
			for c := range 3 {
				out.Pix[y*out.Stride+4*x+c] = uint8((1-v)*((1-u)*float64(a[c])+u*float64(a[4+c])) + v*((1-u)*float64(b[c])+u*float64(b[4+c])) + 0.5)
			}
		}
	}
	return out
}

// phoneFocalPx is about that of a phone's main camera for pictures 1600 px wide.
const phoneFocalPx = 1200

// tilted shows the photo as a flat picture that is turned by so many degrees about an upright axis through the card.
func tilted(img *image.NRGBA, deg float64) *image.NRGBA {
	sin, cos := math.Sincos(deg * math.Pi / 180)
	cx, cy := cardLeftPx+74*cardPxPerMM, cardTopPx+50*cardPxPerMM
	w, h := float64(img.Rect.Dx()), float64(img.Rect.Dy())
	return moved(img, func(x, y float64) (float64, float64) { // the card in the middle of the new picture
		x, y = x-w/2, y-h/2
		u := x * phoneFocalPx / (phoneFocalPx*cos - x*sin)
		return cx + u, cy + y*(phoneFocalPx+u*sin)/phoneFocalPx
	})
}

// withPNGSize is a PNG that claims another size.
func withPNGSize(data []byte, w, h uint32) []byte {
	out := bytes.Clone(data)
	binary.BigEndian.PutUint32(out[16:], w)
	binary.BigEndian.PutUint32(out[20:], h)
	binary.BigEndian.PutUint32(out[29:], crc32.ChecksumIEEE(out[12:29]))
	return out
}

// bent shows the sample's card bent about its upright middle line by so many mm over its width, and the rest of the photo with it: what
// comes forward looks larger about the photo's middle.
func bent(img *image.NRGBA, mm float64) *image.NRGBA {
	const focalPx = 44 * 1600 / 36.0 // the sample's focal length in Exif, for its width
	const distanceMM = focalPx / cardPxPerMM
	cx, cy := float64(img.Rect.Dx())/2, float64(img.Rect.Dy())/2
	return moved(img, func(x, y float64) (float64, float64) {
		u := math.Max(-1.2, math.Min(1.2, ((x-cardLeftPx)/cardPxPerMM-74)/74))
		k := 1 + mm*(u*u-0.5)/distanceMM
		return cx + (x-cx)*k, cy + (y-cy)*k
	})
}

// flattened shows the sample's pot with rims and foot that come forward by a share only of what a round one's do.
func flattened(img *image.NRGBA, share float64) *image.NRGBA {
	const leftPx, rightPx, rimPx, footPx = 360, 710, 455, 805 // about where it stands
	const rimSagPx, footSagPx = 12, 24                        // of the front under the sides, by eye
	return moved(img, func(x, y float64) (float64, float64) {
		u := (x - (leftPx+rightPx)/2) / ((rightPx - leftPx) / 2)
		if math.Abs(u) >= 1 {
			return x, y
		}
		down := math.Max(0, math.Min(1, (y-rimPx)/(footPx-rimPx)))
		return x, y + (1-share)*(rimSagPx+down*(footSagPx-rimSagPx))*math.Sqrt(1-u*u)
	})
}

// withExif is a JPEG with the Exif segment of another.
func withExif(data, other []byte) []byte {
	const app1 = "\xff\xe1"
	at := bytes.Index(other, []byte(app1))
	length := 2 + int(binary.BigEndian.Uint16(other[at+2:]))
	return slices.Concat(data[:2], other[at:at+length], data[2:])
}
