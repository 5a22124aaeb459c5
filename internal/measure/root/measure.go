// Package root measures roots through the wall of a clear pot: it finds the pot in the photo, resamples the photo about
// the pot's axis, tells roots from bark, moss and clay by colour and contrast, traces their centrelines in space, and
// reports lengths, thickness, tips and how sure they are.
package root

import (
	"math"

	"phototrack/internal/raster"
	"phototrack/internal/skeleton"
	"phototrack/internal/wall"
)

const workStep = 0.2 // mm per px of the frontal view

// found is everything that was found on one wall.
type found struct {
	v       *view
	sh      *sheet
	wall    wall.Frustum // the wall's inner face
	use     raster.Mask  // wall that can be judged
	streaks raster.Mask  // wall under a mirrored window
	mask    raster.Mask  // root
	strands []strand     // all candidates
	roots   []int        // those taken for roots
	likely  []float64    // one entry a strand
	top     []int        // filling's upper edge, row by column
	mist    float64      // share of the wall under droplets
}

// detect runs the whole chain on one photo with a known pot.
func detect(img raster.BGR, cam wall.Camera, pot wall.Frustum, lab ToLab, blocked [][][2]float64) *found {
	pot = pot.Facing(cam.Centre())
	v := newView(cam, pot.Inset(typicalRadiusMM), workStep, true)
	f := &found{v: v, wall: pot, sh: v.fill(img, newLabCube(lab), blocked)}
	f.prepare()
	f.segment()
	f.trace()
	return f
}

const typicalRadiusMM = 1.8 // half thickness of a common root: the surface on which the wall is resampled

// prepare smooths the colours, finds what is not wall to be judged, and takes mirrored windows off.
func (f *found) prepare() {
	s := f.sh
	sk := findStreaks(s)
	soften(s.L, 1)
	soften(s.A, 2)
	soften(s.B, 2)
	room := backdrop(s)
	leaves := leavesAbove(s)
	f.top = fillingTop(s, leaves, room)
	f.use = raster.NewMask(s.W, s.H)
	foot := s.H - int(footMM/s.Step)
	for y := range foot {
		for x := range s.W {
			i := y*s.W + x
			if s.Seen.Pix[i] == 0 || room.Pix[i] != 0 || leaves.Pix[i] != 0 || y < f.top[x] {
				continue
			}
			if az, _ := s.place(float64(x), float64(y)); math.Abs(az) < drawnAzimuth {
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
	streakVotes   = 1.7 // the same under a mirrored window, where noise is larger
)

// segment makes the mask of root.
func (f *found) segment() {
	s := f.sh
	z := rootness(s, findGround(s, f.use, groundReachMM))
	m := raster.NewMask(s.W, s.H)
	for i, v := range z.Pix {
		if f.use.Pix[i] == 0 {
			continue
		}
		if v > streakVotes || v > rootVotes && f.streaks.Pix[i] == 0 {
			m.Pix[i] = 1
		}
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
	for i := range rs {
		st := lift(f.v, f.wall, &rs[i])
		judge(f.sh, f.mask, f.streaks, &st)
		trimFaint(&st, f.sh.Step)
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
