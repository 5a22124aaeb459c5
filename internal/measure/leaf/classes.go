package leaf

import "math"

// Class is a colour class of leaf tissue: a span of the CIELAB hue angle.
type Class struct {
	Name    string  `json:"name"`
	FromDeg float64 `json:"from_deg"` // included
	ToDeg   float64 `json:"to_deg"`   // excluded; smaller than FromDeg where the span runs through 0
	Reason  string  `json:"reason"`
}

// Holds says whether a hue angle (0 <= deg < 360) belongs to the class.
func (c Class) Holds(deg float64) bool {
	if c.FromDeg <= c.ToDeg {
		return deg >= c.FromDeg && deg < c.ToDeg
	}
	return deg >= c.FromDeg || deg < c.ToDeg
}

// Codes of the classes in masks and tables. NoClass is a leaf pixel that is not judged.
const (
	NoClass uint8 = iota
	Green
	Yellow
	Purple
	Brown
)

// ClassNames are the classes' names by code.
var classNames = [5]string{"unjudged", "green", "yellow", "purple", "brown"}

// ClassTable is the table of colour classes, in the order of the codes Green, Yellow, Purple, Brown.
type ClassTable struct {
	Classes [4]Class `json:"classes"`
	// MinChroma is the least C*ab for which a hue is taken as known; a colour fit is good to 1 or 2 units, and at 6
	// an error of 1 turns the hue by 10 degrees.
	MinChroma float64 `json:"min_chroma"`
	// GlareL and GlareChroma: lighter than the first and greyer than the second is glare, which shows the lamp's
	// colour and not the leaf's.
	GlareL      float64 `json:"glare_l"`
	GlareChroma float64 `json:"glare_chroma"`
}

// DefaultClasses is the table that is used where a collection gives none of its own.
func DefaultClasses() ClassTable {
	return ClassTable{
		Classes: [4]Class{
			{"green", 108, 270, "Chlorophyll: leaf greens lie between 115 and 145 degrees, blue-green and silvery leaves up to 200."},
			{"yellow", 80, 108, "Chlorophyll gone, carotenoids left: 90 to 100 degrees; 108 halves the way to a pale green."},
			{"purple", 270, 30, "Anthocyanins over green or alone: red through purple."},
			{"brown", 30, 80, "Dead tissue: 50 to 70 degrees; 80 halves the way to yellow."},
		},
		MinChroma:   6,
		GlareL:      80,
		GlareChroma: 12,
	}
}

// Of gives the class code of a colour: NoClass where it is too grey to have a hue, or glare.
func (t *ClassTable) Of(L, a, b float64) uint8 {
	c := math.Hypot(a, b)
	if c < t.MinChroma || (L > t.GlareL && c < t.GlareChroma) {
		return NoClass
	}
	h := math.Atan2(b, a) * 180 / math.Pi
	if h < 0 {
		h += 360
	}
	for i, k := range t.Classes {
		if k.Holds(h) {
			return uint8(i + 1)
		}
	}
	return NoClass
}

// ray is a hue limit as a direction, for telling classes without an arc tangent per pixel.
type ray struct{ c, s float32 }

type fastClasses struct {
	from, to [4]ray
	wide     [4]bool // span of more than half a turn
	chroma2  float32
	glareL   float32
	glareC2  float32
}

func newFastClasses(t *ClassTable) *fastClasses {
	f := &fastClasses{chroma2: float32(t.MinChroma * t.MinChroma), glareL: float32(t.GlareL), glareC2: float32(t.GlareChroma * t.GlareChroma)}
	for i, k := range t.Classes {
		d := func(deg float64) ray {
			s, c := math.Sincos(deg * math.Pi / 180)
			return ray{float32(c), float32(s)}
		}
		f.from[i], f.to[i] = d(k.FromDeg), d(k.ToDeg)
		f.wide[i] = math.Mod(k.ToDeg-k.FromDeg+360, 360) > 180 // more than half of the circle
	}
	return f
}

func (f *fastClasses) of(L, a, b float32) uint8 {
	c2 := a*a + b*b
	if c2 < f.chroma2 || (L > f.glareL && c2 < f.glareC2) {
		return NoClass
	}
	for i := range 4 {
		after := f.from[i].c*b-f.from[i].s*a >= 0 // left of the first limit
		before := f.to[i].c*b-f.to[i].s*a < 0     // right of the second
		if f.wide[i] {
			if after || before {
				return uint8(i + 1)
			}
		} else if after && before {
			return uint8(i + 1)
		}
	}
	return NoClass
}
