package wallmaker

import "math"

// stuff is how the pieces of one medium look.
type stuff struct {
	l, a, b, spread float64 // CIELAB of a piece and how much pieces differ
	lo, hi          float64 // half size, mm
	round           float64 // 0 angular pieces with flat faces, 1 balls
	squash          float64 // how flat pieces may lie
	grain           float64 // contrast of the texture
	bump            float64 // how rough it feels to the light
	cell            float64 // mm of one point of the texture
	stretch         float64 // of the texture, along the piece
	gloss           float64
	speckle         float64 // share of light flecks
	tex             func(*textures) tex
}

// piece is one piece of a medium: where its middle lies, how deep its nearest point, and half its size, mm.
type piece struct {
	*stuff
	x, y, z, size float64
}

// piece draws one.
func (c *canvas) piece(d dice, p piece) {
	if d.chance(p.round) {
		c.ball(d, p)
		return
	}
	c.block(d, p)
}

// paintOf draws the colour function of a piece.
func (d dice) paintOf(s *stuff, turn, size float64) func(x, y float64) (rgb, float32, float32) {
	t := drawnOnce()
	pick := t.rough
	if s.tex != nil {
		pick = s.tex(t)
	}
	w := d.swatch(pick, s.cell*d.in(0.7, 1.5), turn, s.stretch)
	cloud := d.swatch(t.cloud, size/12, turn, 1)
	base := d.near(s.l, s.a, s.b, s.spread)
	other := d.near(s.l+8*d.normal(), s.a+3*d.normal(), s.b+4*d.normal(), s.spread)
	grain, fleck := float32(s.grain*d.in(0.5, 1.4)), float32(s.speckle)
	return func(x, y float64) (rgb, float32, float32) {
		n, m := w.at(x, y), cloud.at(x, y)
		col := base.mix(other, min(1, max(0, 0.5+m))).times(max(0.15, 1+grain*n))
		if fleck > 0 && n > 1.1-fleck {
			col = col.times(1.8)
		}
		return col, n, m
	}
}

func (c *canvas) ball(d dice, p piece) {
	s, x, y, z, size := p.stuff, p.x, p.y, p.z, p.size
	turn := d.in(0, math.Pi)
	ra, rb := size, size*(1-s.squash*d.Float64())
	rc := (ra + rb) / 2 * d.in(0.6, 1)
	k1, k2, p1, p2 := 0.05*d.normal(), 0.04*d.normal(), 0.05*d.normal(), 0.04*d.normal()
	sin, cos := math.Sincos(turn)
	paint := d.paintOf(s, turn, size)
	x0, y0, x1, y1 := c.box(x, y, size*1.3)
	bump, gloss := float32(s.bump*d.in(0.5, 1.5)), float32(s.gloss*d.Float64())
	for j := y0; j <= y1; j++ {
		for i := x0; i <= x1; i++ {
			px, py := c.mm(i, j)
			ex, ey := px-x, py-y
			u, v := (cos*ex+sin*ey)/ra, (-sin*ex+cos*ey)/rb
			rho := u*u + v*v
			if rho > 1.5 {
				continue
			}
			if float32(z) >= c.z[j*c.w+i] {
				continue
			}
			if rho > 0.5 { // the outline is no ellipse: second and third harmonics of the angle
				third := rho * math.Sqrt(rho)
				edge := 1 + (k1*(u*u-v*v)+p1*2*u*v)/rho + (k2*u*(u*u-3*v*v)+p2*v*(3*u*u-v*v))/third
				rho /= edge * edge
			}
			if rho >= 1 {
				continue
			}
			up := math.Sqrt(1 - rho)
			zz := float32(z + rc*(1-up))
			k := j*c.w + i
			if zz >= c.z[k] {
				continue
			}
			col, n, m := paint(px, py)
			nx, ny := float32((cos*u*rb/ra-sin*v)/1), float32(sin*u*rb/ra+cos*v)
			c.put(k, spot{z: zz, nx: nx*0.95 + bump*m, ny: ny*0.95 + bump*n, col: col, gloss: gloss})
		}
	}
}

// edge is a side of a block seen from the front: its direction from the middle, and how far it lies from there.
type edge struct{ cx, cy, far float64 }

// facet is a flat face of a block: depth over the place.
type facet struct{ gx, gy, c float64 }

// polygon draws the outline of a block.
func (d dice) polygon(s *stuff, size float64) (edges []edge, turn float64) {
	n := d.between(4, 8)
	turn = d.in(0, 2*math.Pi)
	thin := 1 - s.squash*d.Float64()
	st, ct := math.Sincos(turn)
	edges = make([]edge, n)
	for i := range edges {
		a := (float64(i) + 0.7*d.Float64()) * 2 * math.Pi / float64(n)
		sin, cos := math.Sincos(a)
		f := size * d.in(0.6, 1) * math.Sqrt(cos*cos+thin*thin*sin*sin)
		edges[i] = edge{cos*ct - sin*st, cos*st + sin*ct, f}
	}
	return edges, turn
}

// nearestEdge is the edge that a place is nearest to, and how far within it.
func nearestEdge(edges []edge, ex, ey float64) (margin float64, at int) {
	margin = math.Inf(1)
	for k := range edges {
		if m := edges[k].far - ex*edges[k].cx - ey*edges[k].cy; m < margin {
			margin, at = m, k
		}
	}
	return margin, at
}

// topFacet is the one that is seen at a place: its depth and slope.
func topFacet(facets []facet, ex, ey float64) (z, gx, gy float64) {
	z = math.Inf(-1)
	for k := range facets {
		if v := facets[k].c + facets[k].gx*ex + facets[k].gy*ey; v > z {
			z, gx, gy = v, facets[k].gx, facets[k].gy
		}
	}
	return z, gx, gy
}

// block draws an angular piece: a polygon with up to four flat faces, bevelled.
func (c *canvas) block(d dice, p piece) {
	s, x, y, z, size := p.stuff, p.x, p.y, p.z, p.size
	edges, turn := d.polygon(s, size)
	facets := make([]facet, d.between(1, 4))
	for i := range facets {
		facets[i] = facet{0.5 * d.normal(), 0.5 * d.normal(), size * 0.2 * d.Float64()}
		if i == 0 {
			facets[i].c = 0
		}
	}
	bevel, slope := size*d.in(0.04, 0.25), d.in(0.6, 2)
	paint := d.paintOf(s, turn+0.2*d.normal(), size)
	x0, y0, x1, y1 := c.box(x, y, size*1.1)
	bump, gloss := float32(s.bump*d.in(0.5, 1.5)), float32(s.gloss*d.Float64())
	ragged := d.swatch(drawnOnce().rough, d.in(0.15, 0.5), 0, 1)
	rag := size * d.in(0, 0.12)
	for j := y0; j <= y1; j++ {
		for i := x0; i <= x1; i++ {
			px, py := c.mm(i, j)
			k := j*c.w + i
			if float32(z) >= c.z[k] {
				continue
			}
			ex, ey := px-x, py-y
			margin, at := nearestEdge(edges, ex, ey)
			if margin < -rag {
				continue
			}
			if margin += rag * float64(ragged.at(px, py)); margin <= 0 {
				continue
			}
			deep, gx, gy := topFacet(facets, ex, ey)
			zz := z + max(0, deep)
			if margin < bevel {
				zz += (bevel - margin) * slope
				gx, gy = gx+slope*edges[at].cx, gy+slope*edges[at].cy
			}
			if float32(zz) >= c.z[k] {
				continue
			}
			col, nn, m := paint(px, py)
			q := float32(1 / math.Sqrt(1+gx*gx+gy*gy))
			c.put(k, spot{z: float32(zz), nx: float32(gx)*q + bump*m, ny: float32(gy)*q + bump*nn, col: col, gloss: gloss})
		}
	}
}
