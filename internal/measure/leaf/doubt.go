package leaf

import (
	"cmp"
	"math"
	"slices"

	"phototrack/internal/raster"
	"phototrack/internal/record"
	"phototrack/internal/regions"
)

// Doubt is what the network was not sure of, in pixels of the mask it was given for.
type Doubt struct {
	Area      float64 // of the pieces in doubt
	Bernoulli float64 // root of the sum over the pieces of area^2 p (1-p)
	Apart     float64 // sum of the two looks' disagreement, away from the outline
	Border    float64 // the same along the outline
	Pieces    []Piece
	Mask      []uint8 // 1 where the grower is to be asked
	broad     []uint8 // 1 in the pieces
}

// Piece is a connected place in doubt.
type Piece struct {
	Px    float64 // its pixels
	P     float64 // mean probability of leaf
	X, Y  float64 // its middle
	Label int32
}

// unsure bounds what is not sure: with a probability of leaf between p and its complement, or where the two looks disagree by more than apart.
type unsure struct{ p, apart float32 }

var (
	// mayBeWrong bounds what may be judged wrongly.
	mayBeWrong = unsure{p: 0.15, apart: 0.3}
	// isAsked bounds what the grower is asked about, and what is in doubt in the picture of regions.
	isAsked = unsure{p: 0.3, apart: 0.5}
)

// DoubtOf finds the pieces in doubt of a picture of probabilities: connected, and wider than the pixel or two along every
// outline where all pictures are unsure. mask is what was taken for leaf, p the probability, apart how far the two looks disagree.
func DoubtOf(w, h int, mask []uint8, p, apart []float32) (d Doubt) {
	broad := mayBeWrong.places(w, h, p, apart)
	border := outlineBand(mask, w, h)
	for i, a := range apart {
		if border[i] != 0 && broad[i] == 0 {
			d.Border += float64(a)
		} else {
			d.Apart += float64(a)
		}
	}
	d.Mask = isAsked.places(w, h, p, apart)
	d.broad = broad
	runs, size := componentRuns(broad, w, h, true)
	sum := make([]Piece, len(size))
	for _, r := range runs {
		q := &sum[r.Component]
		from, to := r.In(w)
		for i := from; i < to; i++ {
			q.Px++
			q.P += float64(p[i])
			q.X += float64(i % w)
			q.Y += float64(i / w)
		}
	}
	for k, q := range sum {
		if q.Px == 0 {
			continue
		}
		q.P, q.X, q.Y, q.Label = q.P/q.Px, q.X/q.Px, q.Y/q.Px, int32(k)
		d.Area += q.Px
		d.Bernoulli += q.Px * q.Px * q.P * (1 - q.P)
		d.Pieces = append(d.Pieces, q)
	}
	d.Bernoulli = math.Sqrt(d.Bernoulli)
	return
}

// places marks what is not sure and wider than two pixels.
func (u unsure) places(w, h int, p, apart []float32) []uint8 {
	return open(u.marks(p, apart), w, h, 1)
}

// outlineBand is a pixel or two on both sides of the mask's outline.
func outlineBand(mask []uint8, w, h int) []uint8 {
	m := raster.Mask{W: w, H: h, Pix: mask}
	in, out := raster.Pack(m).Eroded(disc(1)).Mask().Pix, raster.Pack(m).Dilated(disc(1)).Mask().Pix
	for i, v := range in {
		out[i] &^= v
	}
	return out
}

// doubtMM2 is the standard uncertainty of the leaf's area by what may have been judged wrongly. A piece in doubt is wrong
// as a whole with the probability that the network gives it (Bernoulli); and the network may be sure and wrong, which shows in how far its two
// looks disagree: on scenes that were not trained on, the error was within 2 such u, and the hundredth that the budget's other terms are, in 95 %
// (docs/model-card.md).
func (r *found) doubtMM2(in *Input) float64 {
	return math.Hypot(ofBernoulli*r.doubt.Bernoulli, ofApart*r.doubt.Apart) * r.placeMM2(in)
}

// ofBernoulli and ofApart are how much of each counts. Fitted to drawn scenes that were not trained on, and tried on others
// (docs/model-card.md): where the network says itself that it is unsure, its two looks mostly differ, too.
const ofBernoulli, ofApart = 1, 1.5

const (
	// minPlaceMM2 is the least area that a grower is asked about, maxPlaces how many places at most.
	minPlaceMM2 = 20
	maxPlaces   = 24
)

// places outlines what is in doubt, largest first.
func (r *found) places(in *Input) (out []Place) {
	w, h := r.seen.W, r.seen.H
	mm2 := r.placeMM2(in)
	sx, sy := float64(in.Img.W)/float64(w), float64(in.Img.H)/float64(h)
	label, size := components(r.doubt.Mask, w, h, true)
	probability := make([]float64, len(size))
	for i, l := range label {
		if r.doubt.Mask[i] != 0 {
			probability[l] += float64(r.seen.P[regions.Leaf][i])
		}
	}
	var inside [256]bool
	inside[1] = true
	holes := map[int32][][]record.Point{}
	var of []int32 // the component that each place outlines
	for _, loop := range contours(r.doubt.Mask, w, h, bounds(r.doubt.Mask, w, h), &inside) {
		a := contourArea(loop)
		if a > 0 && a*mm2 < minPlaceMM2 {
			continue
		}
		pts := simplify(loop, outlineTolPx)
		if len(pts) < 3 {
			continue
		}
		var outline []record.Point
		for _, q := range pts {
			outline = append(outline, record.Point{X: round2(q[0]*sx - 0.5), Y: round2(q[1]*sy - 0.5)})
		}
		// One of the four pixels round a loop's first corner belongs to its component.
		l := componentAt(label, r.doubt.Mask, w, h, loop[0])
		if a < 0 {
			holes[l] = append(holes[l], outline) // sure ground that a place lies round
			continue
		}
		out = append(out, Place{Outline: outline, AreaMM2: float64(size[l]) * mm2, Leaf: probability[l] / float64(size[l])})
		of = append(of, l)
	}
	for i := range out {
		out[i].Holes = holes[of[i]]
	}
	slices.SortStableFunc(out, func(a, b Place) int { return cmp.Compare(b.AreaMM2, a.AreaMM2) })
	return out[:min(len(out), maxPlaces)]
}

// componentAt is the label of the masked pixel, of the four that meet at a corner; 0 where there is none.
func componentAt(label []int32, mask []uint8, w, h int, corner [2]int32) int32 {
	for _, d := range [4][2]int32{{0, 0}, {-1, 0}, {0, -1}, {-1, -1}} {
		x, y := int(corner[0]+d[0]), int(corner[1]+d[1])
		if x >= 0 && y >= 0 && x < w && y < h && mask[y*w+x] != 0 {
			return label[y*w+x]
		}
	}
	return 0
}

// doubtfulClasses are the shares of the classes among what is in doubt, by its colours: what would be added to the leaves, or
// taken from them, if it was judged wrongly. Where hardly anything is in doubt they are the leaves' own.
func (r *found) doubtfulClasses(in *Input, pal *palette, t *tally) (share [5]float64) {
	w, h := r.seen.W, r.seen.H
	judged, own := 0.0, math.Max(noArea, t.area-t.class[NoClass])
	for i, v := range r.doubt.broad {
		if v == 0 {
			continue
		}
		x, y := min(r.f.w-1, (i%w)*r.f.w/w), min(r.f.h-1, (i/w)*r.f.h/h)
		if c := pal.cells[pal.at(r.f.camera(in, x, y))].class; c != NoClass {
			share[c]++
			judged++
		}
	}
	const fewPlaces = 50
	for c := range share {
		if c != int(NoClass) {
			share[c] = (share[c] + fewPlaces*t.class[c]/own) / (judged + fewPlaces)
		}
	}
	return
}
