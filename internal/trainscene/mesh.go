package trainscene

// Class codes of the picture's places; see package regions. Card and Tag are told to the network, not guessed.
const (
	rest uint8 = iota
	leaf
	part
	other
	pot
	ignore uint8 = 255
)

// look is what a surface is like at a place (u, v) of it; at is the place in space.
type look struct {
	albedo  rgb
	gloss   float32 // strength of the highlight
	rough   float32 // 0 mirror .. 1
	through float32 // share of light that comes through, as through a leaf
	gone    bool    // a hole
}

type material func(u, v float32, at vec) look

type vertex struct {
	p, n vec
	u, v float32
	sky  float32 // share of the sky that is seen
}

type mesh struct {
	v     []vertex
	t     [][3]int32
	mat   material
	class uint8
	holed bool // the material has holes: asked for every pixel
	thin  bool // lit from both sides
	dark  bool // casts no shadow
}

// grid adds a sheet of nu x nv vertices, made by at, with normals from its neighbours.
func grid(nu, nv int, at func(i, j int) (p vec, u, v float32)) *mesh {
	m := &mesh{}
	for j := range nv {
		for i := range nu {
			p, u, v := at(i, j)
			m.v = append(m.v, vertex{p: p, u: u, v: v})
		}
	}
	for j := range nv - 1 {
		for i := range nu - 1 {
			a, b := int32(j*nu+i), int32(j*nu+i+1)
			c, d := a+int32(nu), b+int32(nu)
			m.t = append(m.t, [3]int32{a, b, d}, [3]int32{a, d, c})
		}
	}
	m.normals()
	return m
}

func (m *mesh) normals() {
	for i := range m.v {
		m.v[i].n = vec{}
	}
	for _, t := range m.t {
		a, b, c := m.v[t[0]].p, m.v[t[1]].p, m.v[t[2]].p
		n := b.sub(a).cross(c.sub(a))
		for _, k := range t {
			m.v[k].n = m.v[k].n.add(n)
		}
	}
	for i := range m.v {
		m.v[i].n = m.v[i].n.unit()
	}
}

// place turns a mesh about the upright axis, scales and moves it.
func (m *mesh) place(scale, turn float32, to vec) *mesh {
	s, c := sincos(turn)
	for i := range m.v {
		v := &m.v[i]
		v.p = vec{scale * (c*v.p[0] + s*v.p[2]), scale * v.p[1], scale * (c*v.p[2] - s*v.p[0])}.add(to)
		v.n = vec{c*v.n[0] + s*v.n[2], v.n[1], c*v.n[2] - s*v.n[0]}
	}
	return m
}

// rectangle is flat, from a corner o with sides a and b.
type rectangle struct{ o, a, b vec }

// mesh is the rectangle as a sheet of nu x nv vertices; u and v run 0..1.
func (r rectangle) mesh(nu, nv int, mat material, class uint8) *mesh {
	m := grid(nu, nv, func(i, j int) (vec, float32, float32) {
		u, v := float32(i)/float32(nu-1), float32(j)/float32(nv-1)
		return r.o.add(r.a.mul(u)).add(r.b.mul(v)), u, v
	})
	m.mat, m.class = mat, class
	return m
}

// corners are its four, round about, from o along a.
func (r rectangle) corners() [4]vec {
	return [4]vec{r.o, r.o.add(r.a), r.o.add(r.a).add(r.b), r.o.add(r.b)}
}

// box is a block between two corners.
func box(lo, hi vec, mat material, class uint8) (out []*mesh) {
	s := hi.sub(lo)
	x, y, z := vec{s[0]}, vec{0, s[1]}, vec{0, 0, s[2]}
	for _, f := range [][3]vec{{lo.add(z), x, y}, {lo.add(x), z.mul(-1).add(z).add(z), y}, {lo, y, z}, {lo.add(y), z, x}, {lo.add(x), y, x.mul(-1)}} {
		out = append(out, rectangle{f[0], f[1], f[2]}.mesh(2, 2, mat, class))
	}
	return
}

// lathe turns a profile (radius, height) about the upright axis through c; v runs along the profile.
func lathe(c vec, profile [][2]float32, n int, mat material, class uint8) *mesh {
	m := grid(n+1, len(profile), func(i, j int) (vec, float32, float32) {
		s, co := sincos(2 * pi * float32(i) / float32(n))
		p := profile[len(profile)-1-j]
		return c.add(vec{p[0] * co, p[1], p[0] * s}), float32(i) / float32(n), float32(j) / float32(len(profile)-1)
	})
	m.mat, m.class = mat, class
	return m
}

// tube follows a path with radii.
func tube(path []vec, radius func(t float32) float32, sides int, mat material, class uint8) *mesh {
	n := len(path)
	side := vec{1, 0, 0.1}
	m := &mesh{mat: mat, class: class}
	for j, p := range path {
		dir := path[min(n-1, j+1)].sub(path[max(0, j-1)]).unit()
		x := side.sub(dir.mul(side.dot(dir)))
		if x.norm() < 0.05 {
			x = vec{0, 0.2, 1}.sub(dir.mul(dir[2] + 0.2*dir[1]))
		}
		x = x.unit()
		side = x
		y := dir.cross(x)
		t := float32(j) / float32(n-1)
		for i := 0; i <= sides; i++ {
			s, c := sincos(2 * pi * float32(i) / float32(sides))
			nn := x.mul(c).add(y.mul(s))
			m.v = append(m.v, vertex{p: p.add(nn.mul(radius(t))), n: nn, u: float32(i) / float32(sides), v: t})
		}
	}
	w := int32(sides + 1)
	for j := range int32(n - 1) {
		for i := range int32(sides) {
			a, b := j*w+i, j*w+i+1
			m.t = append(m.t, [3]int32{a, b, b + w}, [3]int32{a, b + w, a + w})
		}
	}
	return m
}

// ball is an ellipsoid with half axes r, its long axis along up.
func ball(c, up vec, r vec, mat material, class uint8) *mesh {
	up = up.unit()
	x := vec{1, 0.01, 0.02}
	x = x.sub(up.mul(x.dot(up))).unit()
	z := x.cross(up)
	m := grid(15, 9, func(i, j int) (vec, float32, float32) {
		s, co := sincos(2 * pi * float32(i) / 14)
		sa, ca := sincos(pi * float32(j) / 8)
		return c.add(x.mul(r[0] * sa * co)).add(up.mul(r[1] * ca)).add(z.mul(r[2] * sa * s)), float32(i) / 14, float32(j) / 8
	})
	for i := range m.v { // away from the middle, whatever the sheet's own turn
		if m.v[i].n.dot(m.v[i].p.sub(c)) < 0 {
			m.v[i].n = m.v[i].n.mul(-1)
		}
	}
	m.mat, m.class = mat, class
	return m
}

// bend is a path from p in a direction, that sinks or rises as it goes; n points.
func bend(p, dir vec, length, sink float32, n int) []vec {
	out := []vec{p}
	step := length / float32(n-1)
	for range n - 1 {
		p = p.add(dir.mul(step))
		out = append(out, p)
		dir = dir.add(vec{0, -sink * step, 0}).unit()
	}
	return out
}
