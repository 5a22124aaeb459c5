package leaf

import (
	"errors"
	"fmt"

	"phototrack/internal/gate"
	"phototrack/internal/raster"
	"phototrack/internal/record"
	"phototrack/internal/regions"
	"phototrack/internal/uncert"
)

// Result is what was measured of a photo's leaves.
type Result struct {
	Quantities []record.Quantity
	Outlines   []record.Outline // photo px: leaf, hole, discoloured_yellow, discoloured_purple, discoloured_brown
	Mask       Mask
	Colours    Colours // compact distribution of the leaves' colours, for comparing two sessions
	Notes      []string
	Doubtful   []Place     // what may or may not be leaf, largest first
	Regions    raster.Mask // classes at the photo's size; only where Input.WantRegions asks for it
}

// Place is a part of the photo that is in doubt.
type Place struct {
	Outline []record.Point   // photo px, closed
	Holes   [][]record.Point // within it, of what is sure
	AreaMM2 float64
	Leaf    float64 // probability that it is leaf
}

// Mask is the leaf mask: 0 outside, else class code + 1 (see Green, Yellow, Purple, Brown, NoClass).
type Mask struct {
	W, H  int
	Scale int // one mask pixel is Scale x Scale photo pixels
	Pix   []uint8
}

// ErrInput says that the input cannot be measured.
var ErrInput = errors.New("leaf: unusable input")

const (
	// leastSidePx is the least width and height of a photo that is looked at: smaller ones hold no leaf that could be measured.
	leastSidePx = 16
	// leastGridPx is what halving leaves of the long side at least, so that it has 750 to 1500 px; fine pixels place the outline afterwards. By eye.
	leastGridPx = 750
)

// regionScale is the reduction at which regions are found.
func regionScale(w, h int) int {
	k := 1
	for max(w, h)/(2*k) >= leastGridPx {
		k *= 2
	}
	return k
}

// Measure finds and measures the leaves. The reasons are rows of package gate; with reason no_plant there are no
// quantities. The error is ErrInput for a photo or calibration that cannot be used at all.
func Measure(in Input, s Settings) (Result, []record.Reason, error) {
	if in.Img.W < leastSidePx || in.Img.H < leastSidePx || len(in.Img.Pix) != 3*in.Img.W*in.Img.H || in.ScalePxPerMM <= 0 {
		return Result{}, nil, fmt.Errorf("%w: picture of %d x %d px at %.2f px per mm", ErrInput, in.Img.W, in.Img.H, in.ScalePxPerMM)
	}
	toPlane, err := in.CardToPx.Inverse()
	if err != nil {
		return Result{}, nil, fmt.Errorf("%w: %w", ErrInput, err)
	}
	var res Result
	fd, err := find(&in, &s)
	if err != nil {
		return Result{}, nil, fmt.Errorf("%w: %w", ErrInput, err)
	}
	f := fd.f
	pal := newPalette(&in, &s.Classes)
	paint(&in, f, toPlane, pal)
	settle(f, &in, pal, settleReach(&in, f.k))
	t := f.tally(toPlane)
	if t.area < gate.MinLeafMM2 {
		return res, []record.Reason{{Code: gate.NoPlant, Detail: fmt.Sprintf("%.0f mm2 of leaf", t.area)}}, nil
	}
	t.doubt, t.doubtful = fd.doubtMM2(&in), fd.doubtfulClasses(&in, pal, &t)
	tn := turn(pal.cells, &s.Classes, hueU(&in))
	res.Mask = Mask{W: f.w, H: f.h, Scale: f.k, Pix: f.class}
	res.Quantities = append(res.Quantities, uncert.Quantity(record.LeafArea, "mm2", t.area, areaTerms(&in, &s, &t, f.k)...))
	res.Quantities = append(res.Quantities, shareQuantities(&in, &t, &tn, f.k)...)
	res.Quantities = append(res.Quantities, colourQuantities(&in, statsOf(pal.cells))...)
	res.Quantities = append(res.Quantities, whereQuantities(&in, f, &t, &tn)...)
	res.Outlines = f.outlines(t.pxMM, &t.class)
	res.Colours = coloursOf(&in, pal.cells)
	res.Notes = notes(&fd, &t)
	res.Doubtful = fd.places(&in)
	if in.WantRegions {
		res.Regions = fd.picture(in.Img.W, in.Img.H)
	}
	return res, reasons(&fd, &t), nil
}

// noteOther and noteParts are the shares of the leaf area from which on a note tells of other plants and of parts that are no leaves. By eye:
// no number hangs on them; parts are told of sooner, because they are the plant's own.
const noteOther, noteParts = 0.05, 0.01

func notes(fd *found, t *tally) (out []string) {
	area := fd.areas(t.area)
	if s := area[regions.Other]; s > noteOther*t.area {
		out = append(out, "Other plants in the photo were left out.")
	}
	if s := area[regions.Part]; s > noteParts*t.area {
		out = append(out, "Flowers, flower stems or other parts that are no leaves were left out.")
	}
	return
}

func shareQuantities(in *Input, t *tally, tn *turned, k int) (out []record.Quantity) {
	judged := t.area - t.class[NoClass]
	lo, mid, hi := tn.lo, tn.mid, tn.hi
	for c := Green; c <= Brown; c++ {
		share := 0.0
		if judged > 0 {
			share = t.class[c] / judged
		}
		s := classShare{class: c, share: share, lo: share + lo[c] - mid[c], hi: share + hi[c] - mid[c]}
		out = append(out, uncert.Quantity(record.QuantityName(classNames[c]+"_share"), "1", share, s.terms(in, t, k)...))
	}
	u := t.class[NoClass] / t.area
	return append(out, uncert.Quantity(record.UnjudgedShare, "1", u, uncert.Normal("colour fit", 0.005+0.2*u)))
}

// whereQuantities are the discoloured shares of the outer and the inner third.
func whereQuantities(in *Input, f *fine, t *tally, tn *turned) []record.Quantity {
	th := whereDiscoloured(f)
	lo, mid, hi := tn.lo, tn.mid, tn.hi
	q := func(name record.QuantityName, i int) record.Quantity {
		v := th.share(i)
		// A part's share moves with the limits as the whole's does, and its own border with the other thirds is not sharp.
		s := classShare{class: Green, share: v, lo: v - lo[Green] + mid[Green], hi: v - hi[Green] + mid[Green]}
		return uncert.Quantity(name, "1", v, append(s.terms(in, t, f.k), uncert.Normal("third's border", 0.03*v*(1-v)+0.001))...)
	}
	return []record.Quantity{q(record.OuterDiscolouredShare, 2), q(record.InnerDiscolouredShare, 0)}
}

const (
	// settleSpreads is half the width of that window in spreads of the photo's edges (10 to 90 %): a passage between two colours is about one
	// spread wide. By eye.
	settleSpreads = 1.5
	// fewSettlePx and mostSettlePx bound it, fine px: JPEG keeps colours at half resolution however sharp the photo is, and of a blurred one no
	// more is taken back than this. By eye.
	fewSettlePx, mostSettlePx = 3, 8
)

// settleReach is half the width of the window in which a thin layer of yellow or brown is recognised, fine px.
func settleReach(in *Input, k int) int {
	return max(fewSettlePx, min(mostSettlePx, int(settleSpreads*in.EdgeSpreadPx/float64(k)+0.5)))
}

// found is what was found on the way to the mask.
type found struct {
	f     *fine
	seen  regions.Map
	doubt Doubt // in places of seen
	// told is 1 in the places of seen that a stage after the network decided: by the ground's colour, or by how soft the edge is.
	told []uint8
}

// find tells the leaves from everything else and places their outline.
func find(in *Input, s *Settings) (r found, err error) {
	g := newGrid(in, regionScale(in.Img.W, in.Img.H))
	if r.seen, err = regions.Look(in.Net, view(in, g)); err != nil {
		return
	}
	r.told = make([]uint8, len(r.seen.Class))
	p := likelihood(g, &r.seen)
	thin := r.thin()
	if len(in.Card) == 0 || thin >= leastThin {
		if err = r.closer(in, g, p); err != nil {
			return
		}
		thin = r.thin() // of the map with what they show
	}
	if thin < leastThin { // where leaves are thin, a thin thing may be one that the network lost beside the others
		r.across(g, p)
	}
	r.seeThrough(in, g, p)
	r.standsBehind(in, g, p)
	r.byTones(g, p)
	r.decideMarked(in)
	for i, v := range decidedByHand(in, g) {
		if v != 0 {
			p[i] = float32(v - 1)
		}
	}
	r.doubt = DoubtOf(r.seen.W, r.seen.H, r.leafMask(), r.seen.P[regions.Leaf], r.seen.Apart)
	m := sureOrNot(p)
	mm2 := g.pxPerMM * g.pxPerMM
	dropSmall(m, g.w, g.h, int(s.MinSpeckMM2*mm2))
	keepMarked(in, g, m)
	z := 1
	if g.k > 1 {
		z = 2
	}
	r.f = refine(in, g, m, p, z)
	r.f.applyMarks(in)
	return r, nil
}

// decideMarked settles what the grower drew round, so that it is not in doubt, and what card and tags cover.
func (r *found) decideMarked(in *Input) {
	for _, keep := range []bool{true, false} {
		for _, m := range in.Marks {
			if m.Keep == keep {
				c := regions.Rest
				if keep {
					c = regions.Leaf
				}
				r.decideWithin(in, m.Points, c)
			}
		}
	}
	for _, q := range append([][]record.Point{in.Card}, in.Tags...) {
		if len(q) > 2 {
			r.decideWithin(in, q, regions.Rest)
		}
	}
}

// decideWithin makes every place in a polygon (photo px) surely of a class.
func (r *found) decideWithin(in *Input, poly []record.Point, c regions.Class) {
	sx, sy := float64(in.Img.W)/float64(r.seen.W), float64(in.Img.H)/float64(r.seen.H)
	small := make([]record.Point, len(poly))
	for i, q := range poly {
		small[i] = record.Point{X: (q.X+0.5)/sx - 0.5, Y: (q.Y+0.5)/sy - 0.5}
	}
	inside := make([]uint8, r.seen.W*r.seen.H)
	canvas{pix: inside, w: r.seen.W, h: r.seen.H, k: 1}.fill(small, 1)
	for i, v := range inside {
		if v == 0 {
			continue
		}
		for k := range r.seen.P {
			r.seen.P[k][i] = 0
		}
		r.seen.P[c][i], r.seen.Apart[i], r.seen.Class[i] = 1, 0, c
	}
}

// decidedByHand is, on the grid, 2 in what the grower keeps, 1 in what he leaves out, 0 elsewhere.
func decidedByHand(in *Input, g *grid) []uint8 {
	out := make([]uint8, g.w*g.h)
	for _, keep := range []bool{true, false} {
		for _, m := range in.Marks {
			if m.Keep == keep {
				v := uint8(1)
				if keep {
					v = 2
				}
				g.drawnOn(out).fill(m.Points, v)
			}
		}
	}
	return out
}

func (r *found) leafMask() []uint8 { return sureOrNot(r.seen.P[regions.Leaf]) }

// placeMM2 is about the area of a place of the network's picture.
func (r *found) placeMM2(in *Input) float64 {
	return float64(in.Img.W) / float64(r.seen.W) * float64(in.Img.H) / float64(r.seen.H) / (in.ScalePxPerMM * in.ScalePxPerMM)
}

// areas are about those of the classes, in the unit of the leaf's area that is given.
func (r *found) areas(leafArea float64) (a [regions.Classes]float64) {
	for i, class := 0, r.seen.Class; i < len(class); { // by runs: a place mostly is what the one before it is
		from, c := i, class[i]
		for i < len(class) && class[i] == c {
			i++
		}
		a[c] += float64(i - from)
	}
	n := max(1, a[regions.Leaf])
	for c := range a {
		a[c] *= leafArea / n
	}
	return
}
