package wallmaker

import "math"

const hollowNearPx, hollowWidePx = 4, 15 // how far around a hollow is judged

// lamp is the light on the pot.
type lamp struct {
	x, y, z float64 // direction to the lamp, unit
	col     rgb
	sky     rgb
	hard    float32 // how dark cast shadows are
	well    float32 // how dark hollows are
}

func (d dice) lamp() lamp {
	x, y, z := 0.7*d.normal(), -math.Abs(d.in(0.1, 1.2)), d.in(0.3, 1.4)
	n := math.Sqrt(x*x + y*y + z*z)
	total := d.in(0.75, 1.35)
	sun := d.in(0.15, 0.85)
	warm := func(s float64) rgb { return rgb{float32(1 + s), 1, float32(1 - s)} }
	return lamp{x / n, y / n, z / n, warm(0.05 * d.normal()).times(float32(total * sun * 1.5)), warm(0.05 * d.normal()).times(float32(total * (1 - sun) * 1.2)), float32(d.in(0.1, 0.85)), float32(d.in(0.2, 1))}
}

// shade is the light that comes from every pixel before wall and camera.
func (c *canvas) shade(d dice, room []rgb) []rgb {
	t := d.lamp()
	out := make([]rgb, c.w*c.h)
	// hollows: how much deeper a pixel lies than its surroundings
	near, wide := softened(c.z, c.w, c.h, hollowNearPx, 14), softened(c.z, c.w, c.h, hollowWidePx, 14)
	deepDark := float32(d.in(0.02, 0.12))
	bulge := d.in(0.2, 0.9)
	drop := d.in(-0.004, 0.008)
	for y := range c.h {
		for x := range c.w {
			i := y*c.w + x
			if c.z[i] >= far {
				out[i] = room[i]
				continue
			}
			mx, my := c.mm(x, y)
			sinAz := max(-1, min(1, mx/c.radius(my)))
			nx, ny, nz := c.normal(i, sinAz)
			sun := float32(max(0, nx*t.x+ny*t.y+nz*t.z))
			if t.hard > 0 && sun > 0 {
				sun *= c.unshadowed(&t, x, y)
			}
			well := 1 - t.well*min(0.85, max(0, 0.16*(min(c.z[i], 14)-near[i])+0.07*(min(c.z[i], 14)-wide[i])))
			well *= float32(math.Exp(-float64(deepDark) * float64(min(c.z[i], 14))))
			body := float32(1 - bulge*(1-math.Sqrt(max(0, 1-sinAz*sinAz)))*0.8)
			fall := float32(max(0.4, 1-drop*my))
			sky := float32(0.65+0.35*nz-0.15*ny) * well
			e := rgb{t.col[0]*sun*well + t.sky[0]*sky, t.col[1]*sun*well + t.sky[1]*sky, t.col[2]*sun*well + t.sky[2]*sky}.times(body * fall)
			out[i] = c.col[i].mul(e)
			if g := c.gloss[i]; g > 0.05 {
				s := t.shine(nx, ny, nz, g, sun)
				out[i] = rgb{out[i][0] + s, out[i][1] + s, out[i][2] + s}
			}
		}
	}
	return out
}

// normal is a pixel's unit normal; the wall's own turn away with the azimuth.
func (c *canvas) normal(i int, sinAz float64) (nx, ny, nz float64) {
	nx, ny = float64(c.nx[i]), float64(c.ny[i])
	if c.id[i] == 0 {
		nx += 0.35 * sinAz
	}
	m := nx*nx + ny*ny
	nz = math.Sqrt(max(0.02, 1-m))
	if m > 0.98 {
		f := math.Sqrt(0.98 / m)
		nx, ny = nx*f, ny*f
	}
	return nx, ny, nz
}

// unshadowed is the part of the lamp's light that comes to a pixel past what stands in its way.
func (c *canvas) unshadowed(t *lamp, x, y int) float32 {
	const steps = 7
	sx, sy := -t.x, -t.y // in view, away from the lamp is (x, y) negative
	l := math.Hypot(sx, sy) + 1e-9
	perMM := t.z / max(0.25, l) // how fast the way to the lamp comes forward
	z0 := float64(c.z[y*c.w+x])
	for k := 1; k <= steps; k++ {
		mm := 0.35 * float64(k) * (1 + 0.25*float64(k))
		u, v := x-int(sx/l*mm*fine), y-int(sy/l*mm*fine)
		if u < 0 || v < 0 || u >= c.w || v >= c.h {
			break
		}
		if float64(c.z[v*c.w+u]) < z0-mm*perMM-0.25 {
			return 1 - t.hard*float32(min(1, (z0-mm*perMM-0.25-float64(c.z[v*c.w+u]))/0.8))
		}
	}
	return 1
}

// shine is the lamp's mirrored light on a surface of gloss g (Blinn 1977: the half vector).
func (t *lamp) shine(nx, ny, nz float64, g, sun float32) float32 {
	halfX, halfY, halfZ := t.x, t.y, t.z+1
	h := (nx*halfX + ny*halfY + nz*halfZ) / math.Sqrt(halfX*halfX+halfY*halfY+halfZ*halfZ)
	if h <= 0 {
		return 0
	}
	return g * float32(math.Pow(h, 12+60*float64(g))) * 0.5 * (0.3 + sun)
}

// softened is a plane blurred twice by a box of half width r, its values cut at most.
func softened(v []float32, w, h, r int, most float32) []float32 {
	a := make([]float32, len(v))
	for i, q := range v {
		a[i] = min(q, most)
	}
	b := make([]float32, len(v))
	for range 2 {
		boxRows(b, a, w, h, r)
		boxColumns(a, b, w, h, r)
	}
	return a
}

func boxRows(to, from []float32, w, h, r int) {
	k := 1 / float32(2*r+1)
	for y := range h {
		row, out := from[y*w:(y+1)*w], to[y*w:(y+1)*w]
		var sum float32
		for i := -r; i <= r; i++ {
			sum += row[min(max(i, 0), w-1)]
		}
		for i := range row {
			out[i] = sum * k
			sum += row[min(i+r+1, w-1)] - row[max(i-r, 0)]
		}
	}
}

func boxColumns(to, from []float32, w, h, r int) {
	k := 1 / float32(2*r+1)
	sum := make([]float32, w)
	at := func(y int) []float32 { y = min(max(y, 0), h-1); return from[y*w : (y+1)*w] }
	for y := -r; y <= r; y++ {
		for x, v := range at(y) {
			sum[x] += v
		}
	}
	for y := range h {
		out, in, gone := to[y*w:(y+1)*w], at(y+r+1), at(y-r)
		for x := range sum {
			out[x] = sum[x] * k
			sum[x] += in[x] - gone[x]
		}
	}
}
