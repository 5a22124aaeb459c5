package root

import (
	"fmt"
	"math"

	"phototrack/internal/gate"
	"phototrack/internal/record"
)

// Lengths are measured on a round wall. Whether a pot is round shows where rim and foot are seen from above or below: the
// ring of a round pot sinks towards its front as far as its width says, that of an oval one more or less, and the edge of a
// square one runs straight.
const (
	shapeReach   = 1.15 // rad to either side over which a ring is followed
	shapeSag     = 3.0  // mm by which the ring of a round pot must sink over that reach to tell
	shapePlain   = 12.0 // grey levels: a ring as strong as this can be followed
	shapeRatio   = 0.82 // a ring is not round where round fits this much worse than the best
	shapeNear    = 0.22 // depths within this of the width are called round anyhow
	shapeSlackMM = 8.0  // where the ring is looked for, above and below its place
	shapeDeepest = 1.9  // depth over width that is looked for; by eye
	shapeRound   = 0.16 // depths within this of the width are tried as round: one fine step of 0.125 to either side
	shapeFlat    = 0.25 // a depth below this is an edge that runs straight; by eye
)

// depth is what a pot's ring says of its depth, as a share of its width.
type depth struct {
	best, round float64 // grey levels along the ring: for the best depth, and for a round pot
	ratio       float64 // the best depth
}

// ringDepth follows the ring at the depth y below the rim for pots of many depths.
func (f *fineFit) ringDepth(pot potFit, y float64) (d depth, ok bool) {
	eye := f.cam.Centre()
	fr := pot.wall.Facing(eye)
	s := fr.Sheet()
	axis, zero, side := s.Frame()
	r := s.Radius(y)
	mid := fr.Rim.Add(axis.Scale(y))
	// how far the ring's ends lie above its front in the picture, mm at the pot
	to := eye.Sub(mid)
	rise := -to.Dot(axis) / to.Norm()
	if math.Abs(rise)*r*(1-math.Cos(shapeReach)) < shapeSag {
		return d, false
	}
	along := func(q, dy, lean float64, n int) float64 {
		var sum float64
		for i := range n {
			t := shapeReach * (2*float64(i)/float64(n-1) - 1)
			sin, cos := math.Sincos(t)
			p := mid.Add(axis.Scale(dy + lean*sin)).Add(side.Scale(r * sin)).Add(zero.Scale(r * (1 + q*(cos-1))))
			sum += f.step(p, axis, 0.5) / float64(n)
		}
		return math.Abs(sum)
	}
	search := func(n int, dq, dLean float64) (d depth) {
		for q := 0.0; q < shapeDeepest; q += dq {
			var most float64
			for dy := -shapeSlackMM; dy <= shapeSlackMM; dy += 0.75 {
				for lean := -4.0; lean <= 4; lean += dLean { // an oval pot may stand aslant
					most = math.Max(most, along(q, dy, lean, n))
				}
			}
			if most > d.best {
				d.best, d.ratio = most, q
			}
			if math.Abs(q-1) < shapeRound {
				d.round = math.Max(d.round, most)
			}
		}
		return d
	}
	if d = search(20, 0.25, 2); d.round < 0.93*d.best { // plainly round in most pots
		d = search(32, 0.125, 1)
	}
	return d, d.best >= shapePlain
}

// notRound gives the reason where rim or foot plainly run as those of an oval or a square pot, and neither as a round one's.
func notRound(in Input, pot potFit, blocked [][][2]float64) (record.Reason, bool) {
	f := &fineFit{img: in.Img, cam: in.Camera, pot: pot.pot, offset: in.OffsetMM, blocked: newScreen(blocked)}
	odd := 0.0
	told := false
	for _, y := range [2]float64{0, pot.pot.HeightMM} {
		d, ok := f.ringDepth(pot, y)
		if !ok {
			continue
		}
		if d.round > shapeRatio*d.best || math.Abs(d.ratio-1) < shapeNear {
			return record.Reason{}, false
		}
		odd, told = d.ratio, true
	}
	if !told {
		return record.Reason{}, false
	}
	shape := fmt.Sprintf("it looks about %.1f times as deep as wide", odd)
	if odd < shapeFlat {
		shape = "its edge runs straight, as that of a square pot"
	}
	return record.Reason{Code: gate.PotShape, Detail: shape}, true
}
