package scenemaker

import (
	"math"
	"math/rand/v2"

	"phototrack/internal/colour"
	"phototrack/internal/geom"
)

// Stems and storage organs are shaped like leaves: a spike is a long band of nearly even width about a midrib of constant
// curvature, whose length along the midrib is LengthMM exactly and whose direction turns by Bend from foot to tip; a storage
// organ is an ellipse.

// Foot is where an organ grows from, mm, and whither: an angle from x towards y (-90 is upright).
type Foot struct{ X, Y, AngleDeg float64 }

// Spike is a flower stem from a foot.
func Spike(at Foot, lengthMM, widthMM, bend float64, tint colour.Lab) Leaf {
	l := Leaf{BaseX: at.X, BaseY: at.Y, AngleDeg: at.AngleDeg, LengthMM: lengthMM, WidthMM: widthMM, Bend: bend, Blunt: 0.1, WidestAt: 0.5, TextureSeed: 5, TextureContrast: 0.03}
	l.Colours[Green] = tint
	return l
}

// Bulb is a storage organ that stands on its foot.
func Bulb(at Foot, lengthMM, widthMM float64, tint colour.Lab) Leaf {
	l := Leaf{BaseX: at.X, BaseY: at.Y, AngleDeg: at.AngleDeg, LengthMM: lengthMM, WidthMM: widthMM, Blunt: 0.5, WidestAt: 0.5, TextureSeed: 9, TextureContrast: 0.05}
	l.Colours[Green] = tint
	return l
}

// WidthAt is the true width square to the midrib at t, 0 at the foot to 1 at the tip.
func (l *Leaf) WidthAt(t float64) float64 { return l.WidthMM * l.halfWidth(t) }

// On is where a point of a leaf shows in the photo, t along its midrib (0 foot, 1 tip) and s across (-1 and 1 are the
// margins), and where it lies in the card's frame.
func (sc *Scene) On(leaf int, t, s float64) (geom.PX, geom.Vec3) {
	l := &sc.Leaves[leaf]
	q := l.point(t, s)
	at := sc.Stand.planeOf(l).at(q.X, q.Y)
	return sc.Camera.Px(at), at
}

// Month is what a plant with followed parts shows in a month: lengths and widths in mm.
type Month struct {
	Spike, Spike2 float64 // lengths; 0 where there is none yet
	SpikeBend     float64 // turn from foot to tip, radians
	Bulb          float64 // width of the front storage organ
	LeafBend      float64 // of the leaf that is followed
	Growth        float64 // length of a new growth; 0 where there is none
}

// PartsPlant is a plant with storage organs, leaves, a spike that grows and perhaps a second one. Its parts lie near one plane.
// The indices of what is followed among the leaves are given by PartIndex.
func PartsPlant(r *rand.Rand, number int, m Month) Plant {
	p := Plant{Number: number}
	leafTint := labOf(uniform(r, 42, 50), uniform(r, 28, 36), uniform(r, 125, 135))
	bulbTint := labOf(uniform(r, 50, 58), uniform(r, 26, 32), uniform(r, 116, 121))
	spikeTint := labOf(uniform(r, 44, 50), uniform(r, 26, 32), uniform(r, 118, 124))
	size := uniform(r, 0.95, 1.05)
	if m.Spike2 == 0 {
		m.Spike2 = -1
	}
	if m.Growth == 0 {
		m.Growth = -1
	}
	leaf := func(x, angle, length, width, bend float64) Leaf {
		return Leaf{BaseX: x, BaseY: -44 * size, AngleDeg: angle, LengthMM: length * size, WidthMM: width, Bend: bend, Blunt: 0.6, WidestAt: 0.5,
			TextureSeed: r.Uint64(), TextureContrast: 0.05, Colours: [Classes]colour.Lab{Green: leafTint}}
	}
	p.Leaves = []Leaf{
		leaf(-26, -118, 105, 24, 0.15), leaf(16, -58, 100, 22, m.LeafBend),
		Bulb(Foot{-26, 2, -90}, 52*size, 23, bulbTint), Bulb(Foot{16, 4, -90}, 48*size, m.Bulb, bulbTint),
		Spike(Foot{-4, 0, -96}, m.Spike, 4.2, m.SpikeBend, spikeTint),
	}
	if m.Spike2 > 0 {
		p.Leaves = append(p.Leaves, Spike(Foot{38, 0, -70}, m.Spike2, 3.8, 0.1, spikeTint))
	}
	if m.Growth > 0 {
		p.Leaves = append(p.Leaves, Bulb(Foot{44, 4, -70}, m.Growth, 11, leafTint))
	}
	for i := range p.Leaves {
		p.Reach = math.Max(p.Reach, p.Leaves[i].LengthMM)
	}
	p.Reach = math.Max(70, math.Min(p.Reach, 110))
	p.MiddleY = -60
	return p
}

// Indices among PartsPlant's leaves.
const (
	PartLeaf   = 1 // the right leaf, whose bend is followed
	PartBulb   = 3 // the front storage organ
	PartSpike  = 4
	PartSpike2 = 5 // where there is one
)
