package plate

import (
	"image"
	"math"

	"phototrack/internal/colour"
)

// JPEG stores colour at half the resolution, in blocks of 16 x 16 px of the photo, in steps of about 3/8 of a level for a
// block's mean. On a flat grey that is a cast of up to one level that differs from block to block and from photo to
// photo: drawn patches under perfectly known light, written by libjpeg at quality 90 and read back, differ by more than
// CIEDE2000 2 in 1.2 % of pairs of photos (on greys, where the eye and the formula are most exact). That, and not the colour
// correction, was what set the same patch apart on plates of different lights. So colour, not brightness, is evened out
// over one such block each way, among pixels that differ by no more than that noise: a sigma filter (Lee 1983, Comput.
// Vision Graph. 24:255), along rows and then along columns.
const (
	blockPx    = 16.0 // px of the photo
	alikeLuma  = 8.0  // levels: farther apart is an edge or a drawing, not noise
	alikeColor = 2.5  // levels of Cb and Cr: two steps of an AC term at quality 90
)

// fine is the fixed-point form of one level.
const fine = 64

// ycc is a pixel as JPEG holds it (ITU-T T.871), in 1/fine of a level, Cb and Cr about 0.
type ycc struct{ y, cb, cr int32 }

// quiet gives the picture as brightness and evened colour; k is its size over the photo's.
func quiet(m *image.NRGBA, k float64) []ycc {
	w, h := m.Rect.Dx(), m.Rect.Dy()
	pix := make([]ycc, w*h)
	for i := range pix {
		p := m.Pix[4*i : 4*i+3 : 4*i+3]
		r, g, b := int32(p[0]), int32(p[1]), int32(p[2])
		y := (19595*r + 38470*g + 7471*b) / (65536 / fine) // 0.299, 0.587, 0.114 in 1/65536
		pix[i] = ycc{y, (fine*b - y) * 1000 / 1772, (fine*r - y) * 1000 / 1402}
	}
	steps := min(max(int(math.Round(blockPx*k/stepPx)), 1), blockPx/stepPx)
	n := max(w, h)
	in, out := make([]ycc, n), make([]ycc, n)
	for y := range h {
		row := pix[y*w : (y+1)*w]
		copy(in, row)
		evenLine(in[:w], row, steps)
	}
	for x := range w {
		for y := range h {
			in[y] = pix[y*w+x]
		}
		evenLine(in[:h], out[:h], steps)
		for y := range h {
			pix[y*w+x] = out[y]
		}
	}
	return pix
}

// stepPx is from neighbour to neighbour: JPEG's colour has half the resolution, so that every other pixel tells it all.
const stepPx = 2

// evenLine writes each pixel with the mean colour of those alike, so many steps to each side.
func evenLine(in, out []ycc, steps int) {
	const dy, dc = int32(alikeLuma*fine) + 1, int32(alikeColor*fine) + 1
	for i, p := range in {
		var cb, cr, n int32
		for j := max(i-steps*stepPx, i%stepPx); j < len(in) && j <= i+steps*stepPx; j += stepPx {
			q := in[j]
			b, c := q.cb-p.cb, q.cr-p.cr
			// all ones where all three differences are small: a branch here would be guessed wrong half the time
			alike := ((size(q.y-p.y) - dy) & (size(b) - dc) & (size(c) - dc)) >> 31
			cb, cr, n = cb+b&alike, cr+c&alike, n-alike
		}
		out[i] = ycc{p.y, p.cb + cb/n, p.cr + cr/n}
	}
}

// size is the absolute value, without a branch.
func size(v int32) int32 {
	s := v >> 31
	return (v ^ s) - s
}

// linear is the pixel's light.
func (p ycc) linear() colour.RGB {
	y, cb, cr := float32(p.y), float32(p.cb), float32(p.cr)
	r, b := y+1.402*cr, y+1.772*cb
	g := (y - 0.299*r - 0.114*b) / 0.587
	return colour.RGB{linearOf(r / fine), linearOf(g / fine), linearOf(b / fine)}
}

// linearOf is the light of a value between 0 and 255, straight between whole ones.
func linearOf(v float32) float64 {
	v = min(max(v, 0), 255)
	i := min(int(v), 254)
	f := float64(v) - float64(i)
	return colour.LinearOf8[i]*(1-f) + colour.LinearOf8[i+1]*f
}
