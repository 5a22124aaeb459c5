package trainscene

// layer is a group of meshes that share how far out of focus they are; layers are drawn from far to near.
type layer struct {
	m      []*mesh
	blurPx float32
}

// scene is all that is seen, and how.
type scene struct {
	backdrop []rgb   // of the picture's size, or nil
	behind   []uint8 // its classes
	blurBack float32
	layers   []layer
	light    light
	cam      camera
	mid      vec // about what the light is computed in detail
	radius   float32
}

type camera struct {
	at               vec
	right, up, ahead vec
	f, cx, cy        float32
	w, h             int
}

func lookAt(at, to vec, roll float32) camera {
	c := camera{at: at, ahead: to.sub(at).unit()}
	up := vec{0, 1, 0}
	if abs(c.ahead[1]) > 0.9 {
		up = vec{0, 0, -1}
	}
	c.right = c.ahead.cross(up).unit()
	c.up = c.right.cross(c.ahead)
	c.right, c.up = c.right.about(c.ahead, roll), c.up.about(c.ahead, roll)
	return c
}

func (c *camera) see(p vec) (x, y, inv float32) {
	q := p.sub(c.at)
	z := q.dot(c.ahead)
	if z < 15 {
		return 0, 0, 0
	}
	inv = 1 / z
	return c.cx + c.f*q.dot(c.right)*inv, c.cy - c.f*q.dot(c.up)*inv, inv
}

// canvas is the picture in linear light, with the class of each pixel.
type canvas struct {
	w, h  int
	c     []rgb
	class []uint8
}

type corner struct{ x, y, inv float32 }

// projected is a mesh as the camera sees it.
type projected struct {
	*mesh
	corners []corner
}

// film is memory for one scene after another.
type film struct {
	depth []float32
	tri   []int32
	of    []int32
	rgba  [][4]float32
	ids   []uint8
	line  [][4]float32
}

func (f *film) room(n int) {
	if len(f.depth) < n {
		f.depth, f.tri, f.of = make([]float32, n), make([]int32, n), make([]int32, n)
		f.rgba, f.ids = make([][4]float32, n), make([]uint8, n)
	}
}

// balance scales the lights so that white paper of that normal is white: what calibration, or a camera's own judgement, does.
func (s *scene) balance(n vec, cast float32) {
	l := &s.light
	e := l.sun.mul(max(0.05, n.dot(l.to))).add(l.sky.mul(0.65 + 0.35*n[1]))
	for k := range 3 {
		g := 1 / (0.9 * (e[1] + (1-cast)*(e[k]-e[1])))
		g = min(g, 6)
		l.sun[k] *= g
		l.sky[k] *= g
		l.bounce[k] *= g
	}
}

// shoot draws the scene.
func (f *film) shoot(s *scene, d dice) *canvas {
	w, h := s.cam.w, s.cam.h
	f.room(w * h)
	cv := &canvas{w: w, h: h, c: make([]rgb, w*h), class: make([]uint8, w*h)}
	var all []*mesh
	for _, l := range s.layers {
		all = append(all, l.m...)
	}
	sun := newDepthMap(s.light.to, s.mid, s.radius, 1024)
	for _, m := range all {
		sun.draw(m)
	}
	skyShare(all, s.mid, s.radius, d)
	if s.backdrop != nil {
		f.hang(s, cv)
	}
	for _, l := range s.layers {
		f.draw(s, l.m, sun)
		if l.blurPx > 0.3 {
			f.blur(w, h, l.blurPx)
		}
		f.over(cv)
	}
	return cv
}

// hang puts the backdrop behind all else.
func (f *film) hang(s *scene, cv *canvas) {
	copy(cv.c, s.backdrop)
	copy(cv.class, s.behind)
	if s.blurBack <= 0.3 {
		return
	}
	for i, c := range cv.c {
		f.rgba[i] = [4]float32{c[0], c[1], c[2], 1}
	}
	f.blur(cv.w, cv.h, s.blurBack)
	for i := range cv.c {
		cv.c[i] = rgb{f.rgba[i][0], f.rgba[i][1], f.rgba[i][2]}
	}
}

// over lays the layer that was drawn over the picture (Porter & Duff 1984).
func (f *film) over(cv *canvas) {
	for i := range cv.c {
		a := f.rgba[i][3]
		if a <= 0 {
			continue
		}
		for k := range 3 {
			cv.c[i][k] = f.rgba[i][k] + (1-a)*cv.c[i][k]
		}
		if a > 0.5 {
			cv.class[i] = f.ids[i]
			if f.of[i] < 0 { // spread over a gap
				cv.class[i] = ignore
			}
		}
	}
}

// project notes for every pixel which triangle of which mesh is the nearest.
func (f *film) project(c *camera, ms []*mesh) []projected {
	w, h := c.w, c.h
	for i := range w * h {
		f.depth[i], f.of[i] = 0, -1
	}
	seen := make([]projected, len(ms))
	for k, m := range ms {
		cs := make([]corner, len(m.v))
		for i := range m.v {
			cs[i].x, cs[i].y, cs[i].inv = c.see(m.v[i].p)
		}
		seen[k] = projected{m, cs}
		for ti := range m.t {
			f.cover(seen, int32(k), int32(ti), w, h)
		}
	}
	return seen
}

// draw makes the layer's picture in rgba (premultiplied) and its classes in ids.
func (f *film) draw(s *scene, ms []*mesh, sun *depthMap) {
	w, n := s.cam.w, s.cam.w*s.cam.h
	for i := range n {
		f.rgba[i], f.ids[i] = [4]float32{}, 0
	}
	seen := f.project(&s.cam, ms)
	for i := range n {
		if f.of[i] < 0 {
			continue
		}
		m := &seen[f.of[i]]
		t, cs := m.t[f.tri[i]], m.corners
		b := weights(cs[t[0]], cs[t[1]], cs[t[2]], float32(i%w), float32(i/w))
		v0, v1, v2 := &m.v[t[0]], &m.v[t[1]], &m.v[t[2]]
		at := vertex{
			p: v0.p.mul(b[0]).add(v1.p.mul(b[1])).add(v2.p.mul(b[2])),
			n: v0.n.mul(b[0]).add(v1.n.mul(b[1])).add(v2.n.mul(b[2])).unit(),
			u: b[0]*v0.u + b[1]*v1.u + b[2]*v2.u, v: b[0]*v0.v + b[1]*v1.v + b[2]*v2.v,
			sky: b[0]*v0.sky + b[1]*v1.sky + b[2]*v2.sky,
		}
		k := s.shade(m.mesh, &at, sun, uint32(i)*2654435761>>20)
		f.rgba[i] = [4]float32{k[0], k[1], k[2], 1}
		f.ids[i] = m.class
	}
}

func weights(a, b, c corner, x, y float32) [3]float32 {
	area := (b.x-a.x)*(c.y-a.y) - (b.y-a.y)*(c.x-a.x)
	inv := 1 / area
	w1 := ((x-a.x)*(c.y-a.y) - (y-a.y)*(c.x-a.x)) * inv
	w2 := ((b.x-a.x)*(y-a.y) - (b.y-a.y)*(x-a.x)) * inv
	p0, p1, p2 := (1-w1-w2)*a.inv, w1*b.inv, w2*c.inv
	n := 1 / (p0 + p1 + p2)
	return [3]float32{p0 * n, p1 * n, p2 * n}
}

// cover marks the pixels where triangle ti of mesh k is the nearest yet, in a picture of w x h px.
func (f *film) cover(ms []projected, k, ti int32, w, h int) {
	m, cs := ms[k].mesh, ms[k].corners
	t := m.t[ti]
	a, b, c := cs[t[0]], cs[t[1]], cs[t[2]]
	x0, x1 := min(a.x, b.x, c.x), max(a.x, b.x, c.x)
	y0, y1 := min(a.y, b.y, c.y), max(a.y, b.y, c.y)
	if x1 < 0 || y1 < 0 || x0 > float32(w-1) || y0 > float32(h-1) {
		return
	}
	area := (b.x-a.x)*(c.y-a.y) - (b.y-a.y)*(c.x-a.x)
	if a.inv*b.inv*c.inv == 0 || abs(area) < 1e-6 { // one lies behind the camera, or all in a line
		return
	}
	inv := 1 / area
	dx1, dx2 := (c.y-a.y)*inv, -(b.y-a.y)*inv
	for y := max(0, int(y0)); y <= min(h-1, int(y1)+1); y++ {
		fy := float32(y)
		xs := max(0, int(x0))
		w1 := ((float32(xs)-a.x)*(c.y-a.y) - (fy-a.y)*(c.x-a.x)) * inv
		w2 := ((b.x-a.x)*(fy-a.y) - (b.y-a.y)*(float32(xs)-a.x)) * inv
		for x := xs; x <= min(w-1, int(x1)+1); x++ {
			if w1 >= 0 && w2 >= 0 && w1+w2 <= 1 {
				z := a.inv + w1*(b.inv-a.inv) + w2*(c.inv-a.inv)
				i := y*w + x
				if z > f.depth[i] && !(m.holed && m.goneAt(cs, t, float32(x), fy)) {
					f.depth[i], f.of[i], f.tri[i] = z, k, ti
				}
			}
			w1 += dx1
			w2 += dx2
		}
	}
}

func (m *mesh) goneAt(cs []corner, t [3]int32, x, y float32) bool {
	b := weights(cs[t[0]], cs[t[1]], cs[t[2]], x, y)
	v0, v1, v2 := &m.v[t[0]], &m.v[t[1]], &m.v[t[2]]
	return m.mat(b[0]*v0.u+b[1]*v1.u+b[2]*v2.u, b[0]*v0.v+b[1]*v1.v+b[2]*v2.v, v0.p).gone
}

// shade is the light that a place sends to the camera.
func (s *scene) shade(m *mesh, at *vertex, sun *depthMap, jitter uint32) rgb {
	p, n, sky := at.p, at.n, at.sky
	k := m.mat(at.u, at.v, p)
	eye := s.cam.at.sub(p).unit()
	if n.dot(eye) < 0 {
		n = n.mul(-1)
	}
	l := &s.light
	nl := n.dot(l.to)
	sh := sun.sunAt(p, l.soft, jitter)
	direct := max(0, nl) * sh
	if m.thin && nl < 0 {
		direct = -nl * sh * k.through
	} else if m.thin {
		direct *= 1 - 0.4*k.through
	}
	amb := l.sky.mul(sky * (0.65 + 0.35*n[1])).add(l.bounce.mul(1 - 0.6*sky))
	e := l.sun.mul(direct).add(amb)
	out := k.albedo.times(e)
	if m.thin && k.through > 0 && nl < 0 { // light that came through is more yellow
		out = out.times(rgb{1, 1.06, 0.75})
	}
	if k.gloss > 0 {
		half := l.to.add(eye).unit()
		nh := max(0, n.dot(half))
		shine := 4 / (k.rough*k.rough*k.rough + 0.004)
		spec := float32(0)
		if nh > 0.4 && sh > 0 {
			spec = k.gloss * 0.04 * (shine + 2) / 8 * pow(nh, shine) * sh
		}
		r := n.mul(2 * n.dot(eye)).sub(eye)
		fres := 0.04 + 0.5*fifth(1-clamp(n.dot(eye), 0, 1))
		win := smooth(0.5-0.4*k.rough, 0.75+0.2*k.rough, r.dot(l.window))
		out = out.add(l.sun.mul(min(spec, 3))).add(l.sky.mul(k.gloss * fres * sky * (0.3 + 3*win)))
	}
	return out
}

func fifth(x float32) float32 { return x * x * x * x * x }

// blur spreads rgba as a lens out of focus does, about r px wide to each side: three box means.
func (f *film) blur(w, h int, r float32) {
	if len(f.line) < max(w, h) {
		f.line = make([][4]float32, max(w, h))
	}
	ri := int(r/1.7 + 0.5)
	if r < 1.7 { // two means of three, so that little out of focus is little
		k := r * r * 0.115
		for range 2 {
			for y := range h {
				softenLine(f.rgba[y*w:], 1, w, k)
			}
			for x := range w {
				softenLine(f.rgba[x:], w, h, k)
			}
		}
		return
	}
	for range 2 {
		for y := range h {
			boxLine(f.rgba[y*w:], 1, w, ri, f.line)
		}
		for x := range w {
			boxLine(f.rgba[x:], w, h, ri, f.line)
		}
	}
}

// softenLine gives every pixel the share k of each of its two neighbours.
func softenLine(v [][4]float32, step, n int, k float32) {
	last := v[0]
	for i := range n {
		at := v[i*step]
		next := v[min(n-1, i+1)*step]
		for j := range 4 {
			v[i*step][j] = (1-2*k)*at[j] + k*(last[j]+next[j])
		}
		last = at
	}
}

func boxLine(v [][4]float32, step, n, r int, line [][4]float32) {
	for i := range n {
		line[i] = v[i*step]
	}
	inv := 1 / float32(2*r+1)
	var sum [4]float32
	for i := -r; i <= r; i++ {
		q := line[min(n-1, max(0, i))]
		for k := range 4 {
			sum[k] += q[k]
		}
	}
	for i := range n {
		out := &v[i*step]
		a, b := line[min(n-1, i+r+1)], line[max(0, i-r)]
		for k := range 4 {
			out[k] = sum[k] * inv
			sum[k] += a[k] - b[k]
		}
	}
}
