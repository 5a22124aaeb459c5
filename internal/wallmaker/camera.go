package wallmaker

import (
	"bytes"
	"image"
	"image/color"
	"image/jpeg"
	"math"
)

// picture is light as planes of the three colours.
type picture struct {
	w, h int
	v    [3][]float32
}

// pictureOf parts light into planes.
func pictureOf(light []rgb, w, h int) *picture {
	p := picture{w: w, h: h}
	for c := range p.v {
		p.v[c] = make([]float32, w*h)
		for i := range light {
			p.v[c][i] = light[i][c]
		}
	}
	return &p
}

// seen is what the camera makes of the light: lens, sensor, sharpening, JPEG, and the resampling to PxPerMM of the
// measuring code. The result is 8-bit sRGB of wOut by hOut px.
func (d dice) seen(p *picture, wOut, hOut int, sharp bool) []uint8 {
	scale := d.logIn(2.2, fine) // photo px per mm
	if d.chance(0.3) {
		scale = fine
	}
	lens := d.in(0.35, 0.9) * fine / scale // canvas px
	if d.chance(0.2) {
		lens *= d.in(1, 2)
	}
	if d.chance(0.12) && !sharp { // out of focus, or shaken
		lens *= d.in(1.5, 3)
	}
	q := d.sensed(p, scale, lens)
	if d.chance(0.35) { // phones smooth their noise away
		for c := range q.v {
			gauss(q.v[c], q.w, q.h, d.in(0.3, 0.7))
		}
	}
	if d.chance(0.5) { // and sharpen
		k := float32(d.in(0.2, 1))
		for c := range q.v {
			b := append([]float32(nil), q.v[c]...)
			gauss(b, q.w, q.h, 1)
			for i := range b {
				q.v[c][i] += k * (q.v[c][i] - b[i])
			}
		}
	}
	if d.chance(0.8) {
		q.jpeg(d.between(40, 96))
	}
	k := scale / PxPerMM
	return q.resampled(k, d.in(-0.3, 0.3), d.in(-0.3, 0.3), wOut, hOut)
}

// sensed is the light through a lens on a sensor of scale px a mm, with its cast, noise and tone curve.
func (d dice) sensed(p *picture, scale, lens float64) picture {
	q := picture{w: int(float64(p.w) * scale / fine), h: int(float64(p.h) * scale / fine)}
	cast := [3]float32{}
	for c := range cast {
		cast[c] = float32(1 + 0.03*d.normal())
	}
	for c := range p.v {
		gauss(p.v[c], p.w, p.h, lens)
	}
	shot, read := float32(d.logIn(0.002, 0.03)), float32(d.logIn(0.0005, 0.008))
	tone := toneTable(d.in(0.94, 1.06))
	for c := range q.v {
		q.v[c] = make([]float32, q.w*q.h)
	}
	lum := float32(0.5 * d.Float64()) // part of the noise that all colours share
	for y := range q.h {
		for x := range q.w {
			u, v := (float64(x)+0.5)*fine/scale-0.5, (float64(y)+0.5)*fine/scale-0.5
			common := float32(d.normal())
			for c := range q.v {
				e := max(0, lookUp(p.v[c], p.w, p.h, u, v)) * cast[c]
				n := lum*common + (1-lum)*float32(d.normal())
				e += n * (shot*float32(math.Sqrt(float64(e))) + read)
				q.v[c][y*q.w+x] = tone.of(e)
			}
		}
	}
	return q
}

// resampled is the picture of wOut by hOut px, each k px of this one and moved by dx, dy.
func (p *picture) resampled(k, dx, dy float64, wOut, hOut int) []uint8 {
	out := make([]uint8, 3*wOut*hOut)
	spread := 0.0
	if k > 1.4 {
		spread = k / 4
	}
	for y := range hOut {
		for x := range wOut {
			u, v := (float64(x)+0.5)*k-0.5+dx, (float64(y)+0.5)*k-0.5+dy
			for c := range p.v {
				e := lookUp(p.v[c], p.w, p.h, u-spread, v-spread)
				if spread > 0 {
					e = (e + lookUp(p.v[c], p.w, p.h, u+spread, v+spread)) / 2
				}
				out[3*(y*wOut+x)+c] = uint8(min(255, max(0, e)) + 0.5)
			}
		}
	}
	return out
}

// tones is the sRGB transfer (IEC 61966-2-1), 0..255, by the square root of the light.
type tones [2049]float32

// toneTable makes a curve that is bent a little, as a camera's is.
func toneTable(gamma float64) *tones {
	var t tones
	for i := range t {
		e := float64(i) / 2048
		if e *= e; e <= 0.0031308 {
			t[i] = float32(255 * 12.92 * e)
			continue
		}
		t[i] = float32(255 * (1.055*math.Pow(e, gamma/2.4) - 0.055))
	}
	return &t
}

func (t *tones) of(e float32) float32 {
	k := 2048 * float32(math.Sqrt(float64(min(1, max(0, e)))))
	i := min(int(k), 2047)
	return t[i] + (k-float32(i))*(t[i+1]-t[i])
}

func lookUp(v []float32, w, h int, x, y float64) float32 {
	x, y = max(0, min(float64(w)-1.001, x)), max(0, min(float64(h)-1.001, y))
	i, j := int(x), int(y)
	fx, fy := float32(x-float64(i)), float32(y-float64(j))
	k := j*w + i
	a, b := v[k]+fx*(v[k+1]-v[k]), v[k+w]+fx*(v[k+w+1]-v[k+w])
	return a + fy*(b-a)
}

// gauss blurs a plane in place by a Gaussian of standard deviation s px.
func gauss(v []float32, w, h int, s float64) {
	r := int(2.6*s + 0.5)
	if r < 1 {
		return
	}
	kern := make([]float32, 2*r+1)
	var sum float32
	for i := range kern {
		kern[i] = float32(math.Exp(-float64((i-r)*(i-r)) / (2 * s * s)))
		sum += kern[i]
	}
	for i := range kern {
		kern[i] /= sum
	}
	src := append([]float32(nil), v...)
	clear(v)
	for y := range h { // down
		out := v[y*w : (y+1)*w]
		for k, q := range kern {
			u := min(max(y+k-r, 0), h-1)
			for x, e := range src[u*w : (u+1)*w] {
				out[x] += q * e
			}
		}
	}
	line := make([]float32, w+2*r)
	for y := range h { // across
		row := v[y*w : (y+1)*w]
		copy(line[r:], row)
		for i := range r {
			line[i], line[w+r+i] = row[0], row[w-1]
		}
		clear(row)
		for k, q := range kern {
			for x, e := range line[k : k+w] {
				row[x] += q * e
			}
		}
	}
}

func (p *picture) jpeg(quality int) {
	img := image.NewRGBA(image.Rect(0, 0, p.w, p.h))
	for i := range p.w * p.h {
		for c := range p.v {
			img.Pix[4*i+c] = uint8(min(255, max(0, p.v[c][i])) + 0.5)
		}
		img.Pix[4*i+3] = 255
	}
	var b bytes.Buffer
	if jpeg.Encode(&b, img, &jpeg.Options{Quality: quality}) != nil {
		return
	}
	back, err := jpeg.Decode(&b)
	if err != nil {
		return
	}
	y, ok := back.(*image.YCbCr)
	if !ok {
		return
	}
	for j := range p.h {
		for i := range p.w {
			k, l := y.YOffset(i, j), y.COffset(i, j)
			r, g, bl := color.YCbCrToRGB(y.Y[k], y.Cb[l], y.Cr[l])
			o := j*p.w + i
			p.v[0][o], p.v[1][o], p.v[2][o] = float32(r), float32(g), float32(bl)
		}
	}
}
