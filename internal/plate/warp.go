package plate

import (
	"image"
	"image/color"
	"math"

	"github.com/disintegration/imaging"

	"phototrack/internal/pixels"
)

// ground is the quiet colour where a photo ends before its panel does.
var ground = color.NRGBA{232, 229, 219, 255}

const (
	muchFiner = 1.2 // a photo with so many more pixels than the panel is reduced by a filter (chosen by eye)
	mostFiner = 4   // times the panel's side that a photo is rectified at: more costs memory and shows nothing
)

// panel resamples a frame into w x h px that show the plane at scale px per mm, with the frame's anchor plus centre in
// the middle. Where the photo has more pixels than the panel, it is rectified at its own scale and then reduced
// by a Lanczos filter, so that fine edges do not alias; the panel's scale is exact either way.
func panel(f *Frame, w, h int, scale float64, centre Point) *image.NRGBA {
	mid := Point{f.Anchor.X + centre.X, f.Anchor.Y + centre.Y}
	src := f.source(w, h, scale, mid)
	own := pxPerMM(src.toPx, mid)
	k := 1
	if own > muchFiner*scale {
		k = min(mostFiner, int(math.Ceil(own/scale)))
	}
	m := src.rectify(w*k, h*k, scale*float64(k), mid)
	if src.own {
		pixels.Done(src.m)
	}
	if k > 1 {
		large := m
		m = pixels.Reduce(large, w, h)
		pixels.Done(large)
	}
	return m
}

// source is the part of a frame's picture that a panel needs, no finer than it needs it, colours and light evened out.
type source struct {
	m    *image.NRGBA
	toPx [9]float64
	own  bool // nobody else looks at m
}

func (f *Frame) source(w, h int, scale float64, mid Point) source {
	all := toNRGBA(f.Image)
	if f.photo == 0 {
		return source{all, f.ToPx, false}
	}
	n := max(1, int(pxPerMM(f.ToPx, mid)/scale))
	x, y := float64(w)/(2*scale), float64(h)/(2*scale)
	var corners []Point
	for _, s := range [4]Point{{-x, -y}, {x, -y}, {-x, y}, {x, y}} {
		corners = append(corners, apply(f.ToPx, Point{mid.X + s.X, mid.Y + s.Y}))
	}
	b, rim := boxOf(corners), blockPx*f.photo+2
	r := image.Rect(int(b.X0-rim), int(b.Y0-rim), int(b.X1+rim)+n, int(b.Y1+rim)+n).Intersect(all.Rect)
	r.Max.X -= r.Dx() % n
	r.Max.Y -= r.Dy() % n
	if r.Empty() {
		return source{all, f.ToPx, false} // the panel lies outside the photo
	}
	m := all.SubImage(r).(*image.NRGBA)
	if n > 1 {
		m = imaging.Resize(m, r.Dx()/n, r.Dy()/n, imaging.Box)
	}
	moved := f.ToPx // to the crop's corner, then to its size
	for j := range 3 {
		moved[j] -= float64(r.Min.X) * moved[6+j]
		moved[3+j] -= float64(r.Min.Y) * moved[6+j]
	}
	to := scaled(moved[:], 1/float64(n))
	out := source{evened(m, to, f.photo/float64(n), fitLight(all, f.ToPx)), to, true}
	if _, ok := f.Image.(Later); ok {
		pixels.Done(all)
	}
	return out
}

// rectify samples the picture on a regular grid of mm, bilinear.
func (src source) rectify(w, h int, scale float64, mid Point) *image.NRGBA {
	grid := pixels.Grid{W: w, H: h, X0: mid.X + (0.5-float64(w)/2)/scale, Y0: mid.Y + (0.5-float64(h)/2)/scale, Pitch: 1 / scale}
	return pixels.Rectify(src.m, src.toPx, grid, ground)
}

// sample writes the colour at a place of the picture, bilinear between pixel centres; the ground outside.
func sample(m *image.NRGBA, x, y float64, to []uint8) {
	b := m.Bounds()
	if !(x > -0.5 && y > -0.5 && x < float64(b.Dx())-0.5 && y < float64(b.Dy())-0.5) {
		to[0], to[1], to[2], to[3] = ground.R, ground.G, ground.B, 255
		return
	}
	x0, y0 := int(math.Floor(x)), int(math.Floor(y))
	fx, fy := x-float64(x0), y-float64(y0)
	x1, y1 := min(x0+1, b.Dx()-1), min(y0+1, b.Dy()-1)
	x0, y0 = max(x0, 0), max(y0, 0)
	p00, p10 := m.Pix[y0*m.Stride+4*x0:], m.Pix[y0*m.Stride+4*x1:]
	p01, p11 := m.Pix[y1*m.Stride+4*x0:], m.Pix[y1*m.Stride+4*x1:]
	for c := range 3 {
		top := float64(p00[c])*(1-fx) + float64(p10[c])*fx
		low := float64(p01[c])*(1-fx) + float64(p11[c])*fx
		to[c] = uint8(top*(1-fy) + low*fy + 0.5)
	}
	to[3] = 255
}

// toNRGBA gives the picture in the form that is sampled, with its corner at the origin.
func toNRGBA(m image.Image) *image.NRGBA {
	if l, ok := m.(Later); ok {
		return l.opened()
	}
	if n, ok := m.(*image.NRGBA); ok && n.Rect.Min == (image.Point{}) {
		return n
	}
	return imaging.Clone(m)
}
