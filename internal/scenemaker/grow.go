package scenemaker

import (
	"math"
	"math/rand/v2"

	"phototrack/internal/colour"
)

// Condition is what about half of a plant's leaves show.
type Condition int

// The conditions: green all over, purple margins, yellow tips, dead tips with or without a yellow zone before them.
const (
	Healthy Condition = iota
	Purpled
	Yellowed
	Browned
	Conditions // how many there are
)

// Plant is one plant: what stays the same from photo to photo.
type Plant struct {
	Number           int
	Condition        Condition
	Leaves           []Leaf
	MiddleX, MiddleY float64 // mm from the foot, weighted by area
	Reach            float64 // mm: the longest leaf
	SlopeXDeg        float64 // slope of the plant's plane out of the card's, in x and in y
	SlopeYDeg        float64
}

// uniform is a draw between two values.
func uniform(r *rand.Rand, from, to float64) float64 { return from + (to-from)*r.Float64() }

// labOf is a CIELAB colour by lightness, chroma and hue.
func labOf(l, c, hueDeg float64) colour.Lab {
	s, k := math.Sincos(rad(hueDeg))
	return colour.Lab{L: l, A: c * k, B: c * s}
}

// tissue draws a leaf's colours: well inside the classes, since where a class ends is a matter of convention and not of
// measuring. Hues after the reasons in the program's class table.
func tissue(r *rand.Rand) (c [Classes]colour.Lab) {
	c[Green] = labOf(uniform(r, 36, 54), uniform(r, 24, 40), uniform(r, 122, 138))
	c[Yellow] = labOf(uniform(r, 62, 76), uniform(r, 44, 62), uniform(r, 91, 98))
	c[Purple] = labOf(uniform(r, 26, 38), uniform(r, 18, 30), uniform(r, -20, 10))
	c[Brown] = labOf(uniform(r, 32, 46), uniform(r, 24, 34), uniform(r, 54, 66))
	return
}

// MaxSlopeDeg is how far a plant's plane slopes out of the card's, either way: the program's declared figure.
const MaxSlopeDeg = 10.0

// Grow draws a plant: a fan of 4 to 8 leaves from one foot, each with its own bend, slope and depth about the plant's
// plane; the plane's own slope is rectangular within MaxSlopeDeg in either direction. Plants are in one of the Conditions.
func Grow(r *rand.Rand, number int) Plant {
	p := Plant{Number: number, SlopeXDeg: MaxSlopeDeg * uniform(r, -1, 1), SlopeYDeg: MaxSlopeDeg * uniform(r, -1, 1)}
	n := 4 + r.IntN(5)
	size := uniform(r, 70, 125)
	base := tissue(r)
	p.Condition = Condition(r.IntN(int(Conditions)))
	blunt, widest := uniform(r, 0.5, 0.75), uniform(r, 0.42, 0.6)
	for k := range n {
		place := (float64(k) + 0.5) / float64(n) // 0 to 1 over the fan
		l := Leaf{AngleDeg: -175 + 170*place + uniform(r, -5, 5), LengthMM: size * uniform(r, 0.75, 1), WidthMM: uniform(r, 20, 34),
			Bend: uniform(r, -0.5, 0.5), Blunt: blunt, WidestAt: widest, DepthMM: uniform(r, -3, 3), SlopeDeg: 8 * r.NormFloat64(),
			RollDeg: 8 * r.NormFloat64(), Wave: uniform(r, 0.3, 1), WavePhase: uniform(r, 0, 6), TextureSeed: r.Uint64(),
			TextureContrast: uniform(r, 0.03, 0.09), BaseX: uniform(r, -6, 6), BaseY: uniform(r, -4, 4)}
		l.Colours = base
		l.Colours[Green].L += uniform(r, -3, 3)
		if p.Condition != Healthy && r.IntN(2) == 0 {
			l.discolour(r, p.Condition)
		}
		p.Leaves = append(p.Leaves, l)
	}
	r.Shuffle(n, func(i, j int) { p.Leaves[i], p.Leaves[j] = p.Leaves[j], p.Leaves[i] })
	p.settle()
	return p
}

// discolour gives a leaf parts of other colours. A purple margin is at least a millimetre or so wide.
func (l *Leaf) discolour(r *rand.Rand, c Condition) {
	switch c {
	case Purpled:
		l.Margin = uniform(r, 0.1, 0.4)
	case Yellowed:
		l.TipYellow = uniform(r, 0.05, 0.4)
	case Browned:
		l.TipBrown = uniform(r, 0.03, 0.2)
		if r.IntN(2) == 0 {
			l.TipYellow = uniform(r, 0.05, 0.3)
		}
	}
}

// settle finds the plant's middle and takes the mean depth and slope of its leaves out of them, so that depth and slope
// as a whole are the plant's plane's alone.
func (p *Plant) settle() {
	var area, depth, x, y float64
	var lean [2]float64
	for i := range p.Leaves {
		l := &p.Leaves[i]
		a := l.AreaMM2()
		m := l.point(l.WidestAt, 0)
		s, c := math.Sincos(rad(l.AngleDeg))
		area, depth = area+a, depth+a*l.DepthMM
		x, y = x+a*(l.BaseX+m.X*c-m.Y*s), y+a*(l.BaseY+m.X*s+m.Y*c)
		lean[0] += a * (l.SlopeDeg*c - l.RollDeg*s)
		lean[1] += a * (l.SlopeDeg*s + l.RollDeg*c)
		p.Reach = math.Max(p.Reach, l.LengthMM)
	}
	p.MiddleX, p.MiddleY = x/area, y/area
	for i := range p.Leaves {
		l := &p.Leaves[i]
		s, c := math.Sincos(rad(l.AngleDeg))
		l.DepthMM -= depth / area
		l.SlopeDeg -= (lean[0]*c + lean[1]*s) / area
		l.RollDeg -= (-lean[0]*s + lean[1]*c) / area
	}
}

// Grown is the plant with every leaf larger by a factor of its area, and with a purple zone towards the tips of all leaves that
// makes up so much of each leaf.
func (p Plant) Grown(areaFactor, purple float64) Plant {
	leaves := append([]Leaf(nil), p.Leaves...)
	f := math.Sqrt(areaFactor)
	for i := range leaves {
		l := &leaves[i]
		l.LengthMM *= f
		l.WidthMM *= f
		l.BaseX *= f
		l.BaseY *= f
		l.TipPurple += purple
	}
	p.Leaves = leaves
	p.MiddleX *= f
	p.MiddleY *= f
	p.Reach *= f
	return p
}
