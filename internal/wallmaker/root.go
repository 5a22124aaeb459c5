package wallmaker

import "math"

// look is how a root's outside looks.
type rootLook struct {
	base, other, dirt     rgb
	mottle, streak, rings float32
	dirty                 float32
	gloss                 float32
	tip                   rgb
	tipMM                 float64
	tipGloss              float32
	class                 uint8
	flat                  float64
	wrinkle               float32
	fuzz, edge            float64 // unevenness of the skin; mm over which body turns into tip
}

// livingLook draws the look of a living root.
func (d dice) livingLook(wet float64) rootLook {
	var k rootLook
	k.class = Root
	switch x := d.Float64(); {
	case x < 0.38: // dry velamen: white, silver, grey
		k.base = d.near(d.in(58, 90), d.in(-2, 3), d.in(-3, 10), 2)
		k.other = d.near(d.in(50, 80), d.in(-8, 4), d.in(0, 14), 3)
	case x < 0.62: // wet velamen: green and grey green
		k.base = d.near(d.in(34, 66), d.in(-22, -4), d.in(6, 30), 3)
		k.other = d.near(d.in(40, 75), d.in(-14, 0), d.in(4, 22), 4)
	case x < 0.78: // grey green
		k.base = d.near(d.in(40, 72), d.in(-9, -1), d.in(0, 14), 3)
		k.other = d.near(d.in(40, 80), d.in(-6, 2), d.in(0, 12), 4)
	case x < 0.9: // cream, of terrestrial plants
		k.base = d.near(d.in(62, 86), d.in(-2, 5), d.in(8, 24), 3)
		k.other = d.near(d.in(55, 80), d.in(0, 7), d.in(8, 24), 3)
	default: // flushed with red or yellow
		k.base = d.near(d.in(48, 74), d.in(2, 14), d.in(2, 16), 3)
		k.other = d.near(d.in(55, 80), d.in(-6, 4), d.in(4, 16), 3)
	}
	k.dirt = d.near(d.in(25, 60), d.in(2, 14), d.in(8, 26), 3)
	k.mottle = float32(d.in(0, 1))
	k.streak = float32(d.in(0, 0.25))
	k.rings = float32(math.Max(0, d.in(-0.3, 0.25)))
	k.dirty = float32(math.Max(0, d.in(-0.6, 0.8)))
	k.gloss = float32(wet * d.in(0.2, 0.8))
	switch x := d.Float64(); {
	case x < 0.5:
		k.tip = d.near(d.in(42, 74), d.in(-46, -18), d.in(24, 58), 3)
	case x < 0.62:
		k.tip = d.near(d.in(28, 46), d.in(-26, -12), d.in(12, 30), 3)
	case x < 0.8:
		k.tip = d.near(d.in(22, 48), d.in(14, 34), d.in(4, 20), 3)
	case x < 0.9:
		k.tip = d.near(d.in(62, 80), d.in(-14, -4), d.in(34, 54), 3)
	default:
		k.tip = d.near(d.in(76, 92), d.in(-8, 0), d.in(6, 26), 2)
	}
	if d.chance(0.75) {
		k.tipMM = d.in(2.5, 11)
	}
	k.tipGloss = float32(d.in(0.2, 1))
	k.fuzz, k.edge = d.in(0.02, 0.16), d.in(0.4, 2)
	return k
}

// oldLook draws the look of an old or dry root: brown to black, or papery and shrunk.
func (d dice) oldLook(wet float64) rootLook {
	var k rootLook
	k.class = Old
	switch x := d.Float64(); {
	case x < 0.55:
		k.base = d.near(d.in(26, 50), d.in(4, 15), d.in(14, 32), 3)
		k.other = d.near(d.in(20, 52), d.in(4, 15), d.in(10, 30), 4)
	case x < 0.75:
		k.base = d.near(d.in(12, 26), d.in(3, 10), d.in(4, 14), 2)
		k.other = d.near(d.in(16, 40), d.in(4, 12), d.in(8, 24), 3)
	default:
		k.base = d.near(d.in(50, 66), d.in(3, 9), d.in(18, 30), 3)
		k.other = d.near(d.in(38, 62), d.in(4, 12), d.in(16, 30), 4)
	}
	k.dirt = d.near(d.in(15, 40), d.in(3, 12), d.in(6, 22), 3)
	k.mottle = float32(d.in(0.2, 1))
	k.streak = float32(d.in(0.05, 0.5))
	k.dirty = float32(d.in(0, 0.8))
	k.gloss = float32(wet * d.in(0, 0.6))
	k.flat = d.in(0, 0.9)
	k.wrinkle = float32(d.in(0, 0.5))
	k.fuzz, k.edge = d.in(0.02, 0.16), d.in(0.4, 2)
	return k
}

// skinOf makes the surface of a root of the given length.
func (d dice) skinOf(k rootLook, length, r float64) skin {
	t := drawnOnce()
	cloud := d.swatch(t.cloud, d.in(0.06, 0.25), 0, d.in(1, 3))
	rough := d.swatch(t.rough, d.in(0.03, 0.1), 0, 1)
	fibre := d.swatch(t.fibre, 0.03, 0, d.in(4, 20))
	dirt := d.swatch(t.cloud, d.in(0.1, 0.4), 0, 1)
	edge, fuzz := k.edge, float32(k.fuzz)
	return func(s, v float64) (rgb, float32, uint8) {
		y := v * r
		m := min(1, max(0, 0.5+1.2*cloud.at(s, y)))
		n := rough.at(s, y)
		if s > length-k.tipMM && k.tipMM > 0 {
			m := float32(math.Min(1, (s-length+k.tipMM)/edge))
			body := k.base.times(1 + 2*fuzz*n)
			return body.mix(k.tip.times(1+0.5*fuzz*n), m), k.gloss + m*(k.tipGloss-k.gloss), Tip
		}
		col := k.base.mix(k.other, m*k.mottle)
		f := 1 + fuzz*n + k.streak*fibre.at(s, y)
		if k.rings > 0 {
			f *= 1 - k.rings*float32(math.Pow(math.Max(0, math.Sin(s*2.2+2*float64(m))), 6))
		}
		if k.wrinkle > 0 {
			f *= 1 - k.wrinkle*float32(math.Pow(0.5+0.5*math.Sin(v*5+3*float64(cloud.at(s, 0))), 4))
		}
		col = col.times(max(0.2, f))
		if q := dirt.at(s+100, y) + 0.3*n; q > 0.45 && k.dirty > 0 {
			col = col.mix(k.dirt, k.dirty*min(1, 2.5*(q-0.45)))
		}
		return col, k.gloss, k.class
	}
}

// course is a root's middle line on the wall before it is seen from the camera.
type course struct {
	u, y, r, deep []float64 // deep: how far behind its usual place the line lies
}

const rootStep = 0.4 // mm

// grow walks a root.
func (c *canvas) grow(d dice, p path, length, r float64, sink float64) course {
	var q course
	n := int(length / rootStep)
	deep, to := 0.0, 0.0
	if !c.manner.open && d.chance(0.35) {
		deep = d.in(1, 8) // comes out of the medium
	}
	waist := d.swatch(drawnOnce().cloud, d.in(0.2, 0.8), 0, 1)
	swing := float64(d.in(0.03, 0.18))
	taper := d.in(0, 0.35)
	if c.manner.same {
		swing, taper = 0, 0
	}
	for i := range n {
		if d.chance(sink * rootStep / 20) { // goes behind the medium, or comes back
			to = d.in(2, 9)
		} else if d.chance(rootStep / 12) {
			to = 0
		}
		deep += (to - deep) * rootStep / 4
		t := float64(i) / float64(n)
		q.u, q.y = append(q.u, p.u), append(q.y, p.y)
		q.r = append(q.r, r*(1-taper*t)*(1+swing*float64(waist.at(float64(i)*rootStep, 0))))
		q.deep = append(q.deep, deep)
		p.step(d, rootStep)
		if p.y > c.tall-12 && c.manner.ordinary { // ends before the floor
			n = i + 1
			break
		}
		if p.y > c.tall-3 && math.Sin(p.dir) > 0 { // the pot's floor turns it aside
			p.dir, p.bend = math.Atan2(0.02, math.Cos(p.dir)), 0
		}
	}
	for i := max(0, n-int(1.5*r/rootStep)); i < n; i++ { // a growing end is rounded, not cut
		t := float64(n-1-i) * rootStep / (1.5 * r)
		q.r[i] *= math.Sqrt(math.Max(0.12, t*(2-t)))
	}
	return q
}

// drawRoot puts a root into view.
func (c *canvas) drawRoot(d dice, q course, k rootLook, back float64, id uint16) {
	line := make([]knot, 0, len(q.u))
	truth := Course{DiameterMM: 2 * q.r[len(q.r)/2], Old: k.class == Old, id: id}
	s := 0.0
	for i := range q.u {
		if i > 0 {
			s += rootStep
		}
		rad := c.radius(q.y[i])
		if math.Abs(q.u[i]) > rad*1.4 {
			if len(line) > 0 {
				break
			}
			continue
		}
		inner := (rad + surfaceMM - q.r[i] - q.deep[i]) / rad
		truth.add(q.u[i]/rad, q.y[i], rad*inner)
		line = append(line, knot{c.chord(q.u[i], q.y[i]) * inner, q.y[i], q.r[i]*(1-0.6*k.flat) + q.deep[i] + back, q.r[i], s})
	}
	if len(line) < 3 {
		return
	}
	c.courses = append(c.courses, truth)
	mean := q.r[len(q.r)/2]
	c.tube(line, d.skinOf(k, float64(len(q.u)-1)*rootStep, mean), k.flat, id)
}

// habit is how the roots of a plant are alike.
type habit struct {
	path
	main     rootLook
	same     bool // most roots look like the main one
	wet      float64
	oldShare float64
	thick    float64 // mm
	sink     float64 // how readily they go behind the medium
}

func (c *canvas) habit(d dice, wet float64) habit {
	h := habit{wet: wet}
	if d.chance(0.45) {
		h.oldShare = d.in(0.1, 0.8)
	}
	h.thick = d.logIn(0.8, 2.6)
	h.path = path{wander: d.logIn(0.004, 0.05), pull: math.Max(0, d.in(-0.01, 0.03)), keep: d.in(0.02, 0.3), kink: math.Max(0, d.in(-0.02, 0.03))}
	h.sink = math.Max(0, d.in(-0.5, 2))
	if c.manner.open {
		h.sink = 0
	}
	h.main = d.livingLook(wet)
	h.same = d.chance(0.6)
	return h
}

// howMany roots are seen.
func (c *canvas) howMany(d dice) (n int) {
	switch x := d.Float64(); {
	case x < 0.14:
	case x < 0.4:
		n = d.between(1, 4)
	case x < 0.86:
		n = d.between(4, 14)
	default:
		n = d.between(14, 42)
	}
	if c.manner.ordinary {
		n = min(n, d.between(0, 12))
	}
	return n
}

// roots draws a root system; wet 0..1.
func (c *canvas) roots(d dice, wet float64, top func(x float64) float64) {
	n := c.howMany(d)
	h := c.habit(d, wet)
	for i := range n {
		id := uint16(i + 1)
		k := c.lookOf(d, &h)
		r := h.thick * d.logIn(0.6, 1.6)
		r = math.Max(0.7, math.Min(3.1, r))
		p := c.begin(d, &h, top)
		q := c.grow(d, p, d.logIn(12, 190), r, h.sink)
		back := 0.0
		if !c.manner.open && d.chance(0.5) {
			back = -0.7 * math.Log(1-d.Float64())
		}
		c.drawRoot(d, q, k, back, id)
		if !c.manner.ordinary && d.chance(0.12) {
			c.drawRoot(d, q.beside(r*d.in(1.7, 2.3)), k, back, id+500)
		}
		if d.chance(0.35) && len(q.u) > 3 {
			c.branch(d, &h, rooted{q, k, back, id})
		}
	}
}

// lookOf draws the look of one root.
func (c *canvas) lookOf(d dice, h *habit) rootLook {
	old := d.chance(h.oldShare)
	k := h.main
	if !h.same || d.chance(0.3) {
		k = d.livingLook(h.wet)
	}
	if old {
		k = d.oldLook(h.wet)
	}
	if d.chance(0.3) {
		k.tipMM = 0
	}
	if c.manner.roots {
		k = d.plainly(c, k)
	}
	return k
}

// begin is where a root comes to the wall and whither it goes.
func (c *canvas) begin(d dice, h *habit, top func(x float64) float64) path {
	x0, y0 := c.mm(0, 0)
	x1, y1 := c.mm(c.w, c.h)
	p := h.path
	p.bend = h.wander * 3 * d.normal()
	p.u, p.y = c.along(d.in(x0, x1), 0), top(0)+d.in(-4, 20)
	if d.chance(0.35) {
		p.y = d.in(y0, y1)
	}
	p.dir = math.Pi/2 + 0.7*d.normal()
	if d.chance(0.2) { // goes round the pot
		p.dir, p.pull = d.in(-0.3, 0.3), 0
		if d.chance(0.5) {
			p.dir += math.Pi
		}
		p.bend = 0
	}
	return p
}

// beside is the course of a second root that lies against this one, off mm from line to line.
func (q course) beside(off float64) course {
	q2 := q
	q2.u = append([]float64(nil), q.u...)
	q2.y = append([]float64(nil), q.y...)
	for i := range q.u {
		a, b := max(0, i-4), min(len(q.u)-1, i+4)
		dx, dy := q.u[b]-q.u[a], q.y[b]-q.y[a]
		l := math.Hypot(dx, dy) + 1e-9
		f := off * math.Min(1.5, 1+0.3*math.Sin(float64(i)*rootStep*0.08))
		q2.u[i], q2.y[i] = q.u[i]-dy/l*f, q.y[i]+dx/l*f
	}
	return q2
}

// rooted is a root that was drawn: its course and look, how far behind the wall it lies, mm, and its number.
type rooted struct {
	course
	look rootLook
	back float64
	id   uint16
}

// branch draws side roots of a root.
func (c *canvas) branch(d dice, h *habit, q rooted) {
	for branch := range d.between(1, 4) {
		at := d.IntN(len(q.u) - 1)
		b := h.path
		b.u, b.y = q.u[at], q.y[at]
		dir := math.Atan2(q.y[at+1]-q.y[at], q.u[at+1]-q.u[at])
		b.dir = dir + d.in(0.5, 1.4)*float64(1-2*d.IntN(2))
		kb := q.look
		if kb.class == Root && d.chance(0.2) {
			kb.tipMM = d.in(2, 6)
		}
		c.drawRoot(d, c.grow(d, b, d.logIn(6, 60), math.Max(0.6, q.r[at]*d.in(0.45, 0.85)), h.sink*0.5), kb, q.back, q.id+uint16(1000*(1+branch)))
	}
}
