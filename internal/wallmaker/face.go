package wallmaker

import "math"

// face is the wall's face: what lies on the wall, between medium and camera.
type face struct {
	*canvas
	light []rgb
	clear []float32 // share of the light from behind that still comes through
	u     []float64 // way along the wall from azimuth 0, mm; NaN outside the pot
	white float32   // light on something white at the wall
}

func newFace(c *canvas, light []rgb) *face {
	f := &face{canvas: c, light: light, clear: make([]float32, c.w*c.h), u: make([]float64, c.w*c.h)}
	for y := range c.h {
		for x := range c.w {
			i := y*c.w + x
			f.clear[i] = 1
			mx, my := c.mm(x, y)
			f.u[i] = math.NaN()
			if r := c.radius(my); math.Abs(mx) < r && my >= 0 && my <= c.tall {
				f.u[i] = c.along(mx, my)
			}
		}
	}
	return f
}

// each calls at for the pixels whose place on the wall lies within reach mm of (u, y).
func (f *face) each(u, y, reachU, reachY float64, at func(i int, u, y float64)) {
	_, v0 := f.px(0, y-reachY)
	_, v1 := f.px(0, y+reachY)
	a, b := f.chord(u-reachU, y), f.chord(u+reachU, y)
	x0, _ := f.px(a-2, 0)
	x1, _ := f.px(b+2, 0)
	for j := max(0, int(v0)); j <= min(f.h-1, int(v1)+1); j++ {
		for i := max(0, int(x0)); i <= min(f.w-1, int(x1)+1); i++ {
			k := j*f.w + i
			if f.u[k] == f.u[k] {
				_, my := f.mm(i, j)
				at(k, f.u[k], my)
			}
		}
	}
}

// film lays a colour over a pixel that lets 1 - alpha through.
func (f *face) film(i int, col rgb, alpha float32) {
	alpha = min(1, max(0, alpha))
	f.light[i] = f.light[i].mix(col.times(f.white), alpha)
	f.clear[i] *= 1 - alpha
}

// add puts mirrored light on a pixel.
func (f *face) add(i int, col rgb, amount float32) {
	for c := range col {
		f.light[i][c] += col[c] * amount
	}
	if m := max(f.light[i][0], f.light[i][1], f.light[i][2]); m > 1 && amount > 0.5 {
		f.clear[i] = min(f.clear[i], 0.2)
	}
}

func isRoot(class uint8) bool { return class == Root || class == Tip || class == Old }

// trace marks a pixel as part of the wall; a root behind a narrow mark goes on.
func (f *face) trace(i int, col rgb, alpha float32, narrow bool) {
	f.light[i] = f.light[i].mix(col.times(f.white), min(1, max(0, alpha)))
	if alpha > 0.4 && !(narrow && isRoot(f.class[i])) {
		f.class[i] = OnWall
	}
}

// stroke is a straight line on the wall from one place to another, mm.
type stroke struct{ u0, y0, u1, y1, wide float64 }

// stroke draws one, soft edged.
func (f *face) stroke(s stroke, at func(i int, alpha float32)) {
	u0, y0, wide := s.u0, s.y0, s.wide
	du, dy := s.u1-u0, s.y1-y0
	l2 := du*du + dy*dy + 1e-9
	// cut into short pieces so that the boxes stay small
	n := int(math.Sqrt(l2)/6) + 1
	for k := range n {
		a, b := float64(k)/float64(n), float64(k+1)/float64(n)
		mu, my := u0+(a+b)/2*du, y0+(a+b)/2*dy
		f.each(mu, my, math.Abs(du)/float64(n)/2+wide, math.Abs(dy)/float64(n)/2+wide, func(i int, u, y float64) {
			t := ((u-u0)*du + (y-y0)*dy) / l2
			if t < a || t >= b && k < n-1 || t > b {
				return
			}
			d := math.Hypot(u-u0-t*du, y-y0-t*dy)
			if m := (wide/2-d)*fine + 0.5; m > 0 {
				at(i, float32(min(1, m)*min(1, wide*fine)))
			}
		})
	}
}

// somewhere is a place on the wall that is in view.
func (f *face) somewhere(d dice) (u, y float64) {
	for range 20 {
		x, y := f.mm(d.IntN(f.w), d.IntN(f.h))
		if y > 0 && y < f.tall && math.Abs(x) < f.radius(y)*0.97 {
			return f.along(x, y), y
		}
	}
	return 0, f.tall / 2
}
