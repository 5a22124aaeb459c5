package trainscene

// light is a sun (or lamp, or window) and light from all around.
type light struct {
	to       vec // towards the sun
	sun, sky rgb
	soft     float32 // width of a shadow's border, mm
	window   vec     // direction of the bright place that glossy things reflect
	bounce   rgb     // what the unseen part of the sky gives: light from walls and ground
}

func kelvin(d dice, lo, hi float32) rgb {
	t := d.in(lo, hi)
	// A straight line through the colours of a lamp and of a blue sky is good enough for training.
	x := (t - 5500) / 5500
	return rgb{clamp(1-0.5*x, 0.5, 1.6), 1, clamp(1+0.75*x, 0.25, 1.7)}
}

func (d dice) light(topView bool) light {
	l := light{soft: d.log(1, 60)}
	l.to = vec{d.near(0, 0.7), abs(d.near(0.7, 0.4)) + 0.15, d.near(0.6, 0.5)}.unit()
	if topView {
		l.to = vec{d.near(0, 0.6), 1, d.near(0, 0.6)}.unit()
	}
	share := d.in(0, 0.75)
	if d.chance(0.25) {
		share, l.soft = d.in(0.7, 0.93), d.log(0.5, 6) // hard sun
	}
	l.sun = kelvin(d, 2700, 6500).mul(share)
	l.sky = kelvin(d, 4000, 9000).mul(1 - share)
	l.window = vec{d.near(0, 0.8), abs(d.near(0.8, 0.4)), d.near(0.4, 0.6)}.unit()
	l.bounce = l.sky.mul(d.in(0.15, 0.5)).add(l.sun.mul(d.in(0, 0.15)))
	return l
}

// depthMap is what a far light sees: for each place across its direction the nearest surface.
type depthMap struct {
	x, y, z vec // across, across, towards the light
	mid     vec
	n       int
	scale   float32
	depth   []float32
}

func newDepthMap(to, mid vec, radius float32, n int) *depthMap {
	m := &depthMap{z: to.unit(), mid: mid, n: n, scale: float32(n) / (2 * radius)}
	m.x = m.z.cross(vec{0.31, 0.9, 0.17}).unit()
	m.y = m.z.cross(m.x)
	m.depth = make([]float32, n*n)
	for i := range m.depth {
		m.depth[i] = -1e9
	}
	return m
}

func (m *depthMap) of(p vec) (x, y, z float32) {
	q := p.sub(m.mid)
	h := float32(m.n) / 2
	return q.dot(m.x)*m.scale + h, q.dot(m.y)*m.scale + h, q.dot(m.z)
}

func (m *depthMap) draw(ms *mesh) {
	if ms.dark {
		return
	}
	type pt struct{ x, y, z float32 }
	ps := make([]pt, len(ms.v))
	for i := range ms.v {
		ps[i].x, ps[i].y, ps[i].z = m.of(ms.v[i].p)
	}
	lim := float32(m.n)
	for _, t := range ms.t {
		a, b, c := ps[t[0]], ps[t[1]], ps[t[2]]
		x0, x1 := min(a.x, b.x, c.x), max(a.x, b.x, c.x)
		y0, y1 := min(a.y, b.y, c.y), max(a.y, b.y, c.y)
		if x1 < 0 || y1 < 0 || x0 >= lim || y0 >= lim {
			continue
		}
		area := (b.x-a.x)*(c.y-a.y) - (b.y-a.y)*(c.x-a.x)
		if area == 0 {
			continue
		}
		inv := 1 / area
		for y := max(0, int(y0)); y <= min(m.n-1, int(y1)); y++ {
			py := float32(y) + 0.5
			for x := max(0, int(x0)); x <= min(m.n-1, int(x1)); x++ {
				px := float32(x) + 0.5
				w1 := ((px-a.x)*(c.y-a.y) - (py-a.y)*(c.x-a.x)) * inv
				w2 := ((b.x-a.x)*(py-a.y) - (b.y-a.y)*(px-a.x)) * inv
				if w1 < -0.01 || w2 < -0.01 || w1+w2 > 1.01 {
					continue
				}
				z := a.z + w1*(b.z-a.z) + w2*(c.z-a.z)
				if i := y*m.n + x; z > m.depth[i] {
					m.depth[i] = z
				}
			}
		}
	}
}

// lit says whether the light sees p, within a margin in mm.
func (m *depthMap) lit(p vec, margin float32) float32 {
	x, y, z := m.of(p)
	return m.above(x, y, z+margin)
}

// turns are directions round a circle, in an order that leaps about.
var turns = func() (t [64][2]float32) {
	for i := range t {
		t[i][0], t[i][1] = sincos(float32(i*27%64) * 2 * pi / 64)
	}
	return
}()

// sunAt is the share of the light that reaches p, asked for at four places, so that the shadow's border is as wide as soft.
func (m *depthMap) sunAt(p vec, soft float32, jitter uint32) float32 {
	x, y, z := m.of(p)
	z += 2.5 + 0.4*soft
	if soft < 1.5 {
		return m.above(x, y, z)
	}
	s := float32(0)
	step := soft * 0.125 * m.scale
	r := step
	for k := range uint32(4) {
		t := &turns[(jitter+k*19)&63]
		s += m.above(x+r*t[0], y+r*t[1], z)
		r += step
	}
	return s / 4
}

func (m *depthMap) above(x, y, z float32) float32 {
	if !(x >= 0 && y >= 0) {
		return 1
	}
	ix, iy := int(x), int(y)
	if ix >= m.n || iy >= m.n || m.depth[iy*m.n+ix] < z {
		return 1
	}
	return 0
}

// skyShare gives every vertex the share of the upper half of the sky (and of a room) that it sees.
func skyShare(all []*mesh, mid vec, radius float32, d dice) {
	const dirs = 14
	var maps []*depthMap
	for i := range dirs {
		t := (float32(i) + 0.5) / dirs
		y := 1 - 1.15*t
		r := sqrt(max(0.02, 1-y*y))
		s, c := sincos(float32(i)*2.399 + d.in(0, 0.5))
		maps = append(maps, newDepthMap(vec{r * c, y, r * s}, mid, radius, 224))
	}
	for _, m := range maps {
		for _, ms := range all {
			m.draw(ms)
		}
	}
	margin := radius / 70
	for _, ms := range all {
		for i := range ms.v {
			v := &ms.v[i]
			sum, seen := float32(1e-3), float32(0)
			for _, m := range maps {
				w := v.n.dot(m.z)
				if ms.thin {
					w = abs(w)
				}
				if w <= 0.02 {
					continue
				}
				sum += w
				off := v.n
				if ms.thin && v.n.dot(m.z) < 0 {
					off = off.mul(-1)
				}
				seen += w * m.lit(v.p.add(off.mul(margin*0.4)), margin)
			}
			v.sky = seen / sum
		}
	}
}
