package trainscene

import (
	"cmp"
	"image"
	"slices"

	"phototrack/internal/record"
)

// composition is a scene with what the calibration of its photo would know.
type composition struct {
	scene
	card   []record.Point
	tags   [][]record.Point
	sheets []printed // the card, then the tag; none where there is no card
}

// composer puts a scene together.
type composer struct {
	dice
	photos *Photos
	near   []*mesh // what stands in the plane of the plant: in focus
	behind []layer
	ground []*mesh
	wall   []*mesh
	cards  []printed // the card, then the tag
	lo, hi vec       // what should be in the frame
	top    bool
}

// sceneKind is what a scene is of.
type sceneKind int

const (
	fromBefore sceneKind = iota // a potted plant
	fromAbove                   // the same, seen from above
	cutLeaves                   // on the table
	bareScene                   // a plant without card and tag, from anywhere
)

func (d dice) kind() sceneKind { return sceneKind(d.pick(7.4, 2.2, 0.7, 1.4)) }

func compose(d dice, kind sceneKind, size image.Point, photos *Photos) *composition {
	w, h := size.X, size.Y
	c := &composer{dice: d, photos: photos, lo: vec{1e9, 1e9, 1e9}, hi: vec{-1e9, -1e9, -1e9}}
	out := &composition{}
	bare := kind == bareScene || d.chance(0.03) // no card, no tag: all leaves count
	c.top = kind == fromAbove || kind == cutLeaves || (kind == bareScene && d.chance(0.3))
	if kind == cutLeaves {
		c.loose(bare)
	} else {
		c.potted(bare)
	}
	c.surroundings()
	c.aim(out, w, h)
	aperture := float32(0)
	if d.chance(0.55) || (len(c.behind) > 0 && d.chance(0.6)) {
		aperture = d.log(2, 30)
	}
	dist := c.mid(out)
	if d.chance(0.25) && photos.some() && !c.top {
		out.backdrop, out.behind = photos.behind(d, w, h)
		out.blurBack = d.in(0, aperture)
		c.wall = nil
		if d.chance(0.4) {
			c.ground = nil
		}
	}
	c.stack(out, aperture, dist)
	out.light = d.light(c.top)
	n := vec{0, 0.1, 1}
	if c.top {
		n = vec{0, 1, 0}
	}
	if bare {
		out.balance(n, 0.6)
		out.allCount()
	} else {
		out.balance(n, 0)
	}
	return out
}

// stack lays what is seen in layers, the farthest first, each with its blur.
func (c *composer) stack(out *composition, aperture, dist float32) {
	if c.wall != nil {
		out.layers = append(out.layers, layer{c.wall, aperture * c.in(0.3, 1)})
	}
	if c.ground != nil {
		out.layers = append(out.layers, layer{m: c.ground})
	}
	for _, l := range c.behind { // blurPx holds the distance behind, mm
		out.layers = append(out.layers, layer{l.m, aperture * 2.5 * l.blurPx / (dist + l.blurPx)})
	}
	out.layers = append(out.layers, layer{m: c.near})
}

// allCount makes every leaf one that counts: without a tag none is another plant's, but for what is far out of focus.
func (o *composition) allCount() {
	for _, l := range o.layers {
		for _, m := range l.m {
			if m.class == other {
				m.class = counted(l.blurPx)
			}
		}
	}
	for i, k := range o.behind {
		if k == other {
			o.behind[i] = counted(o.blurBack)
		}
	}
}

// counted is the class, in a photo without card and tag, of a plant that is so far out of focus.
func counted(blurPx float32) uint8 {
	switch {
	case blurPx < 1.5:
		return leaf
	case blurPx < 5: // for the eye to say
		return ignore
	}
	return other
}

func (c *composer) mid(o *composition) float32 {
	o.mid = c.lo.add(c.hi).mul(0.5)
	o.radius = clamp(c.hi.sub(c.lo).norm()*0.6, 150, 900)
	return o.cam.at.sub(o.mid).norm()
}

// show widens what should be in the frame.
func (c *composer) show(ms ...*mesh) {
	for _, m := range ms {
		for i := range m.v {
			c.showAt(m.v[i].p)
		}
	}
}

func (c *composer) showAt(p vec) {
	for k := range 3 {
		c.lo[k], c.hi[k] = min(c.lo[k], p[k]), max(c.hi[k], p[k])
	}
}

// potPlant draws a plant in its pot, standing at the origin.
func (c *composer) potPlant(d dice, size, detail float32) (ms []*mesh, v vessel) {
	v = d.vesselOf(clamp(size*d.in(0.1, 0.24), 22, 130))
	p := d.grow(size, detail)
	for _, m := range p.m {
		m.place(1, d.in(0, 0.01), vec{0, v.medium, 0})
	}
	return append(v.m, p.m...), v
}

func recode(ms []*mesh, leaves, pots uint8) {
	for _, m := range ms {
		switch m.class {
		case leaf, part:
			m.class = leaves
		case pot:
			m.class = pots
		}
	}
}

// potted is the usual photo: the plant in its pot, card and tag by it, neighbours.
func (c *composer) potted(bare bool) {
	size := c.log(280, 850)
	if c.chance(0.25) {
		size = c.log(110, 260)
	}
	seed := c.Uint64()
	ms, v := c.potPlant(newDice(seed), size, 1)
	turn := c.in(0, 2*pi)
	for _, m := range ms {
		m.place(1, turn, vec{})
	}
	if c.photos != nil && len(c.photos.cuts) > 0 && c.chance(0.06) { // a real leafy thing stands in for the plant
		cut := &c.photos.cuts[c.IntN(len(c.photos.cuts))]
		if cut.class == leaf {
			ms = append(v.m, cut.stand(size, leaf).place(1, 0, vec{0, v.medium, 0}))
		}
	}
	c.near = append(c.near, ms...)
	spikesToo := c.chance(0.35) // else the frame is chosen for leaves and pot, and may cut a spike off
	for _, m := range ms {
		if m.class != part || spikesToo {
			c.show(m)
		}
	}
	if c.chance(0.25) {
		c.stakes(v, size)
	}
	if !bare {
		c.putCard(size, v)
		c.putTag(v)
	}
	n := c.pick(4, 2.2, 2, 1.2, 1, 0.7)
	for range n {
		c.neighbour(seed, size, v)
	}
	slices.SortStableFunc(c.behind, func(a, b layer) int { return cmp.Compare(b.blurPx, a.blurPx) }) // far to near
}

// neighbour draws another plant, often one of the same kind, beside or behind a plant of the given seed, size and pot.
func (c *composer) neighbour(seed uint64, size float32, v vessel) {
	s2, size2 := c.Uint64(), size*c.about(0.9, 0.35)
	if c.chance(0.35) {
		s2, size2 = seed, size
	}
	ms, v2 := c.potPlant(newDice(s2), size2, 0.7)
	recode(ms, other, rest)
	turn := c.in(0, 2*pi)
	at, behind := c.besideOrBehind(size, v.rim+v2.rim)
	if !behind && len(c.cards) > 1 { // the tag stands by the plant that it belongs to
		tag := c.cards[1].o
		tag[1] = 0
		if tag.sub(at).norm() < 1.4*tag.norm() {
			return
		}
	}
	for _, m := range ms {
		m.place(1, turn, at)
	}
	if behind {
		c.behind = append(c.behind, layer{ms, -at[2]})
		return
	}
	c.near = append(c.near, ms...)
}

// besideOrBehind is where a neighbour stands; rims is the sum of both pots' radii.
func (c *composer) besideOrBehind(size, rims float32) (at vec, behind bool) {
	gap := rims + c.in(2, 1.2*size)
	side := float32(1)
	if c.chance(0.5) {
		side = -1
	}
	at = vec{side * gap, 0, c.near2(0, 30)}
	behind = c.chance(0.6)
	if c.top {
		s, co := sincos(c.in(0, 2*pi))
		return vec{gap * s * 1.3, 0, gap * co * 1.3}, false
	}
	if !behind {
		return at, false
	}
	at = vec{c.near2(0, 0.7*size+60), c.near2(0, 20), -(rims + c.log(5, 900))}
	if c.chance(0.45) { // close behind: its leaves show between the plant's own
		at = vec{c.near2(0, 0.35*size), c.near2(0, 15), -(rims + c.log(3, 250))}
	}
	if c.chance(0.3) {
		at[1] += c.in(0, 200)
	}
	return at, true
}

func (c *composer) near2(a, s float32) float32 { return c.dice.near(a, s) }

// loose are cut leaves that lie on something, without a pot.
func (c *composer) loose(bare bool) {
	f := c.foliage()
	g := grower{dice: c.dice, f: &f, size: 200, detail: 1, p: &plant{}}
	n := c.count(1, 7)
	length := c.log(45, 200)
	if c.chance(0.4) { // on a sheet
		w, h := c.in(180, 420), c.in(150, 320)
		m := rectangle{vec{-w / 2, 0.6, -h / 2}, vec{w}, vec{0, 0, h}}.mesh(8, 8, plain(lch(c.in(50, 97), c.in(0, 10), c.in(0, 360)), 0.03, 0, 1, 2), rest)
		c.near = append(c.near, m)
	}
	b := g.shape(length, length*g.log(0.15, 0.9))
	b.fold = 0
	for range n {
		if c.chance(0.3) {
			f = c.foliage()
		}
		v := g.vary(b)
		v.twist = 0
		v.wave *= 0.3
		s, co := sincos(c.in(0, 2*pi))
		m := v.draw(foot{vec{c.in(-160, 160), c.in(1, 3), c.in(-120, 120)}, vec{s, 0, co}, vec{0, 1, 0}}, f.material(c.dice), leaf, 9, 20)
		c.near = append(c.near, m)
		c.show(m)
	}
	if !bare {
		c.putCard(150, vessel{})
		c.putTag(vessel{})
	}
}

// stakes stand in the pot, with clips and labels.
func (c *composer) stakes(v vessel, size float32) {
	for range c.count(1, 3) {
		x, z := c.in(-0.7, 0.7)*v.rim, c.in(-0.5, 0.7)*v.rim
		top := v.medium + size*c.in(0.3, 1)
		p := []vec{{x, v.medium - 3, z}, {x, (v.medium + top) / 2, z}, {x + c.near2(0, 10), top, z}}
		r := c.in(0.8, 4)
		mat := plain(c.wood(), 0.15, 0.2, 0.5, c.Uint32())
		if c.chance(0.4) {
			mat = plain(c.anyColour(), 0.05, 0.4, 0.4, c.Uint32())
		}
		c.near = append(c.near, tube(p, func(float32) float32 { return r }, 7, mat, rest))
		for range c.count(0, 2) {
			q := vec{x, v.medium + c.in(0.1, 0.9)*(top-v.medium), z}
			s := c.in(3, 8)
			c.near = append(c.near, box(q.sub(vec{s, s * 0.5, s}), q.add(vec{s, s * 0.5, s}), plain(c.anyColour(), 0.05, 0.3, 0.5, 1), rest)...)
		}
	}
	if c.chance(0.4) { // a nursery label
		mat := plain(c.anyColour(), 0.03, 0.2, 0.6, 1)
		o := vec{c.in(-0.7, 0.5) * v.rim, v.height + c.in(10, 60), c.in(0, 0.9) * v.rim}
		c.near = append(c.near, rectangle{o, vec{c.in(10, 24)}, vec{0, -c.in(40, 90), c.near2(0, 8)}}.mesh(2, 2, mat, rest))
	}
}

// aim sets up the camera, so that what should be seen is in the frame.
func (c *composer) aim(o *composition, w, h int) {
	mid := c.lo.add(c.hi).mul(0.5)
	half := c.hi.sub(c.lo).mul(0.5)
	f := float32(max(w, h)) * c.log(24, 70) / 36
	across, high := half[0], half[1]
	if c.top {
		high = half[2]
	}
	margin := 1.03 + 0.75*c.Float32()*c.Float32()
	if c.chance(0.65) { // as is asked of growers: the plant fills the frame
		margin = c.in(1, 1.2)
	}
	if c.chance(0.08) {
		margin = c.in(0.6, 1) // cut off by the frame
	}
	dist := max(across*2*f/float32(w), high*2*f/float32(h))*margin + half[2]
	if c.top {
		dist += half[1]
	}
	dist = max(dist, 160)
	dir := vec{c.near2(0, 0.12), abs(c.near2(0.12, 0.18)), 1}.unit()
	if c.top {
		dir = vec{c.near2(0, 0.12), 1, c.near2(0.1, 0.2)}.unit()
	}
	aim := mid.add(vec{c.near2(0, 0.06) * across, c.near2(0, 0.06) * high, 0})
	o.cam = lookAt(aim.add(dir.mul(dist)), aim, c.near2(0, 0.025))
	o.cam.f, o.cam.w, o.cam.h = f, w, h
	o.cam.cx, o.cam.cy = float32(w)/2, float32(h)/2
	o.sheets = c.cards
	o.outline()
}
