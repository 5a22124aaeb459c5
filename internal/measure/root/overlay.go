package root

import (
	"fmt"
	"image"
	"image/color"
	"math"
	"slices"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/math/fixed"

	"phototrack/internal/raster"
	"phototrack/internal/record"
)

// Inks of the set of Okabe & Ito (2008), which colour-blind readers tell apart. Every kind of mark also differs in form.
var (
	inkRoot  = color.NRGBA{240, 228, 66, 255}
	inkOld   = color.NRGBA{213, 94, 0, 255}
	inkDoubt = color.NRGBA{204, 121, 167, 255}
	inkVeil  = color.NRGBA{0, 114, 178, 255}
	inkTip   = color.NRGBA{0, 158, 115, 255}
	inkNew   = color.NRGBA{230, 159, 0, 255}
	inkGone  = color.NRGBA{204, 121, 167, 255}
	inkCase  = color.NRGBA{0, 0, 0, 200}
	inkPaper = color.NRGBA{250, 250, 248, 255}
	inkText  = color.NRGBA{30, 30, 30, 255}
	inkLimit = color.NRGBA{255, 255, 255, 255}
)

const (
	dashOld, dashDoubt, dashLimit = 7, 2.5, 5 // px; living roots are drawn without

	legendPx = 58 // height of the strip under the picture
	marginPx = 10
	widthPx  = 560 // least width: the legend's words need as much
)

// board is a picture being drawn on.
type board struct {
	img  *image.NRGBA
	face font.Face
}

func newBoard(w, h int, fontPx float64) *board {
	b := &board{img: image.NewNRGBA(image.Rect(0, 0, w, h))}
	for i := 0; i+4 <= len(b.img.Pix); i += 4 {
		p := b.img.Pix[i : i+4 : i+4]
		p[0], p[1], p[2], p[3] = inkPaper.R, inkPaper.G, inkPaper.B, inkPaper.A
	}
	if f, err := opentype.Parse(goregular.TTF); err == nil {
		b.face, _ = opentype.NewFace(f, &opentype.FaceOptions{Size: fontPx, DPI: 72, Hinting: font.HintingFull})
	}
	return b
}

func (b *board) paste(p raster.BGR, x0, y0 int) {
	for y := range p.H {
		to := b.img.Pix[b.img.PixOffset(x0, y0+y):][:4*p.W]
		for from := p.Pix[3*y*p.W : 3*(y+1)*p.W]; len(from) >= 3; from, to = from[3:], to[4:] {
			if from[0]|from[1]|from[2] != 0 { // else nothing is seen there
				to[0], to[1], to[2], to[3] = from[2], from[1], from[0], 255
			}
		}
	}
}

func (b *board) blend(x, y int, c color.NRGBA, a float64) {
	if !(image.Point{X: x, Y: y}.In(b.img.Rect)) || a <= 0 {
		return
	}
	a = math.Min(1, a) * float64(c.A) / 255
	p := b.img.NRGBAAt(x, y)
	mix := func(u, v uint8) uint8 { return uint8(float64(u)*(1-a) + float64(v)*a + 0.5) }
	b.img.SetNRGBA(x, y, color.NRGBA{mix(p.R, c.R), mix(p.G, c.G), mix(p.B, c.B), 255})
}

// line draws a stroke of the given width through the points, dashed where dash > 0 (px on, as many off).
func (b *board) line(p []record.Point, width float64, c color.NRGBA, dash float64) {
	if len(p) < 2 {
		return
	}
	// The distance to the whole line is needed per pixel, or joints would be blended twice.
	r := width/2 + 1
	x0, y0, x1, y1 := p[0].X, p[0].Y, p[0].X, p[0].Y
	for _, q := range p {
		x0, y0, x1, y1 = math.Min(x0, q.X), math.Min(y0, q.Y), math.Max(x1, q.X), math.Max(y1, q.Y)
	}
	box := image.Rect(int(x0-r)-1, int(y0-r)-1, int(x1+r)+2, int(y1+r)+2).Intersect(b.img.Rect)
	if box.Empty() {
		return
	}
	best := make([]float32, box.Dx()*box.Dy()) // how far inside r the line passes
	done := 0.0
	for i := 1; i < len(p); i++ {
		a, q := p[i-1], p[i]
		l := math.Hypot(q.X-a.X, q.Y-a.Y)
		on := func(t float64) bool { return dash <= 0 || int((done+t*l)/dash)&1 == 0 }
		part := image.Rect(int(math.Min(a.X, q.X)-r), int(math.Min(a.Y, q.Y)-r), int(math.Max(a.X, q.X)+r)+2, int(math.Max(a.Y, q.Y)+r)+2).Intersect(box)
		for y := part.Min.Y; y < part.Max.Y; y++ {
			for x := part.Min.X; x < part.Max.X; x++ {
				t, off := beside(a, q, l, float64(x), float64(y))
				if k := (y-box.Min.Y)*box.Dx() + x - box.Min.X; on(t) {
					best[k] = max(best[k], float32(r-off))
				}
			}
		}
		done += l
	}
	for k, d := range best {
		if d > 0 {
			b.blend(box.Min.X+k%box.Dx(), box.Min.Y+k/box.Dx(), c, float64(d)-0.5)
		}
	}
}

// beside is where a place lies to the way of length l from a to b: how far along it, 0..1, and how far off.
func beside(a, b record.Point, l, x, y float64) (t, off float64) {
	if l > 0 {
		t = min(1, max(0, ((x-a.X)*(b.X-a.X)+(y-a.Y)*(b.Y-a.Y))/(l*l)))
	}
	dx, dy := x-a.X-t*(b.X-a.X), y-a.Y-t*(b.Y-a.Y)
	return t, math.Sqrt(dx*dx + dy*dy)
}

func (b *board) ring(x, y, r, width float64, c color.NRGBA) {
	for v := int(y - r - width - 1); v <= int(y+r+width+1); v++ {
		for u := int(x - r - width - 1); u <= int(x+r+width+1); u++ {
			b.blend(u, v, c, width/2+0.5-math.Abs(math.Hypot(float64(u)-x, float64(v)-y)-r))
		}
	}
}

func (b *board) text(x, y int, s string) int {
	if b.face == nil {
		return x
	}
	d := font.Drawer{Dst: b.img, Src: image.NewUniform(inkText), Face: b.face, Dot: fixed.P(x, y)}
	d.DrawString(s)
	return d.Dot.X.Round()
}

func (b *board) picture() raster.BGR {
	w, h := b.img.Rect.Dx(), b.img.Rect.Dy()
	out := raster.NewBGR(w, h)
	from := b.img.Pix
	for to := out.Pix; len(to) >= 3 && len(from) >= 4; to, from = to[3:], from[4:] {
		to[0], to[1], to[2] = from[2], from[1], from[0]
	}
	return out
}

// scaleBar draws a bar of 10 mm with its label, its right end at x.
func (b *board) scaleBar(x, y int, pxPerMM float64) {
	l := 10 * pxPerMM
	x0 := float64(x) - l
	b.line([]record.Point{{X: x0, Y: float64(y)}, {X: float64(x), Y: float64(y)}}, 3, inkText, 0)
	for _, u := range [2]float64{x0, float64(x)} {
		b.line([]record.Point{{X: u, Y: float64(y) - 4}, {X: u, Y: float64(y) + 4}}, 1.6, inkText, 0)
	}
	b.text(int(x0), y+18, "10 mm")
}

// drawWall is the unrolled wall with roots, tips and the limits of what is counted, a legend and a scale bar.
func drawWall(w Wall, r Result, limit func(y float64) float64) raster.BGR {
	width := max(w.Pic.W+2*marginPx, widthPx)
	b := newBoard(width, w.Pic.H+2*marginPx+legendPx, 14)
	x0 := (width - w.Pic.W) / 2
	b.paste(w.Pic, x0, marginPx)
	at := func(l ...record.Point) []record.Point {
		out := make([]record.Point, len(l))
		for i, p := range l {
			x, y := w.px(p)
			out[i] = record.Point{X: x + float64(x0), Y: y + marginPx}
		}
		return out
	}
	for _, side := range [2]float64{-1, 1} {
		h := float64(w.Pic.H) / w.PxPerMM
		l := at(record.Point{X: side * limit(0)}, record.Point{X: side * limit(h), Y: h})
		b.line(l, 2.4, inkCase, 0)
		b.line(l, 1.4, inkLimit, dashLimit)
	}
	b.hatch(w, x0)
	b.roots(r, at)
	for _, d := range r.Doubtful {
		l := at(d...)
		b.line(l, 4.4, inkCase, 0)
		b.line(l, 2.6, inkDoubt, dashDoubt)
	}
	for _, t := range r.Tips {
		p := at(t.Wall)[0]
		if (image.Point{X: int(p.X), Y: int(p.Y)}).In(image.Rect(x0, 0, x0+w.Pic.W, w.Pic.H)) { // not beyond the drawn azimuths
			b.tip(p.X, p.Y)
		}
	}
	y := w.Pic.H + 2*marginPx + 16
	b.legend(w, r, y)
	b.text(marginPx, y+26, fmt.Sprintf("%.0f mm of root seen; unrolled wall, rim above, width along the wall", w.SeenMM))
	b.scaleBar(width-marginPx, y+12, w.PxPerMM)
	return b.picture()
}

// roots draws first the casing of all, then their lines: where two cross, neither is cut.
func (b *board) roots(r Result, at func(...record.Point) []record.Point) {
	for _, root := range r.Roots {
		b.line(at(root.Wall...), 4, inkCase, 0)
	}
	for _, root := range r.Roots {
		cut(at(root.Wall...), root.Old, func(p []record.Point, was bool) {
			if was {
				b.line(p, 2.4, inkOld, dashOld)
			} else {
				b.line(p, 2, inkRoot, 0)
			}
		})
	}
}

func (b *board) tip(x, y float64) {
	b.ring(x, y, 7, 4, inkCase)
	b.ring(x, y, 7, 2, inkTip)
}

// legend names what is drawn, from the left margin on.
func (b *board) legend(w Wall, r Result, y int) {
	x := marginPx
	key := func(ink color.NRGBA, dash float64, say string) {
		b.sample(x, y-5, ink, dash)
		x = b.text(x+34, y, say) + 14
	}
	key(inkRoot, 0, "root")
	if slices.ContainsFunc(r.Roots, func(root Root) bool { return slices.Contains(root.Old, true) }) {
		key(inkOld, dashOld, "old root")
	}
	if len(r.Doubtful) > 0 {
		key(inkDoubt, dashDoubt, "in doubt")
	}
	b.tip(float64(x)+7, float64(y-5))
	x = b.text(x+20, y, "tip") + 14
	if w.Veil.any() {
		key(inkVeil, 0, "hidden")
	}
	key(inkLimit, dashLimit, "60°")
}

// hatch lays slanting lines over what hides the wall.
func (b *board) hatch(w Wall, x0 int) {
	const gap = 7
	for y := range w.Pic.H {
		for x := range w.Pic.W {
			if (x+y)%gap == 0 && w.Veil.at(int(float64(x)/w.PxPerMM/veilMM), int(float64(y)/w.PxPerMM/veilMM)) {
				b.blend(x0+x, marginPx+y, inkVeil, 0.9)
			}
		}
	}
}

// sample is a legend's piece of line.
func (b *board) sample(x, y int, c color.NRGBA, dash float64) {
	l := []record.Point{{X: float64(x), Y: float64(y)}, {X: float64(x) + 28, Y: float64(y)}}
	b.line(l, 4, inkCase, 0)
	b.line(l, 2, c, dash)
}
