// Package root measures roots through the wall of a clear pot: it finds the pot in the photo, resamples the photo about
// the pot's axis, tells roots from bark, moss and clay by colour and contrast, traces their centrelines in space, and
// reports lengths, thickness, tips and how sure they are.
package root

import (
	"math"
	"slices"

	"phototrack/internal/raster"
	"phototrack/internal/skeleton"
	"phototrack/internal/wall"
)

const workStep = 0.2 // mm per px of the frontal view

// found is everything that was found on one wall.
type found struct {
	v          *view
	sh         *sheet
	wall       wall.Frustum // the wall's inner face
	use        raster.Mask  // wall that can be judged
	streaks    raster.Mask  // wall under a mirrored window
	mask       raster.Mask  // root
	keep, left raster.Mask  // wall in areas that the grower wants kept, or left out
	foot       float64      // height of the moulded foot, mm
	strands    []strand     // all candidates
	roots      []int        // those taken for roots
	likely     []float64    // one entry a strand
	top        []int        // filling's upper edge, row by column
	windows    []streak     // mirrored windows
	leaves     raster.Mask  // leaves above the filling
	raw        raster.Float // lightness before smoothing
	wide       raster.Float // lightness over a root's width
	bodyChroma float64      // usual chroma of these roots
}

// detect runs the whole chain on one photo with a known pot.
func detect(in Input, pot wall.Frustum, hidden [][][2]float64, foot float64) *found {
	pot = pot.Facing(in.Camera.Centre())
	v := newView(in.Camera, pot.Inset(typicalRadiusMM), workStep, true)
	return look(v.fill(in.Img, newLabCube(in.Lab), hidden), pot, foot, in.Marks...)
}

// look finds the roots in a filled frontal view; foot is the height of the moulded foot, mm, that shows nothing. What
// the marks leave out must be hidden in the view already.
func look(s *sheet, pot wall.Frustum, foot float64, marks ...Mark) *found {
	f := &found{v: s.view, wall: pot, sh: s, foot: foot}
	f.prepare()
	f.markAreas(&Input{Marks: marks})
	f.segment()
	f.trace()
	return f
}

const typicalRadiusMM = 1.8 // half thickness of a common root: the surface on which the wall is resampled

// prepare smooths the colours, finds what is not wall to be judged, and takes mirrored windows off.
func (f *found) prepare() {
	s := f.sh
	f.raw = raster.Float{W: s.W, H: s.H, Pix: append([]float32(nil), s.L.Pix...)}
	f.wide = raster.Float{W: s.W, H: s.H, Pix: append([]float32(nil), s.L.Pix...)}
	soften(f.wide, int(1.2/s.Step))
	soften(s.L, 1)
	soften(s.A, 2)
	soften(s.B, 2)
	sk := findStreaks(s)
	f.windows = sk
	room := backdrop(s)
	leaves := leavesAbove(s)
	f.leaves = leaves
	f.top = fillingTop(s, leaves, room)
	f.use = raster.NewMask(s.W, s.H)
	for y := range s.H - int(f.foot/s.Step) {
		for x := range s.W {
			i := y*s.W + x
			if s.Seen.Pix[i] == 0 || room.Pix[i] != 0 || leaves.Pix[i] != 0 || y < f.top[x] && !f.mayReachUp(x, y) {
				continue
			}
			if az, _ := s.place(float64(x), float64(y)); math.Abs(az) < searchAzimuth {
				f.use.Pix[i] = 1
			}
		}
	}
	f.streaks = raster.NewMask(s.W, s.H)
	if len(sk) == 0 {
		return
	}
	g := findGround(s, f.use, groundReachMM)
	for i := range sk {
		sk[i].takeOff(s, g, s.Seen)
		sk[i].mark(s, f.streaks)
	}
	for i, v := range s.Seen.Pix {
		f.use.Pix[i] &= v
	}
}

const (
	groundReachMM = 14.0
	rootVotes     = 1.2 // rootness above which a pixel is root
	shadeVotes    = 0.9 // the same beside such a pixel: the side of a tube that lies in shade
	shadeMM       = 0.4 // how far from it
	streakVotes   = 1.7 // rootness asked for under a mirrored window, where noise is larger
)

// segment makes the mask of root.
func (f *found) segment() {
	s := f.sh
	z := rootness(s, findGround(s, f.use, groundReachMM))
	m, shade := raster.NewMask(s.W, s.H), raster.NewMask(s.W, s.H)
	for i, v := range z.Pix {
		if f.use.Pix[i] == 0 {
			continue
		}
		if v > streakVotes || v > rootVotes && f.streaks.Pix[i] == 0 {
			m.Pix[i] = 1
		}
		if v > shadeVotes && f.streaks.Pix[i] == 0 {
			shade.Pix[i] = 1
		}
	}
	f.keepRidges(m, z)
	m = opened(m, 2)
	near := grown(m, shadeMM/s.Step)
	for i := range m.Pix {
		m.Pix[i] |= near.Pix[i] & shade.Pix[i]
	}
	m = opened(m, 2)
	f.mask = dropSmall(m, int(15/s.Step/s.Step), int(1.5/s.Step/s.Step))
}

// trace makes strands of the mask and sorts them into roots and others.
func (f *found) trace() {
	o := skeleton.DefaultOptions()
	o.Cap = 0 // a root's length is to its very tip
	rs := skeleton.Trace(f.mask, o)
	f.strands = make([]strand, len(rs))
	f.likely = make([]float64, len(rs))
	var widths []float64
	for i := range rs {
		widths = append(widths, rs[i].Radius...)
	}
	common := median(widths)
	for i := range rs {
		st := lift(f.v, f.wall, &rs[i])
		judge(f.sh, f.mask, f.streaks, &st)
		st.looks.above, st.looks.atEdge = f.shareAbove(&st), f.endsAtEdge(&st)
		f.noteKept(&st)
		trimFaint(&st, f.sh.Step)
		st.markDouble(f.sh.Step, common, func(i int) bool {
			_, k, ok := f.sh.colour(st.px[i])
			return ok && f.streaks.Pix[k] == 0
		})
		f.strands[i] = st
	}
	cover(f.strands, func(_, a, b int) bool { return f.strands[a].looks.contrast >= f.strands[b].looks.contrast })
	for i := range f.strands {
		whole, _ := f.strands[i].length(math.Pi / 2)
		var ok bool
		ok, f.likely[i] = isRoot(&f.strands[i], whole)
		if ok {
			f.roots = append(f.roots, i)
		}
	}
	f.dropStumps()
	f.findBodyChroma()
}

// dropStumps takes out short strands that hang on one that was found to be no root: bumps of an edge.
func (f *found) dropStumps() {
	bad := map[int]bool{} // zones where a strand that is no root goes through or ends
	good := map[int]bool{}
	for i := range f.strands {
		for _, m := range f.strands[i].src.Meets {
			if slices.Contains(f.roots, i) {
				good[m.Zone] = good[m.Zone] || !m.Ends
			} else {
				bad[m.Zone] = true
			}
		}
	}
	f.roots = slices.DeleteFunc(f.roots, func(i int) bool {
		if whole, _ := f.strands[i].length(math.Pi / 2); whole > 15 || f.strands[i].looks.inKeep > 0.5 {
			return false
		}
		for _, m := range f.strands[i].src.Meets {
			if m.Ends && bad[m.Zone] && !good[m.Zone] {
				f.likely[i] *= 0.3
				return true
			}
		}
		return false
	})
}

// totals sums what is counted: root length without hidden stretches, and the longest root with them, mm.
func (f *found) totals() (seen, longest float64) {
	for _, i := range f.roots {
		w, e := f.strands[i].length(limitAzimuth)
		seen += e
		longest = math.Max(longest, w)
	}
	return seen, longest
}

// aboveFillingMM is how far above the filling's edge a root may still begin.
const aboveFillingMM = 6.0

// mayReachUp says that a pixel a little above the filling could be the beginning of a root: it does not have the colour
// of the room that is seen there through the wall.
func (f *found) mayReachUp(x, y int) bool {
	s := f.sh
	if float64(f.top[x]-y)*s.Step > aboveFillingMM || y < int((rimMM+1)/s.Step) {
		return false
	}
	side := 1.0
	if float64(x) < s.Mid {
		side = -1
	}
	c, ok := besidePot(s, y, side, s.s.Radius(float64(y)*s.Step/s.slant)/s.Step)
	if !ok {
		return false
	}
	i := y*s.W + x
	dl, da, db := s.L.Pix[i]-c[0], s.A.Pix[i]-c[1], s.B.Pix[i]-c[2]
	return dl < -14 || dl > 4 || da*da+db*db > 3*3
}

// shareAbove is the share of a strand that lies above the filling's edge or right under it, where gaps between pieces of
// bark show the room behind.
func (f *found) shareAbove(st *strand) float64 {
	n := 0
	for _, p := range st.px {
		if x := min(max(int(p.X+0.5), 0), f.sh.W-1); p.Y < float64(f.top[x])+2.5/f.sh.Step {
			n++
		}
	}
	return float64(n) / float64(len(st.px))
}

// endsAtEdge says that an end of the strand lies, beyond 45 degrees of azimuth, on the border of what can be judged.
func (f *found) endsAtEdge(st *strand) bool {
	reach := int(3 / f.sh.Step)
	for _, i := range [2]int{0, len(st.px) - 1} {
		x, y := int(st.px[i].X+0.5), int(st.px[i].Y+0.5)
		if math.Abs(st.az[i]) < math.Pi/4 {
			continue
		}
		for dx := -reach; dx <= reach; dx++ {
			if u := x + dx; u < 0 || u >= f.sh.W || y < 0 || y >= f.sh.H || f.use.Pix[y*f.sh.W+u] == 0 {
				return true
			}
		}
	}
	return false
}
