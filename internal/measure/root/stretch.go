package root

import (
	"math"
	"slices"

	"phototrack/internal/skeleton"
	"phototrack/internal/uncert"
)

const (
	windowMM     = 1.5 // a strand's classes are means over this far either way
	leastLength  = 5.0 // mm; shorter pieces are crumbs
	mostDiameter = 9.5 // mm; roots have 1.5 to 8
	keepSure     = 0.9 // how likely a strand in a keep area is a root at least: the grower saw it
	shortMM      = 20.0
	plain        = 0.85 // mean probability asked of a short piece by itself
	counted      = 0.7  // a stretch that is less likely root than this is not counted at a root's end, or by itself
	sureRunMM    = 3.0  // of a root at least this much in one piece is sure
	gapMM        = 5.0  // a gap in doubt no longer than this does not end a root
	aloneMM      = 10.0 // a sure stretch, cut off by doubt from the rest, counts from this length on
	doubtful     = 0.8  // a stretch whose probability lies between 1 - this and this is in doubt
	kindRunMM    = 4.0  // shorter stretches of another kind belong to the kind around them
	endDoubtMM   = 1.0  // of a stretch at a strand's end that fades out as every end does
	slender      = 1.4  // times its thickness: what is shorter is a lump and no root; by eye
	sureOfAll    = 0.6  // of a strand that is too short for sureRunMM: this much of it must be sure; by eye
	normalReach  = 4    // points, 1 mm, to either side that a course is taken from: the steps of a chain of pixels turn by 45 degrees
)

// colourStep is a colour distance in which lightness counts least: light changes from place to place.
func colourStep(a, b [3]float32) float64 {
	dl, da, db := float64(a[0]-b[0]), float64(a[1]-b[1]), float64(a[2]-b[2])
	return math.Sqrt(0.35*dl*dl + 3*da*da + 0.6*db*db)
}

func (s *sheet) colour(p skeleton.Pt) ([3]float32, int, bool) {
	x, y := int(p.X+0.5), int(p.Y+0.5)
	if x < 0 || y < 0 || x >= s.W || y >= s.H || s.Seen.Pix[y*s.W+x] == 0 {
		return [3]float32{}, 0, false
	}
	i := y*s.W + x
	return [3]float32{s.L.Pix[i], s.A.Pix[i], s.B.Pix[i]}, i, true
}

// judge reads along a strand how likely it is root, and how likely old root.
func (f *found) judge(st *strand) {
	n := len(st.px)
	st.prob, st.oldProb = make([]float64, n), make([]float64, n)
	any, was := make([]float64, n), make([]float64, n)
	var col [3][]float64
	for i, p := range st.px {
		c, k, ok := f.sh.colour(p)
		if !ok {
			continue
		}
		x, y := k%f.sh.W, k/f.sh.W
		for dy := -1; dy <= 1; dy++ { // three by three pixels, or what of them is in the picture
			for dx := -1; dx <= 1; dx++ {
				u, v := min(max(x+dx, 0), f.sh.W-1), min(max(y+dy, 0), f.sh.H-1)
				j := v*f.sh.W + u
				any[i] += float64(f.reg.any.Pix[j]) / 9
				was[i] += float64(f.reg.old.Pix[j]) / 9
			}
		}
		for k := range col {
			col[k] = append(col[k], float64(c[k]))
		}
	}
	reach := int(windowMM / f.sh.Step)
	for i := range n {
		lo, hi := max(0, i-reach), min(n-1, i+reach)
		var a, o float64
		for j := lo; j <= hi; j++ {
			a += any[j]
			o += was[j]
		}
		st.prob[i] = math.Min(1, a/float64(hi-lo+1))
		if a > 0 {
			st.oldProb[i] = math.Min(1, o/a)
		}
	}
	for k := range col {
		if len(col[k]) > 0 {
			st.colour[k] = float32(uncert.Median(col[k]))
		}
	}
	st.diameter = 2 * uncert.Median(slices.Clone(st.src.Radius)) * f.sh.Step
	st.anew = f.seenAnew(st.px)
}

// choose takes strands, or stretches of them, for roots.
func (f *found) choose() {
	f.roots = f.roots[:0]
	for i := range f.strands {
		st := &f.strands[i]
		if f.isRoot(st) {
			f.roots = append(f.roots, i)
		}
		st.sortKinds(f.sh.Step)
	}
}

// isRoot says whether a strand is taken for a root, and drops its ends in doubt: what is as likely as not root goes on
// with a root where sure root lies on both sides of it, and is left out, as doubt, where it does not.
func (f *found) isRoot(st *strand) bool {
	if st.decided < 0 || st.diameter > mostDiameter && st.decided == 0 {
		return false
	}
	if st.decided == 0 && !st.trimDoubt(f.sh.Step) {
		return false
	}
	if st.decided > 0 {
		return true
	}
	whole, _ := st.length(math.Pi / 2)
	if whole < shortMM && len(st.src.Meets) == 0 && st.inKeep < 0.5 && st.likely() < plain { // a short piece by itself has to be plain
		return false
	}
	return whole >= leastLength && whole >= slender*st.diameter
}

// trimDoubt drops what lies outside the first and the last sure stretch, and between two sure stretches what is longer than
// they are, with those that are then too short to stand by themselves; false where nothing sure is left.
func (s *strand) trimDoubt(stepMM float64) bool {
	sure := acrossGaps(s.sureRuns(math.Min(sureRunMM/stepMM, sureOfAll*float64(len(s.px)))), stepMM)
	if len(sure) == 0 {
		return false
	}
	fade := int(endDoubtMM/stepMM + 0.5) // every end fades out
	keep := make([]bool, len(s.px))
	some := false
	for _, r := range sure {
		if len(sure) > 1 && float64(r.sure) < aloneMM/stepMM {
			continue
		}
		some = true
		for i := max(0, r.from-fade); i <= min(len(s.px)-1, r.to+fade); i++ {
			keep[i] = true
		}
	}
	for i := range keep {
		s.kept[i] = s.kept[i] && keep[i]
	}
	return some
}

// sureRun is a stretch of a strand, points from..to, that is sure but for short gaps.
type sureRun struct {
	from, to int
	sure     int // steps that are sure
}

// sureRuns are the stretches of at least so many points whose every point counts.
func (s *strand) sureRuns(least float64) (out []sureRun) {
	for i, j := 0, 0; i < len(s.px); i = max(i+1, j) {
		j = i
		for j < len(s.px) && s.prob[j] >= counted {
			j++
		}
		if float64(j-i) >= least && j > i {
			out = append(out, sureRun{i, j - 1, j - 1 - i})
		}
	}
	return out
}

// acrossGaps makes one of what goes on across a gap.
func acrossGaps(in []sureRun, stepMM float64) (out []sureRun) {
	for k, r := range in {
		if k == 0 {
			out = append(out, r)
			continue
		}
		last := &out[len(out)-1]
		if gap := float64(r.from - last.to); gap <= gapMM/stepMM || gap <= 0.5*float64(last.sure+r.sure) {
			last.to, last.sure = r.to, last.sure+r.sure
			continue
		}
		out = append(out, r)
	}
	return out
}

// likely is the strand's mean probability of being root.
func (s *strand) likely() float64 {
	var p float64
	for _, v := range s.prob {
		p += v
	}
	return p / float64(max(1, len(s.prob)))
}

// sortKinds tells living stretches of a strand from old ones; short stretches between two of the other kind go with them.
func (s *strand) sortKinds(stepMM float64) {
	n := len(s.px)
	s.old = make([]bool, n)
	for i, o := range s.oldProb {
		s.old[i] = o > 0.5
	}
	least := int(kindRunMM / stepMM)
	for i, j := 0, 0; i < n; i = j {
		j = lastLike(s.old, i)
		if j-i < least && (i > 0 || j < n) {
			for k := i; k < j; k++ {
				s.old[k] = !s.old[k]
			}
		}
	}
}

// stretch is a run of points of a strand, from..to-1, in doubt, with its mean probability and its seen length.
type stretch struct {
	from, to int
	prob     float64
	mm       float64
}

// inDoubt lists the stretches of a strand whose mean margin is small.
func (s *strand) inDoubt(stepMM, limit float64) (out []stretch) {
	n := len(s.px)
	unsure := func(i int) bool { return s.prob[i] < doubtful && s.prob[i] > 1-doubtful }
	for i := 0; i < n; {
		if !unsure(i) {
			i++
			continue
		}
		j, p := i, 0.0
		for j < n && unsure(j) {
			p += s.prob[j]
			j++
		}
		q := stretch{from: i, to: j, prob: p / float64(j-i)}
		for k := max(1, i); k < j; k++ {
			if math.Abs(s.az[k]) < limit && !s.hidden[k] {
				q.mm += s.pos[k].Sub(s.pos[k-1]).Norm()
			}
		}
		if i == 0 && s.src.Free[0] || j == n && s.src.Free[1] {
			q.mm = max(0, q.mm-endDoubtMM)
		}
		if q.mm > 0 {
			out = append(out, q)
		}
		i = j
	}
	return out
}

// lanes is how many roots may lie side by side in a strand that is wider than any root.
func (s *strand) lanes() float64 {
	if s.diameter <= mostDiameter {
		return 1
	}
	return s.diameter / (2 * typicalRadiusMM)
}

// doubts sums, within the counted azimuths, the length that lies in doubt, and the standard uncertainty of the length for
// that: each stretch is root or none as a whole, and those that are seen anew are all alike.
func (f *found) doubts() (mm, u float64) {
	taken := f.takenFlags()
	var v, alike float64
	for i := range f.strands {
		st := &f.strands[i]
		if st.decided < 0 || !taken[i] && st.tooShort() {
			continue
		}
		for _, q := range st.inDoubt(f.sh.Step, limitAzimuth) {
			l := q.mm * st.lanes()
			mm += l * 2 * math.Min(q.prob, 1-q.prob)
			if u := l * math.Sqrt(q.prob*(1-q.prob)); st.anew {
				alike += u
			} else {
				v += u * u
			}
		}
	}
	return mm, math.Sqrt(v + alike*alike)
}

func (s *strand) tooShort() bool {
	whole, _ := s.length(math.Pi / 2)
	return whole < leastLength
}

func (f *found) takenFlags() []bool {
	out := make([]bool, len(f.strands))
	for _, i := range f.roots {
		out[i] = true
	}
	return out
}

func normal(p []skeleton.Pt, i int) (x, y float64) {
	a, b := p[max(0, i-normalReach)], p[min(len(p)-1, i+normalReach)]
	l := a.Dist(b)
	if l == 0 {
		return 0, 0
	}
	return -(b.Y - a.Y) / l, (b.X - a.X) / l
}
