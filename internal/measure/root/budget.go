package root

import (
	"math"
	"slices"

	"phototrack/internal/record"
	"phototrack/internal/uncert"
)

// measures are the values before they get their uncertainties.
type measures struct {
	length, longest float64 // mm
	oldLength       float64 // mm of length that is old root
	longestAt       int     // index into strands, -1: none
	longestMeets    int     // crossings it goes through
	diameter        float64
	diameterU       float64
	tips, green     int
	intersect       float64
	ends            int     // free ends of roots within the counted azimuths
	hidden, double  float64 // mm behind other roots; mm counted twice for two roots side by side
	meets           int     // places where roots meet
	atLimit         float64 // mm of root per rad of azimuth about the limit
	doubtMM         float64 // mm of stretches in doubt, each by how much
	doubtful        float64 // standard uncertainty, mm, of what may be no root or may be a root after all
	faint           float64 // mm of root that may lie where no pixel is likelier root than not
	contrastL       float64 // light and shade of the wall; asked where no root is plain only
	unsure          float64 // mm by which the network is not sure of what counts
	dropped         float64 // mm by which it takes what does not count for root
	kindU           float64 // standard uncertainty, mm, of what is old and what is living
	knife           float64 // standard uncertainty, mm, of roots that follow the limit
	doubtfulLongest float64
	tipsU           float64
}

func (f *found) measures(tips []Tip) measures {
	m := measures{longestAt: -1}
	var dw, dl float64
	var spread []float64
	for _, i := range f.roots {
		st := &f.strands[i]
		whole, seen, was := st.lengths(limitAzimuth)
		m.length += seen
		m.oldLength += was
		if whole > m.longest {
			m.longest, m.longestAt, m.longestMeets = whole, i, through(st)
		}
		m.addDetails(st)
		if d, ok := f.diameter(st); ok {
			_, far := st.length(searchAzimuth) // how thick a root is does not hang on how far round it lies
			dw += d * far
			dl += far
			spread = append(spread, d)
		}
	}
	if dl > 0 {
		m.diameter = dw / dl
		m.diameterU = 0.12 + 0.5*(quantile(spread, 0.75)-quantile(spread, 0.25))/math.Sqrt(float64(len(spread)))
	}
	var knife, kind float64
	for _, i := range f.roots {
		st := &f.strands[i]
		l := alongLimit(st)
		knife += l * l / 4
		kind += st.kindVariance(f.sh.Step)
		if i == m.longestAt {
			for _, q := range st.inDoubt(f.sh.Step, limitAzimuth) {
				m.doubtfulLongest = math.Hypot(m.doubtfulLongest, q.mm*math.Sqrt(q.prob*(1-q.prob)))
			}
		}
	}
	m.doubtMM, m.doubtful = f.doubts()
	m.doubtful = math.Hypot(crumbU, m.doubtful)
	m.faint = f.faint(m.diameter)
	if m.bare() {
		m.contrastL = f.contrast()
	}
	m.unsure, m.dropped = f.margins()
	m.knife, m.kindU = math.Sqrt(knife), math.Sqrt(kind)
	m.meets = f.meetings()
	m.tips = len(tips)
	for _, t := range tips {
		if t.Green {
			m.green++
		}
		m.tipsU += t.Likely * (1 - t.Likely)
	}
	m.tipsU = math.Sqrt(m.tipsU)
	m.intersect = lineIntersect(f.sh, f.own)
	return m
}

// margins sums, within the counted azimuths, how far what counts is from being sure, and what does not count from being none, mm.
func (f *found) margins() (unsure, dropped float64) {
	taken := f.takenFlags()
	for i := range f.strands {
		st := &f.strands[i]
		for k := 1; k < len(st.pos); k++ {
			if math.Abs(st.az[k]) > limitAzimuth || st.hidden[k] || st.decided != 0 {
				continue
			}
			mm := st.pos[k].Sub(st.pos[k-1]).Norm()
			if taken[i] && st.kept[k] && st.kept[k-1] {
				unsure += mm * (1 - st.prob[k])
			} else {
				dropped += mm * st.prob[k]
			}
		}
	}
	return unsure, dropped
}

// notSeenU is the standard uncertainty, mm, of the length by roots that are not seen.
func (m *measures) notSeenU() float64 {
	return math.Hypot(math.Hypot(sureU, m.blankU()), math.Hypot(unsureU*m.unsure, faintU*m.faint))
}

// blankU is what faint traces of root, or mist, mean on a wall without a plain root, mm: where there is one, it shows what this plant's roots look
// like to the network.
func (m *measures) blankU() float64 {
	if m.misty() {
		return blankU
	}
	traces := m.faint * m.faint
	return blankU * traces / (traces + blankFaint*blankFaint) * math.Max(0, 1-math.Max(0, m.length-m.doubtMM)/clearMM)
}

// faint is the length that the probabilities of all pixels outside the mask add up to: roots too faint to be traced.
func (f *found) faint(diameter float64) float64 {
	s := f.sh
	near := dilated(f.mask, 1/s.Step) // the soft edge of a root is no other root
	var mm2 float64
	for y := int(rimMM / s.Step); y < s.H; y++ {
		half := int(s.s.Radius(float64(y)*s.Step/s.slant) / s.Step * math.Sin(limitAzimuth))
		for x := max(0, int(s.Mid)-half); x <= min(s.W-1, int(s.Mid)+half); x++ {
			i := y*s.W + x
			if f.use.Pix[i] != 0 && near.Pix[i] == 0 {
				mm2 += float64(f.reg.any.Pix[i]) * s.Step * s.Step
			}
		}
	}
	return mm2 / math.Max(2, diameter)
}

// alongLimit is how much of a root, mm, runs within 2.5 degrees of the limit of what is counted: a root that follows the
// limit counts whole or not at all by a hair.
func alongLimit(st *strand) (l float64) {
	const band = 2.5 * math.Pi / 180
	for i := 1; i < len(st.pos); i++ {
		if st.kept[i] && math.Abs(math.Abs(st.az[i])-limitAzimuth) < band {
			l += st.pos[i].Sub(st.pos[i-1]).Norm()
		}
	}
	return l
}

// addDetails collects what the budget needs to know of one root.
func (m *measures) addDetails(st *strand) {
	const band = 5 * math.Pi / 180
	for i := 1; i < len(st.pos); i++ {
		if !st.kept[i] || !st.kept[i-1] {
			continue
		}
		d := st.pos[i].Sub(st.pos[i-1]).Norm()
		az := math.Abs(st.az[i])
		if math.Abs(az-limitAzimuth) < band {
			m.atLimit += d / (2 * band)
		}
		if az > limitAzimuth {
			continue
		}
		if st.hidden[i] {
			m.hidden += d
		} else if st.double[i] {
			m.double += d
		}
	}
	lo, hi := st.span()
	for k, e := range [2]int{lo, hi} {
		if st.src.Free[k] && math.Abs(st.az[e]) < limitAzimuth {
			m.ends++
		}
	}
}

// kindVariance is the variance of the old length, mm2: stretches that may be of either kind.
func (s *strand) kindVariance(stepMM float64) (v float64) {
	n := len(s.px)
	for i := 1; i < n; {
		p, mm, j := 0.0, 0.0, i
		for j < n && s.old[j] == s.old[i] {
			p += s.oldProb[j]
			if s.kept[j] && !s.hidden[j] && math.Abs(s.az[j]) < limitAzimuth {
				mm += s.pos[j].Sub(s.pos[j-1]).Norm()
			}
			j++
		}
		p = math.Min(1, math.Max(0, p/float64(j-i)))
		v += mm * mm * p * (1 - p)
		i = j
	}
	return v
}

// diameter is the mean width of the root, mm; ok is false where too little of it can be measured.
func (f *found) diameter(st *strand) (mm float64, ok bool) {
	w := f.widths(st)
	if len(w) < 6 {
		return 0, false
	}
	return trimmedMean(w), true
}

// trimmedMean is the mean of all but the tenth at either end: a root's taper counts, a bump in its outline does not.
func trimmedMean(v []float64) float64 {
	s := slices.Sorted(slices.Values(v))
	cut := len(s) / 10
	var sum float64
	for _, x := range s[cut : len(s)-cut] {
		sum += x
	}
	return sum / float64(len(s)-2*cut)
}

// through counts the crossings a root goes through.
func through(st *strand) (n int) {
	for _, m := range st.src.Meets {
		if !m.Ends {
			n++
		}
	}
	return n
}

// meetings counts the places, within the counted azimuths, where roots cross or touch.
func (f *found) meetings() int {
	zones := map[int]bool{}
	for _, i := range f.roots {
		st := &f.strands[i]
		for _, m := range st.src.Meets {
			if m.At < len(st.az) && math.Abs(st.az[m.At]) < limitAzimuth {
				zones[m.Zone] = true
			}
		}
	}
	return len(zones)
}

// Standard uncertainties that are the same for all photos.
const (
	traceRelU  = 0.012 // of a length by the course of the centreline (root systems of known length: under 1 %)
	endU       = 0.8   // mm, of where a root ends in the picture
	hiddenRelU = 0.45  // of the length taken as hidden: which root is on top, and how wide
	doubleRelU = 0.4   // of the length taken as double
	meetU      = 3.0   // mm, per meeting of roots: which one ends, how wide the upper one is, where the lower one shows again
	sideU      = 0.4   // mm, of a centreline's place across the line of sight, far round the pot
	crumbU     = 2.5   // mm, of a piece too short to be judged, on any wall
	joinRelU   = 0.05  // of the longest root per crossing it goes through: its far part may be another root's
	// Of what the network does not see, its doubt about what it sees tells most: where it is not sure of the roots that it finds it
	// misses others. Fitted to 342 drawn walls that were not trained on, so that the intervals hold.
	sureU    = 14.0 // mm, of roots that it is sure not to see, on any wall
	unsureU  = 4.0  // of the length by which it is not sure of what counts
	droppedU = 1.2  // of the length by which it takes for root what does not count
	faintU   = 0.4  // of the length that faint pixels add up to
	mistRelU = 0.5  // of the length that would lie, at the same density, on wall that was not seen
	// Of a wall that shows little of itself, or little root, the density is taken nearer to a common one: as if so much more had been seen.
	commonDensity = 0.02   // mm of root on a mm2 of wall: about the mean of the drawn walls
	commonMM2     = 2500.0 // a fifth of a common wall; by eye
	// Where nothing plain is found, faint traces tell more than they add up to: of 90 drawn walls on which less than 30 mm were found, the 67 with less
	// than 0.5 mm of traces were right within 9 mm (root mean square), the 23 with more lacked 45 mm, some 90 mm and most nothing.
	blankU     = 45.0 // mm
	blankFaint = 0.5  // mm of traces from which that counts half
	pixelU     = 0.06 // mm, of a width by the place of its two edges
)

// budget makes quantities of the measures.
func (f *found) budget(in Input, s Settings, pot potFit, a areas, m measures) []record.Quantity {
	q, n, rect, common := uncert.Quantity, uncert.Normal, uncert.Rectangular, uncert.Common
	dist := in.DistanceMM
	if dist <= 0 {
		dist = f.v.cam.Centre().Norm()
	}
	r := (pot.wall.RRim + pot.wall.RBase) / 2
	azU := math.Sqrt(pot.axisU*pot.axisU+0.25*pot.sizeU*pot.sizeU+sideU*sideU) / (r * math.Cos(limitAzimuth))
	scale := func(l float64) []record.Term {
		t := []record.Term{
			n("scale fit", l*in.ScaleRelU),
			common(n("print", l*in.PrintRelU)),
			common(rect("depth common", l*s.DepthCommonMM/dist)),
			rect("depth shot", l*s.DepthShotMM/dist),
			n("pot size", l*pot.sizeU/r*0.5),
		}
		return t
	}
	unseen := mistRelU * a.lostMM2 * (m.length + commonDensity*commonMM2) / (a.wall - a.lostMM2 + commonMM2)
	length := append(scale(m.length),
		n("centreline", traceRelU*m.length),
		n("root ends", endU*math.Sqrt(float64(m.ends))),
		n("azimuth limit", math.Hypot(m.atLimit*azU, m.knife)),
		n("crossings", math.Hypot(hiddenRelU*m.hidden, meetU*math.Sqrt(float64(m.meets)))),
		n("side by side", doubleRelU*m.double),
		n("root or not", math.Hypot(m.doubtful, droppedU*m.dropped)),
		n("roots not seen", m.notSeenU()),
		n("wall not seen", unseen),
	)
	longest := append(scale(m.longest),
		n("centreline", traceRelU*m.longest),
		n("root ends", endU*math.Sqrt2),
		n("root or not", m.doubtfulLongest),
		n("crossings", joinRelU*m.longest*math.Sqrt(float64(m.longestMeets))),
	)
	tipU := math.Hypot(0.45+0.08*float64(m.tips), m.tipsU)
	was := append(scale(m.oldLength), n("centreline", traceRelU*m.oldLength), n("old or living", m.kindU), n("root or not", m.doubtful*share(m.oldLength, m.length)+crumbU/2))
	return []record.Quantity{
		q(record.RootLength, "mm", m.length, length...),
		q(record.RootOld, "mm", m.oldLength, was...),
		q(record.RootLongest, "mm", m.longest, longest...),
		q(record.RootDiameter, "mm", m.diameter, append(scale(m.diameter), n("edges", pixelU), n("sample of roots", m.diameterU))...),
		q(record.RootTips, "1", float64(m.tips), n("seen or not", tipU)),
		q(record.RootTipsGreen, "1", float64(m.green), n("seen or not", tipU)),
		q(record.RootIntersect, "mm", m.intersect, append(scale(m.intersect), n("directions", 0.07*m.intersect))...),
		q(record.WallCoverShare, "1", share(a.cover, a.wall-a.lostMM2), n("edges", 0.03*share(a.cover, a.wall)+2*pixelU*m.length/math.Max(1, a.wall)), n("root or not", share(m.doubtful*m.diameter, a.wall))),
		q(record.WallSeenShare, "1", a.seenShare, n("mist", 0.01+0.3*(1-a.seenShare))),
	}
}

func share(a, b float64) float64 {
	if b <= 0 {
		return 0
	}
	return a / b
}
