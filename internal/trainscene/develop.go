package trainscene

import (
	"bytes"
	"image"
	"image/draw"
	"image/jpeg"
	"math"

	"phototrack/internal/colour"
	"phototrack/internal/raster"
)

// sensor is the camera behind the lens.
type sensor struct {
	psf      float32 // standard deviation, px
	exposure rgb     // what the camera makes of white paper: exposure and colour cast
	noise    float32
	smear    bool // noise taken out again, with it fine texture
	sharpen  float32
	quality  int
	vignette float32
}

func (d dice) sensor() sensor {
	s := sensor{psf: d.in(0.45, 1.1), noise: d.log(0.001, 0.02), smear: d.chance(0.4), quality: d.count(60, 96), vignette: d.in(0, 0.25)}
	if d.chance(0.4) {
		s.sharpen = d.in(0.1, 0.9)
	}
	if d.chance(0.12) {
		s.psf = d.in(1.1, 2.2)
	}
	e := d.in(0.5, 1.02)
	cast := d.near(0, 0.08)
	s.exposure = rgb{e * (1 + cast), e, e * (1 - cast)}
	return s
}

const steps = 4096

// develop makes the photo in the camera's own colours, as a JPEG file gives them back.
func (s *sensor) develop(cv *canvas, d dice) raster.BGR {
	img := s.expose(cv, d)
	var buf bytes.Buffer
	if jpeg.Encode(&buf, img, &jpeg.Options{Quality: s.quality}) == nil {
		if back, err := jpeg.Decode(&buf); err == nil {
			draw.Draw(img, img.Bounds(), back, image.Point{}, draw.Src)
		}
	}
	return bgr(img)
}

// expose makes the photo in the camera's own colours.
func (s *sensor) expose(cv *canvas, d dice) *image.RGBA {
	w, h := cv.w, cv.h
	gauss(cv.c, w, h, s.psf)
	var table [steps + 1]uint8
	for i := range table {
		table[i] = uint8(255*colour.Encode(float64(i)/steps) + 0.5)
	}
	img := image.NewRGBA(image.Rect(0, 0, w, h))
	cx, cy := float32(w)/2, float32(h)/2
	shot := s.noise
	if s.smear {
		shot *= 0.4
	}
	seed := d.Uint32()
	for y := range h {
		for x := range w {
			i := y*w + x
			r2 := ((float32(x)-cx)*(float32(x)-cx) + (float32(y)-cy)*(float32(y)-cy)) / (cx*cx + cy*cy)
			fall := 1 - s.vignette*r2
			for k := range 3 {
				v := cv.c[i][k] * s.exposure[k] * fall
				seed = seed*1664525 + 1013904223
				a := float32(seed>>8)/(1<<24) - 0.5
				seed = seed*1664525 + 1013904223
				a += float32(seed>>8)/(1<<24) - 0.5
				v += a * 2.4 * shot * sqrt(max(v, 0)+0.01)
				img.Pix[4*i+k] = table[min(steps, max(0, int(v*steps)))]
			}
			img.Pix[4*i+3] = 255
		}
	}
	if s.sharpen > 0 {
		sharpen(img, s.sharpen)
	}
	return img
}

func bgr(img *image.RGBA) raster.BGR {
	out := raster.NewBGR(img.Rect.Dx(), img.Rect.Dy())
	for i := range out.W * out.H {
		out.Pix[3*i], out.Pix[3*i+1], out.Pix[3*i+2] = img.Pix[4*i+2], img.Pix[4*i+1], img.Pix[4*i]
	}
	return out
}

// sharpen adds what differs from the four neighbours, in luminance.
func sharpen(img *image.RGBA, amount float32) {
	w, h := img.Rect.Dx(), img.Rect.Dy()
	lum := make([]int32, w*h)
	for i := range lum {
		lum[i] = (2*int32(img.Pix[4*i]) + 5*int32(img.Pix[4*i+1]) + int32(img.Pix[4*i+2])) / 8
	}
	for y := 1; y < h-1; y++ {
		for x := 1; x < w-1; x++ {
			i := y*w + x
			e := int32(amount * float32(4*lum[i]-lum[i-1]-lum[i+1]-lum[i-w]-lum[i+w]) / 4)
			for k := range 3 {
				img.Pix[4*i+k] = uint8(min(255, max(0, int32(img.Pix[4*i+k])+e)))
			}
		}
	}
}

func gauss(c []rgb, w, h int, sigma float32) {
	r := int(math.Ceil(float64(2.6 * sigma)))
	k := make([]float32, r+1)
	sum := float32(0)
	for i := range k {
		k[i] = exp(-float32(i*i) / (2 * sigma * sigma))
		sum += k[i]
		if i > 0 {
			sum += k[i]
		}
	}
	for i := range k {
		k[i] /= sum
	}
	line := make([]rgb, max(w, h))
	pass := func(v []rgb, step, n int) {
		for i := range n {
			line[i] = v[i*step]
		}
		for i := range n {
			o := line[i].mul(k[0])
			for j := 1; j <= r; j++ {
				a, b := line[max(0, i-j)], line[min(n-1, i+j)]
				o[0] += k[j] * (a[0] + b[0])
				o[1] += k[j] * (a[1] + b[1])
				o[2] += k[j] * (a[2] + b[2])
			}
			v[i*step] = o
		}
	}
	for y := range h {
		pass(c[y*w:], 1, w)
	}
	for x := range w {
		pass(c[x:], w, h)
	}
}
