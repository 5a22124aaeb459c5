package wallmaker

import "math"

// slot is how a wall's slots and holes look.
type slot struct {
	tall, wide, rim float64 // mm
	col             rgb
	a               float32
	rounded         bool // the rim is a bead, not flat
	inside          float32
	shadow, bevel   float32
	thick           float64 // of the wall, mm: its cut throws a shadow and shows a bright edge
	sx, sy          float64 // toward the light
}

// slots and holes with their rims.
func (f *face) slots(d dice) {
	if !d.chance(0.33) {
		return
	}
	s := slot{tall: d.in(4, 40), wide: d.in(2, 9)}
	if d.chance(0.5) {
		s.wide = d.in(3, 10)
		s.tall = s.wide
	}
	gap := s.wide * d.in(1.6, 4)
	rows := d.between(1, 3)
	y0 := d.in(0.2, 0.9) * f.tall
	s.rim = d.logIn(0.3, 3.2)
	s.col = d.near(d.in(35, 92), d.in(-2, 3), d.in(-3, 8), 3)
	s.a = float32(d.in(0.2, 1))
	s.rounded = d.chance(0.6)
	scattered := d.chance(0.25)
	s.inside = float32(d.in(0.35, 1.1))
	turned := d.chance(0.2)
	s.shadow, s.bevel = float32(math.Max(0, d.in(-0.3, 0.8))), float32(math.Max(0, d.in(-0.4, 0.6)))
	s.thick = d.in(0.3, 1.6)
	s.sx, s.sy = 0.7*d.normal(), -d.Float64()
	for r := range rows {
		y := y0 + float64(r)*(s.tall+d.in(3, 8))
		for u := -1.5 * f.r0; u < 1.5*f.r0; u += gap {
			cu, cy := u+0.5*gap*float64(r%2), y
			if scattered {
				if d.chance(0.5) {
					continue
				}
				cu, cy = f.somewhere(d)
			}
			hw, hh := s.wide/2, s.tall/2
			if turned {
				hw, hh = hh, hw
			}
			f.slot(&s, cu, cy, hw, hh)
		}
	}
}

// slot draws one, hw and hh being half its width and height.
func (f *face) slot(s *slot, u, y, hw, hh float64) {
	rad := min(hw, hh)
	f.each(u, y, hw+s.rim, hh+s.rim, func(i int, pu, py float64) {
		qx, qy := math.Abs(pu-u)-(hw-rad), math.Abs(py-y)-(hh-rad)
		dist := math.Hypot(max(0, qx), max(0, qy)) + min(0, max(qx, qy)) - rad
		toward := func() float64 { // 1 on the side toward the light, -1 away from it
			return ((pu-u)*s.sx + (py-y)*s.sy) / (math.Hypot(pu-u, py-y)*math.Hypot(s.sx, s.sy) + 1e-6)
		}
		switch {
		case dist < 0:
			f.light[i] = f.light[i].times(s.inside)
			if dist > -s.thick {
				f.cut(i, s, float32(toward()), float32(1+dist/s.thick))
			}
		case dist < s.rim:
			k, m := float32(1+0.4*(py-y)/hh), s.a
			if s.rounded {
				across := 2*dist/s.rim - 1 // -1 at the hole, 1 outside
				k *= float32(1 + 0.5*across*toward())
				m *= float32(math.Sqrt(1 - 0.9*across*across))
			}
			f.trace(i, s.col.times(k), m, s.rim < 1.2)
		}
	})
}

// cut draws the wall's cut where it is seen: in shadow toward the light, bright away from it; k falls from 1 at the rim to 0.
func (f *face) cut(i int, s *slot, toward, k float32) {
	if toward > 0 {
		f.light[i] = f.light[i].times(1 - s.shadow*toward*min(1, 2*k))
		return
	}
	f.trace(i, s.col, -toward*s.bevel*k, true)
}
