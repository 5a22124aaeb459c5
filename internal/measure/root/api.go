package root

import (
	"fmt"
	"sort"

	"phototrack/internal/gate"
	"phototrack/internal/record"
	"phototrack/internal/skeleton"
)

// Measure finds the pot and its roots. Reasons are rows of the table of gates (no_pot, pot_guess, pot_shape, pot_cut,
// pot_opaque, water, wall_blind, wall_hidden, root_check, unsure, too_unsure). Errors: ErrNoPhoto, ErrNoPot (with the reason no_pot).
func Measure(in Input, s Settings) (Result, []record.Reason, error) {
	return measureWith(in, s, wallNetwork)
}

// leastSidePx is the least width and height of a photo that is looked at: smaller ones hold no pot that could be measured.
const leastSidePx = 16

func measureWith(in Input, s Settings, net network) (Result, []record.Reason, error) {
	if in.Img.W < leastSidePx || in.Img.H < leastSidePx || len(in.Img.Pix) != 3*in.Img.W*in.Img.H || in.Lab == nil {
		return Result{}, nil, ErrNoPhoto
	}
	blocked := polygons(in.Blocked) // the pot's outline is looked for in areas that were left out, too
	pot, ok := locate(in, blocked)
	if !ok {
		return Result{}, []record.Reason{{Code: gate.NoPot, Detail: noPotDetail(in)}}, ErrNoPot
	}
	if pot.cutOff {
		return Result{}, []record.Reason{{Code: gate.NoPot, Detail: "it seems to go on beyond the photo's edge: step back until the whole pot is in the frame"}}, ErrNoPot
	}
	odd, isOdd := notRound(in, pot, blocked)
	foot := footMM
	if pot.guess { // where the wall ends is known to a few mm only
		foot = guessedFootMM
	}
	f, err := detect(in, pot.wall, in.hidden(), foot, net)
	if err != nil {
		return Result{}, nil, err
	}
	r, why := f.result(in, s, pot)
	if isOdd {
		why = append(why, odd)
	}
	return r, why, nil
}

// result makes quantities, pictures and reasons of what was found.
func (f *found) result(in Input, s Settings, pot potFit) (Result, []record.Reason) {
	var why []record.Reason
	r := Result{Notes: []string{potNote(in, pot)}, PotWall: pot.wall}
	if pot.guess {
		why = append(why, record.Reason{Code: gate.PotGuess, Detail: fmt.Sprintf("%.0f mm at the rim, %.0f mm at the base, %.0f mm high", pot.pot.TopMM, pot.pot.BottomMM, pot.pot.HeightMM)})
	}
	a := f.areas()
	r.collect(f)
	r.Tips = f.tips()
	m := f.measures(r.Tips)
	r.Quantities = f.budget(in, s, pot, a, m)
	r.DoubtShare = share(m.doubtMM, m.length)
	r.Outlines = f.outlines(pot, r)
	if s.Pictures {
		r.Wall = f.unrolled(in, pot, in.hidden(), r, m)
		r.WallShown = drawWall(r.Wall, r, func(y float64) float64 { return limitAzimuth * r.Wall.radius(y) })
	}
	why = append(why, f.reasons(a, m, value(r.Quantities, record.RootLength), value(r.Quantities, record.RootIntersect))...)
	r.Notes = append(r.Notes, f.notes(a)...)
	return r, why
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
	taken := f.takenFlags()
	for i := range f.strands {
		st := &f.strands[i]
		if st.decided >= 0 && (taken[i] || !st.tooShort()) {
			r.Doubtful = append(r.Doubtful, f.doubtLines(st)...)
		}
		if !taken[i] {
			continue
		}
		if whole, seen := st.length(limitAzimuth); whole >= 1 {
			root := f.courseOf(st)
			root.LengthMM, root.SeenMM = whole, seen
			r.Roots = append(r.Roots, root)
		}
	}
	sort.SliceStable(r.Roots, func(i, j int) bool { return r.Roots[i].LengthMM > r.Roots[j].LengthMM })
}

// doubtLines are the stretches of a strand that are in doubt, on the wall; those of less than a millimetre are nothing to ask about.
func (f *found) doubtLines(st *strand) (lines [][]record.Point) {
	for _, q := range st.inDoubt(f.sh.Step, searchAzimuth) {
		if q.mm <= 1 || q.to-q.from < 2 {
			continue
		}
		var l []record.Point
		for _, p := range st.px[q.from:q.to] {
			l = append(l, f.onWall(p))
		}
		lines = append(lines, l)
	}
	return lines
}

// courseEvery is every how many points of a centreline, a quarter of a millimetre apart, one is kept.
const courseEvery = 3

// courseOf is a strand as a root: its course in the photo and on the wall, and what kind it is where.
func (f *found) courseOf(st *strand) Root {
	root := Root{DiameterMM: st.diameter, Likely: st.likely()}
	for k, p := range st.px {
		if !st.kept[k] || k%courseEvery != 0 && k != len(st.px)-1 {
			continue
		}
		x, y, ok := f.v.pixel(p.X, p.Y)
		if !ok {
			continue
		}
		root.Px = append(root.Px, record.Point{X: x, Y: y})
		root.Wall = append(root.Wall, f.onWall(p))
		root.Old, root.Sure = append(root.Old, st.old[k]), append(root.Sure, st.prob[k])
	}
	return root
}

// cut splits a line where a flag changes; both parts keep the point where it does.
func cut(p []record.Point, flag []bool, part func(p []record.Point, flag bool)) {
	for i := 0; i < len(p); {
		j := i
		for j < len(p) && flag[j] == flag[i] {
			j++
		}
		part(p[i:min(j+1, len(p))], flag[i])
		i = j
	}
}

// onWall is the place on the unrolled wall, mm, of a position of the frontal view.
func (f *found) onWall(p skeleton.Pt) record.Point {
	az, depth := f.v.place(p.X, p.Y)
	return record.Point{X: az * f.v.s.Radius(depth), Y: depth * f.v.slant}
}

// photoPlace is where the photo shows a place of the unrolled wall.
func (f *found) photoPlace(p record.Point) (x, y float64, ok bool) {
	depth := p.Y / f.v.slant
	return f.v.cam.Project(f.v.s.Point(p.X/f.v.s.Radius(depth), depth))
}

// outlines are the lines to draw on the photo.
func (f *found) outlines(pot potFit, r Result) []record.Outline {
	out := f.potOutlines(pot)
	for _, root := range r.Roots {
		cut(root.Px, root.Old, func(p []record.Point, was bool) {
			kind := "root"
			if was {
				kind = "root_old"
			}
			if len(p) > 1 {
				out = append(out, record.Outline{Kind: kind, Points: p})
			}
		})
	}
	for _, d := range r.Doubtful {
		o := record.Outline{Kind: "root_doubt"}
		for _, p := range d {
			if x, y, ok := f.photoPlace(p); ok {
				o.Points = append(o.Points, record.Point{X: x, Y: y})
			}
		}
		if len(o.Points) > 1 {
			out = append(out, o)
		}
	}
	for _, t := range r.Tips {
		out = append(out, record.Outline{Kind: "tip", Points: []record.Point{t.Px}})
	}
	return out
}

// potOutlines are the pot's own, and the limits to which its wall counts.
func (f *found) potOutlines(pot potFit) (out []record.Outline) {
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
	return out
}
