package root

import (
	"math"

	"phototrack/internal/raster"
	"phototrack/internal/record"
	"phototrack/internal/wall"
)

// potFit is a pot found in a photo.
type potFit struct {
	wall   wall.Frustum // inner face
	pot    record.Pot   // its sizes, given or found
	score  float64      // 0..1: mean strength of the edges that its outline predicts
	axisU  float64      // standard uncertainty of the axis across, mm
	depthU float64      // of the rim's height, mm
	sizeU  float64      // of the radius, mm
	guess  bool         // the size was found from the silhouette
	cutOff bool         // a pot that goes on beyond the photo's edge fits better
}

const (
	wallThickMM  = 0.4               // of common clear pots: the outline is the outer face's
	leastOutline = 0.33              // score below which there is no pot
	potShown     = 0.8               // of its height on the plane that is searched: what is cut by more has a gate of its own; by eye
	ringStep     = 0.05              // of the ring's diameter, from one place to the next
	ringPlaces   = 7                 // places to either side of a ring's front, a tenth of its radius apart, that are looked at; by eye
	startMM      = 8.0               // to either side of the first axis that another is looked for; by eye
	mostRoll     = 4 * math.Pi / 180 // by which a pot leans to the card's side at most: both stand on one bench; by eye
	sameFit      = 1e-9              // grey levels: what fits better by less fits alike
	ringMost     = 40.0              // grey levels of an edge along the rim beyond which it is no more of a rim; by eye
	footMost     = 25.0              // the same along the foot, which is mostly moulded; by eye
)

// findPot looks for a pot of the given size beside the card.
func findPot(img raster.BGR, cam wall.Camera, pot record.Pot, offset float64, blocked [][][2]float64) (potFit, bool) {
	p := newPlane(img, cam, offset, blocked)
	eye := cam.Centre()
	o := newOutline(pot, -eye[2]-offset)
	best, bx, by := -1.0, 0.0, 0.0
	try := func(x, y float64) {
		if s := o.score(p, eye, offset, x, y); s > best {
			best, bx, by = s, x, y
		}
	}
	r := pot.TopMM / 2
	for y := p.y0; y < p.y0+float64(p.h)-pot.HeightMM*potShown; y += 2 {
		sides := o.sidesAlong(p, y, r, 2)
		for k := range sides[0] {
			if min(sides[0][k], sides[1][k]) >= leastSide { // in most places there is none
				try(p.x0+r+2*float64(k), y)
			}
		}
	}
	for _, step := range []float64{1, 0.5} {
		cx, cy := bx, by
		for dy := -2.0; dy <= 2; dy++ {
			for dx := -2.0; dx <= 2; dx++ {
				try(cx+dx*step, cy+dy*step)
			}
		}
	}
	f := potFit{pot: pot, score: best, axisU: 0.4, depthU: 0.7, sizeU: 0.3}
	if best < surelyWhole {
		var at placed
		at, f.cutOff = o.cutOff(p, eye, offset, r, placed{score: best, x: bx, y: by, shown: 1})
		f.score, bx, by = at.score, at.x, at.y
	}
	if f.score < leastOutline {
		return f, false
	}
	fit := &fineFit{img: img, cam: cam, pot: pot, offset: offset, blocked: newScreen(blocked)}
	v := fit.refine(fit.start([3]float64{bx, by, 0}))
	for _, wide := range [2]bool{true, false} { // the rim's height hangs on the axis and the axis, in a tapered pot, on the height
		v = fit.bestRim(v, wide)
	}
	x, y, roll := v[0], v[1], v[2]
	f.wall = frustumAt(pot, x, y, roll, offset)
	return f, true
}

// frustumAt puts a pot with its axis in the plane z = -offset of the card's frame: rim centre at (x, y), the axis turned
// by roll rad from the card's downward direction.
func frustumAt(pot record.Pot, x, y, roll, offset float64) wall.Frustum {
	s, c := math.Sincos(roll)
	// x is given at half height, where it is best known
	h := pot.HeightMM
	rim := wall.Vec{x - s*h/2, y, -offset}
	return wall.Frustum{Rim: rim, Base: rim.Add(wall.Vec{s * h, c * h, 0}), RRim: pot.TopMM / 2, RBase: pot.BottomMM / 2}
}
