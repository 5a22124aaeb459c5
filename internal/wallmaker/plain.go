package wallmaker

import "math"

// manner is how a sample is drawn: like a photograph, or as plainly as a thing may look - media of one colour, roots of
// one colour with hard edges, light without shadows. What a network learns must not hang on textures.
type manner struct {
	ground bool // the medium is a plain surface
	roots  bool // roots are of one colour, without marks
	light  bool // light is even: no shadows, no dark hollows
	same   bool // roots are as thick from end to end
	open   bool // roots lie at the wall in full view
	colour rgb  // of the plain surface

	ordinary bool // few roots, few marks, a sharp photo
}

func (d dice) manner() manner {
	var m manner
	if d.chance(0.4) {
		m.ground, m.roots, m.light = d.chance(0.55), d.chance(0.75), d.chance(0.6)
	}
	m.same = d.chance(0.25)
	m.open = d.chance(0.5)
	m.colour = d.near(d.in(8, 92), d.in(-10, 20), d.in(-8, 32), 4)
	if d.chance(0.4) { // most media are dark and brown
		m.colour = d.near(d.in(12, 45), d.in(2, 16), d.in(4, 26), 3)
	}
	return m
}

// groundDeepMM is how far behind the wall a plain medium lies.
const groundDeepMM = 5.5

// plainGround puts a plain medium behind the wall: one colour, with clouds, grain, fibres or patches of another.
func (c *canvas) plainGround(d dice, top func(x float64) float64) {
	t := drawnOnce()
	all := [...]tex{t.cloud, t.rough, t.grain, t.fibre, t.vein}
	grain := d.swatch(all[d.IntN(len(all))], d.logIn(0.04, 0.5), d.in(0, math.Pi), d.logIn(1, 5))
	patch := d.swatch(all[d.IntN(2)], d.logIn(0.1, 1.5), d.in(0, math.Pi), d.logIn(1, 3))
	contrast := float32(math.Max(0, d.in(-0.15, 0.45)))
	base := c.manner.colour
	l, a, b := labOf(base)
	other := d.near(l+12*d.normal(), a+4*d.normal(), b+5*d.normal(), 1)
	level := float32(d.in(-0.8, 0.8))
	soft := float32(d.logIn(0.02, 1.5))
	if d.chance(0.3) {
		other = base
	}
	for j := range c.h {
		for i := range c.w {
			x, y := c.mm(i, j)
			if y < top(x) {
				continue
			}
			m := min(1, max(0, 0.5+(patch.at(x, y)-level)/soft))
			c.put(j*c.w+i, spot{z: groundDeepMM, col: base.mix(other, m).times(max(0.1, 1+contrast*grain.at(x, y)))})
		}
	}
}

// plainly makes a root's look plain, and tells it from a plain medium if only just.
func (d dice) plainly(c *canvas, k rootLook) rootLook {
	k.other, k.mottle, k.streak, k.rings, k.dirty, k.wrinkle = k.base, 0, 0, 0, 0, 0
	k.fuzz, k.edge = max(0, d.in(-0.03, 0.04)), d.logIn(0.02, 1)
	k.gloss *= float32(d.in(0, 0.5))
	k.flat *= d.Float64()
	if c.manner.ground {
		l0, a0, b0 := labOf(c.manner.colour)
		least := d.logIn(7, 25)
		l, a, b := labOf(k.base)
		if math.Hypot(math.Hypot(l-l0, a-a0), b-b0) < least {
			up := l >= l0
			if l0 < 25 {
				up = true
			}
			if l0 > 75 {
				up = false
			}
			if up {
				l = l0 + least
			} else {
				l = l0 - least
			}
			k.base = lab(math.Min(96, math.Max(4, l)), a, b)
			k.other = k.base
		}
	}
	return k
}

// evenShade is the light of a sample that is lit evenly: things show their own colour, roots at most a plain profile.
func (c *canvas) evenShade(d dice, room []rgb) []rgb {
	out := make([]rgb, c.w*c.h)
	total := d.in(0.6, 1.15)
	cast := rgb{float32(total * d.in(0.95, 1.05)), float32(total), float32(total * d.in(0.95, 1.05))}
	gx, gy := 0.004*d.normal(), 0.003*d.normal() // per mm
	bulge := math.Max(0, d.in(-0.3, 0.7))
	relief := math.Max(0, d.in(-0.5, 0.5))
	dark, bright := d.in(0.45, 0.95), d.in(1, 1.12)
	bands := float64(d.between(2, 5))
	kind := d.IntN(4)
	lx, ly := 0.35*d.normal(), 0.35*d.normal()-0.2
	for y := range c.h {
		for x := range c.w {
			i := y*c.w + x
			if c.z[i] >= far {
				out[i] = room[i]
				continue
			}
			mx, my := c.mm(x, y)
			s := math.Max(-1, math.Min(1, mx/c.radius(my)))
			f := math.Max(0.3, 1+gx*mx+gy*(my-c.tall/2)) * (1 - bulge*(1-math.Sqrt(1-s*s)))
			nx, ny := float64(c.nx[i]), float64(c.ny[i])
			if c.id[i] == 0 {
				f *= math.Max(0.4, 1+relief*(nx*lx+ny*ly))
			} else {
				edge := math.Min(1, math.Hypot(nx-lx, ny-ly)/(1+math.Hypot(lx, ly)))
				switch kind {
				case 1: // round
					f *= dark + (bright-dark)*math.Sqrt(1-edge*edge)
				case 2: // in bands, as painted
					f *= bright - (bright-dark)*math.Floor(edge*edge*bands)/bands
				case 3: // outlined
					if nx*nx+ny*ny > 0.6 {
						f *= dark
					}
				}
			}
			out[i] = c.col[i].mul(cast).times(float32(f))
		}
	}
	return out
}

// labOf is the CIELAB colour (D65) of a colour.
func labOf(c rgb) (l, a, b float64) {
	r, g, bl := float64(c[0]), float64(c[1]), float64(c[2])
	f := func(t float64) float64 {
		if t > 216.0/24389 {
			return math.Cbrt(t)
		}
		return (24389.0/27*t + 16) / 116
	}
	fx, fy, fz := f((0.4124564*r+0.3575761*g+0.1804375*bl)/0.95047), f(0.2126729*r+0.7151522*g+0.0721750*bl), f((0.0193339*r+0.1191920*g+0.9503041*bl)/1.08883)
	return 116*fy - 16, 500 * (fx - fy), 200 * (fy - fz)
}
