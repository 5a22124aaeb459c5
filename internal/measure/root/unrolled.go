package root

import (
	"math"

	"phototrack/internal/record"
)

const wallPxPerMM = 5.0 // of the unrolled wall that is kept and shown

// unrolled makes the wall's picture and what is kept with it.
func (f *found) unrolled(in Input, pot potFit, blocked [][][2]float64, r Result, m measures) Wall {
	v := newView(f.v.cam, f.wall.Inset(typicalRadiusMM), 1/wallPxPerMM, false)
	s := v.fill(in.Img, nil, blocked)
	w := Wall{Pic: s.Pic, PxPerMM: wallPxPerMM, ZeroPx: v.Mid, Pot: pot.pot, SeenMM: m.length}
	for _, root := range r.Roots {
		w.Roots = append(w.Roots, root.Wall)
		w.LengthMM = append(w.LengthMM, root.SeenMM)
		w.Traits = append(w.Traits, traitsOf(root.Sure, root.Old))
	}
	w.Veil, w.Faint, w.NotSeenU = f.veil(w), f.faintPlaces(w), m.notSeenU()
	w.Doubt = coarse(r.Doubtful)
	return w
}

// coarse is the lines with every fourth point, to a tenth of a mm: enough to tell what runs along them.
func coarse(lines [][]record.Point) (out [][]record.Point) {
	tenth := func(v float64) float64 { return math.Round(10*v) / 10 }
	for _, l := range lines {
		var q []record.Point
		for i, p := range l {
			if i%4 == 0 || i == len(l)-1 {
				q = append(q, record.Point{X: tenth(p.X), Y: tenth(p.Y)})
			}
		}
		out = append(out, q)
	}
	return out
}

// radius is the radius of the surface that was unrolled, mm, y mm of wall below the rim.
func (w *Wall) radius(y float64) float64 {
	d := (w.Pot.BottomMM - w.Pot.TopMM) / 2
	slant := math.Hypot(1, d/math.Max(1, w.Pot.HeightMM))
	return w.Pot.TopMM/2 - typicalRadiusMM + d*y/slant/math.Max(1, w.Pot.HeightMM)
}

// px is the place of a point of the wall (mm) in the picture.
func (w *Wall) px(p record.Point) (x, y float64) { return w.ZeroPx + p.X*w.PxPerMM, p.Y * w.PxPerMM }
