package root

import (
	"fmt"
	"math"
	"sort"

	"phototrack/internal/record"
	"phototrack/internal/skeleton"
)

// Measure finds the pot and its roots. Reasons are rows of the table of gates (no_pot, pot_guess, wall_hidden,
// root_check). Errors: ErrNoPhoto, ErrNoPot (with the reason no_pot).
func Measure(in Input, s Settings) (Result, []record.Reason, error) {
	if in.Img.W < 16 || in.Img.H < 16 || len(in.Img.Pix) != 3*in.Img.W*in.Img.H || in.Lab == nil {
		return Result{}, nil, ErrNoPhoto
	}
	blocked := polygons(in.Blocked) // the pot's outline is looked for in areas that were left out, too
	var why []record.Reason
	pot, ok := locate(in, blocked)
	if !ok {
		return Result{}, []record.Reason{{Code: "no_pot", Detail: "no outline of a pot beside the card"}}, ErrNoPot
	}
	r := Result{Notes: []string{potNote(in, pot)}, PotWall: pot.wall}
	if pot.guess {
		why = append(why, record.Reason{Code: "pot_guess", Detail: fmt.Sprintf("%.0f mm at the rim, %.0f mm at the base, %.0f mm high", pot.pot.TopMM, pot.pot.BottomMM, pot.pot.HeightMM)})
	}
	foot := footMM
	if pot.guess { // where the wall ends is known to a few mm only
		foot = guessedFootMM
	}
	hidden := in.hidden()
	f := detect(in, pot.wall, hidden, foot)
	a := f.areas()
	r.collect(f)
	r.Tips = f.tips()
	m := f.measures(r.Tips)
	r.Quantities = budget(in, s, pot, f, a, m)
	r.Outlines = f.outlines(pot, r)
	if s.Pictures {
		r.Wall = f.unrolled(in, pot, hidden, r, m)
		r.WallShown = drawWall(r.Wall, r, func(y float64) float64 { return limitAzimuth * r.Wall.radius(y) })
	}
	if a.seenShare < 0.7 {
		detail := fmt.Sprintf("%.0f %% of the wall seen", 100*a.seenShare)
		if a.leftShare > 0.005 {
			detail += fmt.Sprintf(", %.0f %% left out by hand", 100*a.leftShare)
		}
		why = append(why, record.Reason{Code: "wall_hidden", Detail: detail})
	}
	if d := math.Abs(m.intersect - m.length); d > 0.25*m.length && d > 40 {
		why = append(why, record.Reason{Code: "root_check", Detail: fmt.Sprintf("%.0f mm by centreline, %.0f mm by line count", m.length, m.intersect)})
	}
	if n := len(f.windows); n > 0 {
		r.Notes = append(r.Notes, fmt.Sprintf("A window is mirrored in the wall (%d bright band%s); its light was taken off before roots were looked for.", n, plural(n)))
	}
	if a.leftShare > 0.005 {
		r.Notes = append(r.Notes, fmt.Sprintf("%.0f %% of the wall was left out by hand: the length is that of the roots outside, and its interval allows for what may lie within.", 100*a.leftShare))
	}
	if a.mistShare > 0.05 {
		r.Notes = append(r.Notes, fmt.Sprintf("Droplets or mist cover %.0f %% of the wall.", 100*a.mistShare))
	}
	return r, why, nil
}

func plural(n int) string {
	if n == 1 {
		return ""
	}
	return "s"
}

// locate finds the pot, of the given size or of whatever size.
func locate(in Input, blocked [][][2]float64) (potFit, bool) {
	if in.Pot.Known() {
		return findPot(in.Img, in.Camera, in.Pot, in.OffsetMM, blocked)
	}
	return guessPot(in.Img, in.Camera, in.OffsetMM, blocked)
}

func potNote(in Input, p potFit) string {
	where := in.PotSource
	if p.guess {
		where = fmt.Sprintf("the silhouette, radius within %.1f mm", 2*p.sizeU)
	}
	if where == "" {
		where = "the given size"
	}
	kind := "tapered"
	if p.pot.TopMM == p.pot.BottomMM {
		kind = "straight"
	}
	return fmt.Sprintf("Clear pot, %s: %.0f mm inside at the rim, %.0f mm at the base, wall %.0f mm high (from %s).", kind, p.pot.TopMM, p.pot.BottomMM, p.pot.HeightMM, where)
}

// collect fills the list of roots.
func (r *Result) collect(f *found) {
	for _, i := range f.roots {
		st := &f.strands[i]
		w, e := st.length(limitAzimuth)
		if w < 1 {
			continue
		}
		root := Root{LengthMM: w, SeenMM: e, DiameterMM: st.looks.diameter, Likely: f.likely[i]}
		for k, p := range st.px {
			if !st.kept[k] || k%3 != 0 && k != len(st.px)-1 {
				continue
			}
			x, y, ok := f.v.pixel(p.X, p.Y)
			if !ok {
				continue
			}
			root.Px = append(root.Px, record.Point{X: x, Y: y})
			root.Wall = append(root.Wall, f.onWall(p))
		}
		r.Roots = append(r.Roots, root)
	}
	sort.SliceStable(r.Roots, func(i, j int) bool { return r.Roots[i].LengthMM > r.Roots[j].LengthMM })
}

// onWall is the place on the unrolled wall, mm, of a position of the frontal view.
func (f *found) onWall(p skeleton.Pt) record.Point {
	az, depth := f.v.place(p.X, p.Y)
	return record.Point{X: az * f.v.s.Radius(depth), Y: depth * f.v.slant}
}

// outlines are the lines to draw on the photo.
func (f *found) outlines(pot potFit, r Result) []record.Outline {
	var out []record.Outline
	s := pot.wall.Facing(f.v.cam.Centre()).Sheet()
	h := pot.wall.Height()
	trace := func(kind string, closed bool, n int, at func(t float64) (az, y float64)) {
		o := record.Outline{Kind: kind, Closed: closed}
		for i := range n + 1 {
			az, y := at(float64(i) / float64(n))
			if u, v, ok := f.v.cam.Project(s.Point(az, y)); ok {
				o.Points = append(o.Points, record.Point{X: u, Y: v})
			}
		}
		out = append(out, o)
	}
	l0, r0, ok0 := s.Silhouette(f.v.cam.Centre(), 0)
	l1, r1, ok1 := s.Silhouette(f.v.cam.Centre(), h)
	if ok0 && ok1 {
		trace("pot", true, 80, func(t float64) (az, y float64) {
			if t < 0.5 {
				return l0 + 2*t*(r0-l0), 0
			}
			return r1 + (2*t-1)*(l1-r1), h
		})
	}
	for _, side := range [2]float64{-1, 1} {
		trace("seen_limit", false, 1, func(t float64) (az, y float64) { return side * limitAzimuth, t * h })
	}
	for _, root := range r.Roots {
		out = append(out, record.Outline{Kind: "root", Points: root.Px})
	}
	for _, t := range r.Tips {
		out = append(out, record.Outline{Kind: "tip", Points: []record.Point{t.Px}})
	}
	return out
}
