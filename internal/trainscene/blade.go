package trainscene

// outline gives the half width of a blade, 0..1, at the place t along it, 0 foot .. 1 tip.
type outline func(t float32) float32

// outlines are the leaf shapes: what botany calls linear, lanceolate, elliptic, ovate, obovate, spatulate, orbicular, cordate.
func (d dice) outline() outline {
	peak := d.in(0.25, 0.7)
	sharp := d.in(0.45, 1.3)
	switch d.pick(2, 3, 2, 1, 1) {
	case 0: // strap: even width, drawn in at the tip
		tip, foot := d.in(0.65, 0.95), d.in(0.3, 1)
		return func(t float32) float32 {
			return (foot + (1-foot)*smooth(0, 0.3, t)) * sqrt(max(0, 1-pow(max(0, (t-tip)/(1-tip)), 2)))
		}
	case 1: // widest at the peak
		return func(t float32) float32 {
			x := t / peak
			if t > peak {
				x = (1 - t) / (1 - peak)
			}
			return pow(clamp(x*(2-x), 0, 1), sharp)
		}
	case 2: // ellipse
		return func(t float32) float32 { return sqrt(max(0, 1-(2*t-1)*(2*t-1))) }
	case 3: // heart
		return func(t float32) float32 { return clamp(1.5*sqrt(t)*pow(1-t, 0.7), 0, 1) }
	}
	// spoon
	stem := d.in(0.25, 0.5)
	return func(t float32) float32 {
		if t < stem {
			return 0.12 + 0.1*t
		}
		x := (t - stem) / (1 - stem)
		return max(0.1, sqrt(max(0, 1-(2*x-1)*(2*x-1)))) * smooth(-0.1, 0.1, 1-x)
	}
}

// blade is one leaf.
type blade struct {
	length, width float32
	out           outline
	fold          float32 // angle of the two halves against each other, radians
	sink          float32 // bending by its weight, radians a mm
	twist         float32 // radians from foot to tip
	wave          float32 // waves of the margin, share of the width
	teeth         float32 // depth of teeth or lobes, share of the width
	teethN        float32
	phase         float32 // of waves and teeth, radians
	holes         bool
}

// foot is where a blade grows: from at in direction dir; face is about where its upper side looks.
type foot struct{ at, dir, face vec }

// draw makes the blade as a sheet of nu vertices across and nv along.
func (b blade) draw(f foot, mat material, class uint8, nu, nv int) *mesh {
	dir := f.dir.unit()
	path := bend(f.at, dir, b.length, b.sink, nv)
	side := dir.cross(f.face)
	if side.norm() < 0.05 {
		side = dir.cross(vec{0.3, 0.2, 1})
	}
	side = side.unit()
	m := grid(nu, nv, func(i, j int) (vec, float32, float32) {
		t := float32(j) / float32(nv-1)
		tan := path[min(nv-1, j+1)].sub(path[max(0, j-1)]).unit()
		s := side.sub(tan.mul(side.dot(tan))).unit()
		n := s.cross(tan).unit()
		if b.twist != 0 {
			s, n = s.about(tan, b.twist*t), n.about(tan, b.twist*t)
		}
		x := 2*float32(i)/float32(nu-1) - 1
		w := b.out(t) * b.width / 2
		if b.teeth > 0 {
			w *= 1 - b.teeth*abs(sin(t*b.teethN*pi+b.phase))*smooth(0, 0.1, t)
		}
		sf, cf := sincos(b.fold)
		q := path[j].add(s.mul(w * x * cf)).add(n.mul(w * abs(x) * sf))
		if b.wave > 0 {
			q = q.add(n.mul(w * b.wave * x * x * sin(9*t+b.phase+2*x)))
		}
		return q, (x + 1) / 2, t
	})
	m.mat, m.class, m.thin, m.holed = mat, class, true, b.holes
	return m
}

// foliage is how all leaves of one plant look.
type foliage struct {
	base, second, rib rgb
	pattern           int // 0 plain, 1 margin, 2 middle, 3 patches, 4 stripes, 5 spots, 6 veins, 7 bands
	amount            float32
	veins             float32
	parallel          bool
	mottle            float32
	gloss, rough      float32
	through           float32
	aged              float32 // share of leaves with yellow or brown
	holed             bool
	purpleUnder       bool
}

func (d dice) foliage() foliage {
	f := foliage{base: d.leafColour(), parallel: d.chance(0.5), mottle: d.in(0.03, 0.25), through: d.in(0.1, 0.45), veins: d.in(-0.3, 0.6)}
	switch d.pick(4.5, 2.5, 1, 2) { // cream, white, yellowish; red to purple; yellow; any
	case 0:
		f.second = lch(d.in(70, 95), d.in(4, 35), d.in(85, 115))
	case 1:
		f.second = lch(d.in(18, 50), d.in(12, 55), d.in(-40, 35))
	case 2:
		f.second = lch(d.in(60, 88), d.in(30, 75), d.in(88, 106))
	default:
		f.second = d.leafColour()
	}
	f.rib = mix(f.base, lch(d.in(60, 88), d.in(8, 35), d.in(95, 120)), d.in(0, 0.8))
	if d.chance(0.55) {
		f.pattern, f.amount = 1+d.pick(4, 1.5, 2, 1, 1, 1, 1), d.log(0.06, 0.65)
	}
	switch d.pick(3, 3, 2) {
	case 0:
		f.gloss, f.rough = d.in(0, 0.1), 1
	case 1:
		f.gloss, f.rough = d.in(0.1, 0.5), d.in(0.35, 0.7)
	case 2:
		f.gloss, f.rough = d.in(0.3, 1.2), d.in(0.12, 0.35)
	}
	if d.chance(0.45) {
		f.aged = d.in(0.1, 0.6)
	}
	f.holed = d.chance(0.07)
	f.purpleUnder = d.chance(0.07)
	return f
}

// leafing is how one leaf of a foliage looks.
type leafing struct {
	*foliage
	seed               uint32
	tint, second       rgb
	amount             float32
	ribs, slant, grain float32
	dry                rgb
	dryAt              float32 // 2: not at all
	dryMargin          float32
	dryKind            int
}

// material draws one leaf of the foliage.
func (f *foliage) material(d dice) material {
	l := leafing{foliage: f, seed: d.Uint32(), dryAt: 2}
	tone := d.about(1, 0.12)
	l.tint = mix(f.base, d.leafColour(), d.in(0, 0.06)).mul(tone)
	l.second = f.second.mul(d.about(1, 0.07))
	l.amount = f.amount * d.about(1, 0.25)
	if d.chance(f.aged) {
		l.dry = lch(d.in(50, 85), d.in(30, 75), d.in(84, 104))
		if d.chance(0.5) {
			l.dry = lch(d.in(22, 60), d.in(12, 42), d.in(48, 78))
		}
		l.dryKind = d.pick(3, 1, 1, 1)
		l.dryAt = d.in(0.3, 0.97)
		l.dryMargin = d.in(0.02, 0.2)
	}
	l.ribs = d.in(9, 22)
	l.slant = d.in(0.3, 1.6)
	l.grain = d.in(3, 9)
	return l.look
}

// look is that of a place of the leaf, u across and v along it.
func (l *leafing) look(u, v float32, at vec) look {
	x := abs(2*u - 1)
	c := l.tint
	n := fbm(u*l.grain, v*l.grain*4, 3, l.seed)
	if l.pattern > 0 {
		c = mix(c, l.second, clamp(l.patterned(u, v, x, n), 0, 1))
	}
	vein := smooth(0.09, 0.02, x)
	if l.parallel {
		vein += 0.25 * (0.5 + 0.5*cos(u*l.ribs*6)) * smooth(1, 0.4, x)
	} else {
		vein += 0.5 * smooth(0.93, 1, 0.5+0.5*cos(2*pi*(v*l.ribs-l.slant*x*2)))
	}
	if l.veins > 0 {
		c = mix(c, l.rib, l.veins*clamp(vein, 0, 1))
	} else {
		c = c.mul(1 + 0.5*l.veins*clamp(vein, 0, 1))
	}
	c = c.mul(1 + l.mottle*(n-0.5)*2)
	if l.dryAt < 2 {
		c = mix(c, l.dry.mul(0.85+0.3*n), clamp(l.dried(u, v, x, n), 0, 1))
	}
	k := look{albedo: c, gloss: l.gloss, rough: l.rough, through: l.through}
	if l.holed && x < 0.85 && v > 0.15 {
		d1, _, id := cells(u*3, v*5, l.seed+11)
		k.gone = id > 0.6 && d1 < 0.28
	}
	return k
}

// patterned is how much of the second colour is at a place; x is the way from the midrib, n noise.
func (l *leafing) patterned(u, v, x, n float32) float32 {
	switch l.pattern {
	case 1: // margins
		return smooth(-0.06, 0.06, x-1+l.amount*0.6+0.15*(n-0.5))
	case 2: // the middle
		return smooth(-0.06, 0.06, l.amount-x+0.25*(n-0.5))
	case 3: // blotches
		return smooth(-0.03, 0.03, l.amount-fbm(u*4, v*9, 3, l.seed+5)+0.2)
	case 4: // stripes along
		return smooth(-0.05, 0.05, l.amount-fbm(u*14, v*0.7, 2, l.seed+6)+0.1)
	case 5: // spots
		d1, _, id := cells(u*6, v*14, l.seed+7)
		return smooth(-0.05, 0.05, 0.4*id*(0.4+l.amount)-d1+0.1)
	case 6: // veins
		return smooth(0.9, 0.98, 0.5+0.5*cos(2*pi*(v*l.ribs-l.slant*x*3)))*0.8 + smooth(0.12, 0.05, x)
	case 7: // bands across
		return smooth(-0.1, 0.1, fbm(u*2, v*l.ribs, 2, l.seed+8)-1+l.amount+0.15)
	}
	return 0
}

// dried is how dry a place is.
func (l *leafing) dried(u, v, x, n float32) float32 {
	w := 0.25 * (n - 0.5)
	switch l.dryKind {
	case 0: // from the tip
		return smooth(-0.02, 0.04, v+w-l.dryAt)
	case 1: // from the margins
		return smooth(-0.02, 0.04, x-1+l.dryMargin+w)
	case 2: // in blotches
		on := smooth(-0.02, 0.05, l.dryAt-0.1-fbm(u*3+7, v*6, 3, l.seed+9))
		return (1 - on) * smooth(0.3, 0.5, n)
	}
	return clamp(1.6-l.dryAt+w, 0, 1) // all over
}
