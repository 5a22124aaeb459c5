package wallmaker

import (
	"math"
	"math/rand/v2"
)

// Sample is a drawn piece of wall: the frontal view of the measuring code at PxPerMM.
type Sample struct {
	W, H  int
	RGB   []uint8 // sRGB, 3 a pixel
	Class []uint8 // codes above
	// Place: the column of azimuth 0, the row of the rim, px; the radius at the rim and its change per px of depth, px; the
	// row of the base.
	Mid, Top, R0, K, Base float32

	Courses []Course // the true middle lines of all roots
}

// Draw draws the sample of the given seed.
func Draw(seed uint64, w, h int) Sample { return Again(seed, 0, w, h) }

// Again draws the same medium and roots as Draw in another photo, of the number shot: in other light, with other marks on the
// wall, by another camera. Shot 0 is Draw's.
func Again(seed, shot uint64, w, h int) Sample { return draw(seed, shot, w, h, false) }

// Ordinary draws a wall as growers' pots mostly are: at most a dozen roots in full view, few marks on the wall, a sharp photo.
func Ordinary(seed, shot uint64, w, h int) Sample { return draw(seed, shot, w, h, true) }

func draw(seed, shot uint64, w, h int, ordinary bool) Sample {
	d := dice{rand.New(rand.NewPCG(seed, 0x77a11))}
	c := newCanvas(w*int(fine)/int(PxPerMM), h*int(fine)/int(PxPerMM))
	c.stand(d)
	c.manner = d.manner()
	if ordinary {
		c.manner.open, c.manner.ordinary = true, true
	}
	room := c.room(d)
	top := d.topOf(c)
	if !d.chance(0.06) {
		c.fill(d, top)
	}
	if d.chance(0.85) && (!ordinary || d.chance(0.3)) {
		c.clutter(d, top)
	}
	c.recede(d)
	c.roots(d, d.Float64(), top)
	c.whole()
	c.outside()
	if shot != 0 {
		d = dice{rand.New(rand.NewPCG(seed, 0x77a11+shot))}
	}
	light := c.lit(d, room)
	f := newFace(c, light)
	f.white = float32(d.in(0.6, 1.1))
	f.marks(d)
	c.see()
	s := Sample{W: w, H: h, Class: make([]uint8, w*h), Courses: c.courses}
	s.RGB = d.seen(pictureOf(f.light, c.w, c.h), w, h, ordinary)
	k := fine / PxPerMM
	for y := range h {
		for x := range w {
			s.Class[y*w+x] = c.class[int((float64(y)+0.5)*k)*c.w+int((float64(x)+0.5)*k)]
		}
	}
	tidy(s.Class, w, h)
	q := PxPerMM / fine
	s.Mid, s.Top = float32((c.mid+0.5)*q-0.5), float32((c.top+0.5)*q-0.5)
	s.R0, s.K, s.Base = float32(c.r0*PxPerMM), float32(c.k), s.Top+float32(c.tall*PxPerMM)
	s.blank(d)
	for k := range s.Courses {
		s.forget(&s.Courses[k])
	}
	return s
}

// lit is the light that comes from behind the wall.
func (c *canvas) lit(d dice, room []rgb) []rgb {
	if c.manner.light {
		return c.evenShade(d, room)
	}
	return c.shade(d, room)
}

// stand chooses the pot and the part of it that is in view.
func (c *canvas) stand(d dice) {
	w, h := float64(c.w)/fine, float64(c.h)/fine
	c.r0 = d.logIn(30, 90)
	c.tall = max(c.r0*d.in(1.2, 3), d.in(70, 120))
	c.k = -d.in(0, 0.16)
	if d.chance(0.3) {
		c.k = 0
	}
	if c.tall*-c.k > 0.4*c.r0 {
		c.k = -0.4 * c.r0 / c.tall
	}
	reach := math.Max(0, c.r0*1.06-w/2)
	c.mid = (w/2 + d.in(-reach, reach)) * fine
	c.top = -0.4 * fine
	if c.tall > h {
		if d.chance(0.65) {
			c.top = -d.in(0, c.tall-h) * fine
		}
	} else {
		c.top = d.in(0, h-c.tall) * 0.3 * fine
	}
}

// topOf draws the upper edge of the filling.
func (d dice) topOf(c *canvas) func(x float64) float64 {
	base := d.in(3, 24)
	if d.chance(0.1) {
		base = d.in(24, 0.6*c.tall)
	}
	w := d.swatch(drawnOnce().cloud, d.in(0.3, 2), 0, 1)
	rough := d.in(0.5, 4)
	return func(x float64) float64 { return base + rough*float64(w.at(x, 0)) }
}

// whole takes strands and grains that lie thinly on a root into it, and crumbs of root between grains out of it: where a
// root's course can be followed the root is there.
func (c *canvas) whole() {
	seen, there := make([]float32, len(c.z)), make([]float32, len(c.z))
	for i := range seen {
		if c.rootID[i] == 0 {
			continue
		}
		there[i] = 1
		if isRoot(c.class[i]) {
			seen[i] = 1
		}
	}
	const reach = 5 // px: a millimetre
	seen, there = softened(seen, c.w, c.h, reach, 1), softened(there, c.w, c.h, reach, 1)
	for i := range seen {
		if c.rootID[i] == 0 {
			continue
		}
		switch share := seen[i] / max(there[i], 1e-3); {
		case share >= 0.5 && !isRoot(c.class[i]) && c.rootZ[i]-c.z[i] < 2:
			c.class[i], c.id[i] = c.rootClass[i], c.rootID[i]
		case share < 0.2 && isRoot(c.class[i]):
			c.class[i], c.id[i] = Medium, 0
		}
	}
}

// outside takes away what was drawn beside the pot.
func (c *canvas) outside() {
	for y := range c.h {
		for x := range c.w {
			mx, my := c.mm(x, y)
			if math.Abs(mx) > c.radius(my) || my < 0 || my > c.tall {
				i := y*c.w + x
				c.z[i], c.class[i], c.id[i] = far, Nothing, 0
			}
		}
	}
}

// blank clears what a photo does not show: above the rim and below the base, and behind a card or tag.
func (s *Sample) blank(d dice) {
	clear := func(i int) {
		s.RGB[3*i], s.RGB[3*i+1], s.RGB[3*i+2], s.Class[i] = 0, 0, 0, Nothing
	}
	for y := range s.H {
		if float32(y) >= s.Top && float32(y) <= s.Base {
			continue
		}
		for x := range s.W {
			clear(y*s.W + x)
		}
	}
	if !d.chance(0.15) {
		return
	}
	u, v, hw, hh, turn := d.in(0, float64(s.W)), d.in(0, float64(s.H)), d.in(20, 120), d.in(20, 120), 0.1*d.normal()
	sin, cos := math.Sincos(turn)
	for y := range s.H {
		for x := range s.W {
			a, b := cos*(float64(x)-u)+sin*(float64(y)-v), -sin*(float64(x)-u)+cos*(float64(y)-v)
			if math.Abs(a) < hw && math.Abs(b) < hh {
				clear(y*s.W + x)
			}
		}
	}
}

// tidy takes grains that lie on a root into it, and crumbs of root that show between grains away: a root's course is
// what matters.
func tidy(class []uint8, w, h int) {
	src := append([]uint8(nil), class...)
	for y := 2; y < h-2; y++ {
		for x := 2; x < w-2; x++ {
			i := y*w + x
			if src[i] > Old {
				continue
			}
			n := around(src, i, w)
			all := n[Root] + n[Tip] + n[Old]
			switch {
			case src[i] == Medium && all >= 17:
				class[i] = commonest(n)
			case src[i] != Medium && all <= 7 && n[Medium] > 10:
				class[i] = Medium
			}
		}
	}
}

// around counts the classes, up to Old, of the 25 pixels about one.
func around(class []uint8, i, w int) (n [Old + 1]int) {
	for dy := -2; dy <= 2; dy++ {
		for _, c := range class[i+dy*w-2 : i+dy*w+3] {
			if c <= Old {
				n[c]++
			}
		}
	}
	return n
}

// commonest is the class of root that is met most.
func commonest(n [Old + 1]int) uint8 {
	best := uint8(Root)
	for _, c := range [2]uint8{Tip, Old} {
		if n[c] > n[best] {
			best = c
		}
	}
	return best
}

// forget takes back what was seen of a course where the sample shows nothing, or only crumbs that make no root.
func (s *Sample) forget(c *Course) {
	for i := range c.Az {
		x, y := int(float64(s.Mid)+c.R[i]*math.Sin(c.Az[i])*PxPerMM+0.5), int(float64(s.Top)+c.Y[i]*PxPerMM+0.5)
		if x < 0 || y < 0 || x >= s.W || y >= s.H || !isRoot(s.Class[y*s.W+x]) && s.Class[y*s.W+x] != OnWall {
			c.Seen[i] = false
		}
	}
}
