package plate

import (
	"image"
	"math"
	"sync"

	"phototrack/internal/card"
	"phototrack/internal/colour"
)

// What package pixels does, in plain words of Go.

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

// evenedSlowly returns the picture with its colours evened out (see quiet) and the light's fall-off taken out; k is the
// picture's size over the photo's. Values between two levels are spread over both by an ordered pattern (Bayer 1973), so
// that a flat area keeps its mean.
func evenedSlowly(m *image.NRGBA, toPx [9]float64, k float64, light plane) *image.NRGBA {
	gain := light.slowly(toPx)
	pix := quiet(m, k)
	out := image.NewNRGBA(m.Rect)
	w := m.Rect.Dx()
	for y := range m.Rect.Dy() {
		for x := range w {
			c, g := pix[y*w+x].linear(), gain(x, y)
			to := out.Pix[y*out.Stride+4*x:]
			for ch := range 3 {
				to[ch] = encode8(c[ch]*g, bayer[y%4][x%4])
			}
			to[3] = 255
		}
	}
	return out
}

// bayer are the places of a 4 x 4 square in the order that spreads them best, in sixteenths of a level.
var bayer = [4][4]float32{{0.5, 8.5, 2.5, 10.5}, {12.5, 4.5, 14.5, 6.5}, {3.5, 11.5, 1.5, 9.5}, {15.5, 7.5, 13.5, 5.5}}

// slowly gives what each pixel is to be multiplied with to be in the light of the card's centre.
func (p plane) slowly(toPx [9]float64) func(x, y int) float64 {
	inv, ok := invert(toPx)
	if !ok || p == (plane{}) {
		return func(int, int) float64 { return 1 }
	}
	return func(x, y int) float64 {
		q := apply(inv, Point{float64(x), float64(y)})
		u := (min(max(q.X, 0), card.WidthMM) - card.WidthMM/2) / 100
		v := (min(max(q.Y, 0), card.HeightMM) - card.HeightMM/2) / 100
		// e^-s to third order: s stays within 0.4, where this is good to 0.1 %
		s := p[1]*u + p[2]*v
		return 1 - s*(1-s/2*(1-s/3))
	}
}

// encodeTable holds the sRGB value, 0 to 255, of linear light in steps of 1/4096, and one more.
var encodeTable = sync.OnceValue(func() *[4098]float32 {
	var t [4098]float32
	for i := range t {
		t[i] = float32(255 * colour.Encode(min(float64(i)/4096, 1)))
	}
	return &t
})

// encode8 gives the level of a linear light; up, in sixteenths, decides between two.
func encode8(l float64, up float32) uint8 {
	x := min(max(l, 0), 1) * 4096
	i := int(x)
	t := encodeTable()
	return uint8(t[i] + (t[i+1]-t[i])*float32(x-float64(i)) + min(up/16, 255-t[i]))
}

// rectifySlowly samples the picture on a regular grid of mm, bilinear.
func (src source) rectifySlowly(w, h int, scale float64, mid Point) *image.NRGBA {
	out := image.NewNRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		my := mid.Y + (float64(y)+0.5-float64(h)/2)/scale
		row := out.Pix[y*out.Stride:]
		for x := range w {
			mx := mid.X + (float64(x)+0.5-float64(w)/2)/scale
			p := apply(src.toPx, Point{mx, my})
			sample(src.m, p.X, p.Y, row[4*x:4*x+4])
		}
	}
	return out
}
