package plate

import (
	"image"
	"image/color"
	"image/draw"
	"math"

	"golang.org/x/image/font"
	"golang.org/x/image/math/fixed"
	"golang.org/x/image/vector"

	"phototrack/internal/pixels"
)

// raster is a surface of pixels.
type raster struct {
	m     *image.NRGBA
	faces map[faceKey]font.Face
	err   error
}

type faceKey struct {
	f    face
	size float64
}

const (
	rgba        = 4    // bytes of a pixel
	samePointPx = 1e-9 // points nearer to each other are one
)

func newRaster(w, h int, bg color.NRGBA) *raster {
	m := pixels.New(w, h)
	for i := 0; i < min(rgba*w, len(m.Pix)); i += rgba {
		m.Pix[i], m.Pix[i+1], m.Pix[i+2], m.Pix[i+3] = bg.R, bg.G, bg.B, bg.A
	}
	for y := 1; y < h; y++ {
		copy(m.Pix[y*m.Stride:(y+1)*m.Stride], m.Pix)
	}
	return &raster{m: m, faces: map[faceKey]font.Face{}}
}

// face opens a font once per size; a fault is kept and returned at the end.
func (r *raster) face(f face, size float64) font.Face {
	k := faceKey{f, size}
	if c, ok := r.faces[k]; ok {
		return c
	}
	c, err := sized(f, size)
	if err != nil {
		r.err = err
		return nil
	}
	r.faces[k] = c
	return c
}

func (r *raster) text(x, base float64, l lettering, s string) {
	fc := r.face(l.face, l.size)
	if fc == nil {
		return
	}
	switch l.align {
	case centre:
		x -= r.width(l.size, l.face, s) / 2
	case right:
		x -= r.width(l.size, l.face, s)
	}
	d := font.Drawer{Dst: r.m, Src: image.NewUniform(l.ink), Face: fc, Dot: fixed.Point26_6{X: fixed.Int26_6(math.Round(x * 64)), Y: fixed.Int26_6(math.Round(base * 64))}}
	d.DrawString(s)
}

func (r *raster) width(size float64, f face, s string) float64 {
	fc := r.face(f, size)
	if fc == nil {
		return 0
	}
	return float64(font.MeasureString(fc, s)) / 64
}

// fill draws a rectangle whose edges may lie between pixels: a scale bar's length is then exact on average.
func (r *raster) fill(x, y, w, h float64, c color.NRGBA) {
	r.polygon([]Point{{x, y}, {x + w, y}, {x + w, y + h}, {x, y + h}}, c)
}

func (r *raster) polygon(pts []Point, c color.NRGBA) {
	b := boxOf(pts)
	area := image.Rect(int(math.Floor(b.X0)), int(math.Floor(b.Y0)), int(math.Ceil(b.X1))+1, int(math.Ceil(b.Y1))+1).Intersect(r.m.Bounds())
	if area.Empty() {
		return
	}
	z := vector.NewRasterizer(area.Dx(), area.Dy())
	for i, p := range pts {
		px, py := float32(p.X-float64(area.Min.X)), float32(p.Y-float64(area.Min.Y))
		if i == 0 {
			z.MoveTo(px, py)
		} else {
			z.LineTo(px, py)
		}
	}
	z.ClosePath()
	z.DrawOp = draw.Over
	z.Draw(r.m, area, image.NewUniform(c), image.Point{})
}

// line draws a polyline of a width: each stretch as a quadrilateral, each joint as a small disc.
func (r *raster) line(pts []Point, width float64, c color.NRGBA) {
	for i := range pts {
		r.disc(pts[i], width/2, c)
		if i == 0 {
			continue
		}
		a, b := pts[i-1], pts[i]
		dx, dy := b.X-a.X, b.Y-a.Y
		l := math.Hypot(dx, dy)
		if l < samePointPx {
			continue
		}
		nx, ny := -dy/l*width/2, dx/l*width/2
		r.polygon([]Point{{a.X + nx, a.Y + ny}, {b.X + nx, b.Y + ny}, {b.X - nx, b.Y - ny}, {a.X - nx, a.Y - ny}}, c)
	}
}

func (r *raster) disc(p Point, radius float64, c color.NRGBA) {
	const n = 16
	pts := make([]Point, n)
	for i := range pts {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / n)
		pts[i] = Point{p.X + radius*cos, p.Y + radius*sin}
	}
	r.polygon(pts, c)
}

// picture copies a picture in, row by row: none is see-through.
func (r *raster) picture(x, y int, m *image.NRGBA) {
	to := image.Rect(x, y, x+m.Rect.Dx(), y+m.Rect.Dy()).Intersect(r.m.Rect)
	for v := to.Min.Y; v < to.Max.Y; v++ {
		i, j := r.m.PixOffset(to.Min.X, v), m.PixOffset(to.Min.X-x+m.Rect.Min.X, v-y+m.Rect.Min.Y)
		copy(r.m.Pix[i:i+4*to.Dx()], m.Pix[j:])
	}
}
