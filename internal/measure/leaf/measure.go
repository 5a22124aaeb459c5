package leaf

import (
	"errors"
	"fmt"

	"phototrack/internal/record"
	"phototrack/internal/uncert"
)

// Result is what was measured of a photo's leaves.
type Result struct {
	Quantities []record.Quantity
	Outlines   []record.Outline // photo px: leaf, hole, discoloured_yellow, discoloured_purple, discoloured_brown
	Mask       Mask
	Colours    Colours // compact distribution of the leaves' colours, for comparing two sessions
	Notes      []string
}

// Mask is the leaf mask: 0 outside, else class code + 1 (see Green, Yellow, Purple, Brown, NoClass).
type Mask struct {
	W, H  int
	Scale int // one mask pixel is Scale x Scale photo pixels
	Pix   []uint8
}

// minLeafMM2 is the least leaf area that is taken for a plant.
const minLeafMM2 = 100

// ErrInput says that the input cannot be measured.
var ErrInput = errors.New("leaf: unusable input")

// regionScale is the reduction at which regions are found: about 1000 px on the long side.
func regionScale(w, h int) int {
	k := 1
	for max(w, h)/(2*k) >= 750 {
		k *= 2
	}
	return k
}

// Measure finds and measures the leaves. The reasons are rows of package gate; with reason no_plant there are no
// quantities. The error is ErrInput for a photo or calibration that cannot be used at all.
func Measure(in Input, s Settings) (Result, []record.Reason, error) {
	if in.Img.W < 16 || in.Img.H < 16 || len(in.Img.Pix) != 3*in.Img.W*in.Img.H || in.ScalePxPerMM <= 0 {
		return Result{}, nil, fmt.Errorf("%w: picture of %d x %d px at %.2f px per mm", ErrInput, in.Img.W, in.Img.H, in.ScalePxPerMM)
	}
	toPlane, err := in.CardToPx.Inverse()
	if err != nil {
		return Result{}, nil, fmt.Errorf("%w: %w", ErrInput, err)
	}
	var res Result
	fd := find(&in, &s)
	f := fd.f
	pal := newPalette(&in, &s.Classes)
	paint(&in, f, toPlane, pal)
	settle(f, &in, pal, settleReach(&in, f.k))
	t := f.tally(toPlane)
	if t.area < minLeafMM2 {
		return res, []record.Reason{{Code: "no_plant", Detail: fmt.Sprintf("%.0f mm2 of leaf", t.area)}}, nil
	}
	t.doubt, t.softness = fd.doubtMM2, fd.softness
	if fd.behindShare > 0 {
		t.behind = behindU * t.area
	}
	tn := turn(pal.cells, &s.Classes, hueU(&in))
	res.Mask = Mask{W: f.w, H: f.h, Scale: f.k, Pix: f.class}
	res.Quantities = append(res.Quantities, uncert.Quantity("leaf_area", "mm2", t.area, areaTerms(&in, &s, &t, f.k)...))
	res.Quantities = append(res.Quantities, shareQuantities(&in, &t, &tn, f.k)...)
	res.Quantities = append(res.Quantities, colourQuantities(&in, statsOf(pal.cells))...)
	res.Quantities = append(res.Quantities, whereQuantities(&in, f, &t, &tn)...)
	res.Outlines = f.outlines(t.pxMM, &t.class)
	res.Colours = coloursOf(&in, pal.cells)
	res.Notes = notes(&fd, &t)
	return res, reasons(&fd, &t), nil
}

// notes say in plain words what was left out and what is in doubt.
func notes(fd *found, t *tally) (out []string) {
	if fd.behindShare > 0 {
		out = append(out, fmt.Sprintf("Out-of-focus plants behind were left out: %.0f %% of the green in the photo.", 100*fd.behindShare))
	}
	if fd.bloomMM2/t.area > maxBloomShare {
		out = append(out, "Petals and what hangs on them were left out; a flower stem in front of a leaf still counts as leaf. Draw round it to leave it out.")
	}
	if fd.doubtMM2 > 0.002*t.area {
		out = append(out, fmt.Sprintf("%.0f mm² of brown could be dead leaf or bark; this is in the uncertainty.", fd.doubtMM2))
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
		out = append(out, uncert.Quantity(classNames[c]+"_share", "1", share, shareTerms(in, t, k, share, share+lo[c]-mid[c], share+hi[c]-mid[c], c)...))
	}
	u := t.class[NoClass] / t.area
	return append(out, uncert.Quantity("unjudged_share", "1", u, uncert.Normal("colour fit", 0.005+0.2*u)))
}

// whereQuantities are the discoloured shares of the outer and the inner third.
func whereQuantities(in *Input, f *fine, t *tally, tn *turned) []record.Quantity {
	th := whereDiscoloured(f)
	lo, mid, hi := tn.lo, tn.mid, tn.hi
	q := func(name string, i int) record.Quantity {
		v := th.share(i)
		// A part's share moves with the limits as the whole's does, and its own border with the other thirds is not sharp.
		terms := shareTerms(in, t, f.k, v, v-lo[Green]+mid[Green], v-hi[Green]+mid[Green], Green)
		return uncert.Quantity(name, "1", v, append(terms, uncert.Normal("third's border", 0.03*v*(1-v)+0.001))...)
	}
	return []record.Quantity{q("outer_discoloured_share", 2), q("inner_discoloured_share", 0)}
}

// settleReach is half the width of the window in which a thin layer of yellow or brown is recognised, fine px.
func settleReach(in *Input, k int) int {
	return max(3, min(8, int(1.5*in.EdgeSpreadPx/float64(k)+0.5)))
}

// found is what was found on the way to the mask.
type found struct {
	f           *fine
	behindShare float64 // of the tissue seen: what stands behind
	softness    float64 // how many times as wide as the card's the plant's own edges are
	bloomMM2    float64 // flowers
	doubtMM2    float64 // brown parts that may or may not be leaf
	likeness    float64 // median colour distance of the leaves to the nearest colour of the ground
}

func find(in *Input, s *Settings) (r found) {
	k := regionScale(in.Img.W, in.Img.H)
	g := newGrid(in, k, newLabTable())
	colours := learnBackdrop(g)
	cls := candidates(g, newFastClasses(&s.Classes))
	m, doubt := tissue(g, cls, colours, s)
	r.doubtMM2 = doubt
	r.behindShare, r.softness = leaveOutBehind(in, g, m, cls)
	r.bloomMM2 = leaveOutBloom(g, m, cls, colours)
	keepMarked(in, g, m)
	r.likeness = likeness(g, m, colours)
	z := 1
	if k > 1 {
		z = 2
	}
	r.f = refine(in, g, m, cls, z)
	r.f.applyMarks(in)
	return
}
