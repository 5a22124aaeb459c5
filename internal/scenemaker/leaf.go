package scenemaker

import (
	"math"

	"phototrack/internal/colour"
	"phototrack/internal/geom"
)

// Class is a colour class of leaf tissue.
type Class int

// The classes, in the order of the program's tables.
const (
	Green Class = iota
	Yellow
	Purple
	Brown
	Classes // how many there are
)

// String is the class's name as the quantities have it.
func (c Class) String() string { return [...]string{"green", "yellow", "purple", "brown"}[c] }

// Leaf is one flat leaf. Its outline is a smooth closed curve about a midrib that may bend within the leaf's plane.
type Leaf struct {
	BaseX, BaseY    float64 // mm, from the plant's foot, x right, y down, as seen square on
	AngleDeg        float64 // direction of the midrib at the base, from x towards y
	LengthMM        float64
	WidthMM         float64
	Bend            float64 // turn of the midrib from base to tip, radians
	Blunt           float64 // 0.5: an ellipse's ends; 1: pointed
	WidestAt        float64 // where along the midrib the leaf is widest, 0..1
	DepthMM         float64 // of the leaf's middle before the plant's plane, towards the camera
	SlopeDeg        float64 // along the midrib, out of the plant's plane, towards the camera
	RollDeg         float64 // across it
	Colours         [Classes]colour.Lab
	Margin          float64 // share of the leaf that is purple, along both margins
	TipPurple       float64 // share of the leaf that is purple, before the yellow and the brown tip
	TipYellow       float64 // share of the leaf that is yellow, before the brown tip if there is one
	TipBrown        float64 // share of the leaf that is brown, from the tip
	Wave, WavePhase float64 // how wavy the borders between classes are, 0..1
	TextureSeed     uint64
	TextureContrast float64 // standard deviation or so of the brightness over the leaf, relative
}

// steps of an outline from base to tip.
const steps = 96

// halfWidth at t, 0 at the base to 1 at the tip, as a share of the greatest.
func (l *Leaf) halfWidth(t float64) float64 {
	if t <= 0 || t >= 1 {
		return 0
	}
	p := math.Log(0.5) / math.Log(l.WidestAt) // widest where t^p is one half
	return math.Pow(math.Sin(math.Pi*math.Pow(t, p)), l.Blunt)
}

// point is the place at t along and s across (-1 and 1 are the margins), in the leaf's plane, mm, base at the origin,
// midrib along u at first.
func (l *Leaf) point(t, s float64) geom.MM {
	a := l.Bend * t
	var u, v float64
	if math.Abs(l.Bend) < 1e-6 {
		u = l.LengthMM * t
	} else {
		r := l.LengthMM / l.Bend
		u, v = r*math.Sin(a), r*(1-math.Cos(a))
	}
	w := s * l.WidthMM / 2 * l.halfWidth(t)
	return geom.MM{X: u - w*math.Sin(a), Y: v + w*math.Cos(a)}
}

// knots are the steps along the leaf, closer together at the ends, where the outline turns.
func knots(from, to float64) []float64 {
	out := make([]float64, steps+1)
	for i := range out {
		out[i] = from + (to-from)*(1-math.Cos(math.Pi*float64(i)/steps))/2
	}
	return out
}

// band is the ring between two lines s(t) from one t to another.
func (l *Leaf) band(from, to float64, left, right func(t float64) float64) []geom.MM {
	var out []geom.MM
	k := knots(from, to)
	for _, t := range k {
		out = append(out, l.point(t, left(t)))
	}
	for i := len(k) - 1; i >= 0; i-- {
		out = append(out, l.point(k[i], right(k[i])))
	}
	return out
}

func constant(s float64) func(float64) float64 { return func(float64) float64 { return s } }

// outline is the whole leaf.
func (l *Leaf) outline() []geom.MM { return l.band(0, 1, constant(-1), constant(1)) }

// AreaMM2 is the leaf's own area, in its plane.
func (l *Leaf) AreaMM2() float64 { return ringArea(l.outline()) }

func ringArea(r []geom.MM) float64 {
	twice := 0.0
	for i, p := range r {
		q := r[(i+1)%len(r)]
		twice += p.X*q.Y - q.X*p.Y
	}
	return math.Abs(twice) / 2
}

// tipFrom is the t beyond which the given share of the leaf lies.
func (l *Leaf) tipFrom(part float64) float64 {
	if part >= 1 {
		return 0
	}
	const n = 2000
	sum, total := 0.0, 0.0
	for i := range n {
		total += l.halfWidth((float64(i) + 0.5) / n)
	}
	for i := n - 1; i >= 0; i-- {
		sum += l.halfWidth((float64(i) + 0.5) / n)
		if sum >= part*total {
			return float64(i) / n
		}
	}
	return 0
}

// tip is the wavy part beyond t, wider than the leaf so that it is cut off by it.
func (l *Leaf) tip(t0 float64) []geom.MM {
	var out []geom.MM
	const n = 40
	for i := range n + 1 {
		s := beyond * (-1 + 2*float64(i)/n)
		t := t0 + 0.04*l.Wave*math.Sin(2.5*math.Pi*s+l.WavePhase)
		out = append(out, l.point(math.Max(0, t), s))
	}
	k := knots(t0, 1)
	for _, t := range k {
		out = append(out, l.point(t, beyond))
	}
	for i := len(k) - 1; i >= 0; i-- {
		out = append(out, l.point(k[i], -beyond))
	}
	return out
}

// beyond is how far parts reach over the margin before they are cut off by it.
const beyond = 1.2

// regions are the parts of other classes, to be painted in this order and cut off by the leaf's outline.
func (l *Leaf) regions() (out []region) {
	if l.Margin > 0 {
		inner := func(side float64) func(float64) float64 {
			return func(t float64) float64 {
				s := 1 - l.Margin*(1+0.5*l.Wave*math.Sin(9*math.Pi*t+l.WavePhase+side))
				return side * math.Min(1, math.Max(0, s))
			}
		}
		for _, side := range []float64{-1, 1} {
			out = append(out, region{Purple, l.band(0, 1, inner(side), constant(beyond*side))})
		}
	}
	if l.TipPurple > 0 {
		out = append(out, region{Purple, l.tip(l.tipFrom(l.TipBrown + l.TipYellow + l.TipPurple))})
	}
	if l.TipYellow > 0 {
		out = append(out, region{Yellow, l.tip(l.tipFrom(l.TipBrown + l.TipYellow))})
	}
	if l.TipBrown > 0 {
		out = append(out, region{Brown, l.tip(l.tipFrom(l.TipBrown))})
	}
	return
}

type region struct {
	class Class
	ring  []geom.MM
}
