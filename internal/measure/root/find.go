// Package root measures roots through the wall of a clear pot, in stages: the pot in the photo (pot.go, guess.go), the
// photo resampled about its axis (unroll.go), what each place of that wall is by a network (planes.go, regions.go),
// centrelines and their graph (find.go, stretch.go), lengths in space, tips, widths and areas, and how sure they are
// (budget.go). Two sessions' walls are laid on each other in register.go.
package root

import (
	"math"

	"phototrack/internal/raster"
	"phototrack/internal/skeleton"
	"phototrack/internal/uncert"
	"phototrack/internal/wall"
)

const workStep = pxAtWhole // mm per px of the frontal view

// found is everything that was found on one wall.
type found struct {
	v          *view
	sh         *sheet
	reg        *regions
	wall       wall.Frustum // the wall's inner face
	use        raster.Mask  // wall that can be judged
	mask       raster.Mask  // root, and what may be root
	apartMask  raster.Mask  // the same, with roots that touch side by side taken apart
	keep, left raster.Mask  // wall in areas that the grower wants kept, or left out
	foot       float64      // height of the moulded foot, mm, that shows nothing
	strands    []strand     // all candidates
	roots      []int        // those taken for roots
	own        raster.Mask  // the pieces of mask that are theirs
	ignored    int          // decisions of the grower that lie on no strand
}

const typicalRadiusMM = 1.8 // half thickness of a common root: the surface on which the wall is resampled

// detect runs the whole chain on one photo with a known pot.
func detect(in Input, pot wall.Frustum, hidden [][][2]float64, foot float64, net network) (*found, error) {
	pot = pot.Facing(in.Camera.Centre())
	v := newView(in.Camera, pot.Inset(typicalRadiusMM), workStep, true)
	s := v.fill(in.Img, newLabCube(in.Lab), hidden)
	reg, err := judgeWall(s, net)
	if err != nil {
		return nil, err
	}
	return look(s, reg, pot, foot, &in), nil
}

// look finds the roots in a view whose regions are known. What the marks leave out must be hidden in the view already.
func look(s *sheet, reg *regions, pot wall.Frustum, foot float64, in *Input) *found {
	f := &found{v: s.view, wall: pot, sh: s, reg: reg, foot: foot}
	f.wallToJudge()
	f.markAreas(in)
	f.segment()
	f.trace()
	f.decide(in.Decisions)
	f.choose()
	f.own = f.rootMask()
	return f
}

// wallToJudge is the wall that is seen between rim and foot, a little farther round than is counted.
func (f *found) wallToJudge() {
	s := f.sh
	f.use = raster.NewMask(s.W, s.H)
	for y := int(rimMM / s.Step); y < s.H-int(f.foot/s.Step); y++ {
		half := int(s.s.Radius(float64(y)*s.Step/s.slant) / s.Step * math.Sin(searchAzimuth))
		for x := max(0, int(s.Mid)-half); x <= min(s.W-1, int(s.Mid)+half); x++ {
			f.use.Pix[y*s.W+x] = s.Seen.Pix[y*s.W+x]
		}
	}
}

// Of the wall the moulded rim and foot show nothing, mm.
const rimMM, footMM, guessedFootMM = 5.0, 2.5, 7.0

const (
	surely   = 0.5  // probability above which a pixel is root
	perhaps  = 0.22 // above which a piece that is none by the first may be one
	keepOdds = 9.0  // by how much a keep area raises the odds of root
	bridgeMM = 1.2  // half of the widest mark on the wall that a root is followed behind
	crumbMM2 = 5.0  // smaller pieces are no roots
	holeMM2  = 1.5  // smaller holes are none
	markAt   = 0.4  // probability of a mark on the wall above which root is looked for on both its sides; by eye
)

// segment makes the mask of root, and of pieces that may be root.
func (f *found) segment() {
	s, p := f.sh, f.reg.any
	sure, may := raster.NewMask(s.W, s.H), raster.NewMask(s.W, s.H)
	for i, v := range p.Pix {
		if f.use.Pix[i] == 0 {
			p.Pix[i] = 0
			continue
		}
		if f.keep.Pix[i] != 0 {
			v = v * keepOdds / (1 - v + v*keepOdds)
			p.Pix[i] = v
		}
		if v > surely {
			sure.Pix[i] = 1
		}
		if v > perhaps {
			may.Pix[i] = 1
		}
	}
	f.bridge(sure)
	sure = opened(sure, 1)
	px2 := s.Step * s.Step
	sure = dropSmall(sure, int(crumbMM2/px2), int(holeMM2/px2))
	may = dropSmall(opened(f.apart(may, sure), 1), int(2*crumbMM2/px2), int(holeMM2/px2))
	for i, v := range may.Pix {
		sure.Pix[i] |= v
	}
	f.mask = sure
	f.apartMask = f.takenApart(sure)
}

const (
	onLine   = 0.5 // a pixel likelier than this to be of a middle line is taken for one
	offLine  = 0.3 // less likely than this: for none
	besideMM = 2.0 // half of what two middle lines lie apart at most that are looked at together
	// Smaller places between lines are where roots cross or fork, or where one line bends or fails: with 3 to 6 drawn walls whose
	// classes and lines are known come out longest by 1.7 % to 0.1 %.
	valleyMM2 = 4.0
)

// takenApart is the mask without the pixels between two middle lines, so that roots that touch are two bodies.
func (f *found) takenApart(m raster.Mask) raster.Mask {
	if f.reg.line.W == 0 {
		return m
	}
	line := raster.NewMask(m.W, m.H)
	for i, v := range f.reg.line.Pix {
		if v > onLine && m.Pix[i] != 0 {
			line.Pix[i] = 1
		}
	}
	r, px2 := besideMM/f.sh.Step, f.sh.Step*f.sh.Step
	valley := raster.Pack(line).Dilated(r).Eroded(r).Mask()
	for i, v := range f.reg.line.Pix {
		if v > offLine {
			valley.Pix[i] = 0
		}
	}
	valley = dilated(dropSmall(valley, int(valleyMM2/px2), 0), 0.4/f.sh.Step) // as far as the roots' round ends
	out := raster.NewMask(m.W, m.H)
	for i, v := range m.Pix {
		if v != 0 && (valley.Pix[i] == 0 || f.reg.line.Pix[i] > offLine) {
			out.Pix[i] = 1
		}
	}
	return dropSmall(out, 0, int(holeMM2/px2))
}

// bridge joins root on both sides of a mark on the wall: a root behind it goes on.
func (f *found) bridge(m raster.Mask) {
	mark := raster.NewMask(m.W, m.H)
	some := false
	for i, v := range f.reg.onWall.Pix {
		if v > markAt && f.use.Pix[i] != 0 {
			mark.Pix[i], some = 1, true
		}
	}
	if !some {
		return
	}
	r := bridgeMM / f.sh.Step
	closed := raster.Pack(m).Dilated(r).Eroded(r).Mask()
	for i, v := range mark.Pix {
		m.Pix[i] |= v & closed.Pix[i]
	}
}

// apart is the components of m that do not touch other.
func (f *found) apart(m, other raster.Mask) raster.Mask {
	runs, size := raster.Components(m, true)
	touches := make([]bool, len(size))
	near := dilated(other, 0.5/f.sh.Step)
	for _, r := range runs {
		from, to := r.In(m.W)
		for i := from; i < to && !touches[r.Component]; i++ {
			touches[r.Component] = near.Pix[i] != 0
		}
	}
	out := raster.NewMask(m.W, m.H)
	for _, r := range runs {
		if touches[r.Component] {
			continue
		}
		from, to := r.In(m.W)
		for i := from; i < to; i++ {
			out.Pix[i] = 1
		}
	}
	return out
}

// trace makes strands of the mask.
func (f *found) trace() {
	o := skeleton.DefaultOptions()
	o.Cap = 0 // a root's length is to its very tip
	o.SigmaPx = 0.8 / f.sh.Step
	rs := skeleton.Trace(f.apartMask, o)
	f.strands = make([]strand, len(rs))
	var widths []float64
	for i := range rs {
		widths = append(widths, rs[i].Radius...)
	}
	common := uncert.Median(widths)
	for i := range rs {
		st := lift(f.v, f.wall, &rs[i])
		f.noteKept(&st)
		f.judge(&st)
		if f.reg.line.W == 0 {
			st.markDouble(f.sh.Step, common)
		}
		f.strands[i] = st
	}
	cover(f.strands, f.onTop)
}

// onTop says which of two roots that cross lies nearer to the wall: the one whose own colour the crossing has.
func (f *found) onTop(zone, a, b int) bool {
	at, ok := f.meetingPoint(a, zone)
	if !ok {
		return true
	}
	c, _, ok := f.sh.colour(at)
	if !ok {
		return true
	}
	return colourStep(c, f.strands[a].colour) <= colourStep(c, f.strands[b].colour)
}

func (f *found) meetingPoint(i, zone int) (skeleton.Pt, bool) {
	st := &f.strands[i]
	for _, m := range st.src.Meets {
		if m.Zone == zone && m.At >= 0 && m.At < len(st.px) {
			return st.px[m.At], true
		}
	}
	return skeleton.Pt{}, false
}
