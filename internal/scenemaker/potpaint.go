package scenemaker

import (
	"math"

	"phototrack/internal/colour"
	"phototrack/internal/geom"
)

// firstRoot is the object number of a pot's first root.
const firstRoot = 1000

// bark, rim and glass of a pot: dark bark with chips, a rim and base that catch the light.
var (
	bark = colour.Lab{L: 24, A: 10, B: 15}
	rim  = colour.Lab{L: 66, A: -1, B: -2}
)

// rimMM is how high the thickened rim and base of a pot are.
const rimMM = 4.0

// coat is how a part of a pot is painted: its colour, how bright it is, and the contrast and seed of its texture.
type coat struct {
	lab                  colour.Lab
	brightness, contrast float64
	seed                 uint64
}

// addPot lays out bark, roots, rim and base, all in the photo: they are not flat.
func (s *stage) addPot(p *Pot, c geom.Camera) {
	s.planes = append(s.planes, plane{O: geom.Vec3{0, 0, -p.DepthMM}, U: geom.Vec3{1, 0, 0}, V: geom.Vec3{0, 1, 0}})
	at := len(s.planes) - 1
	lay := func(ring []geom.PX, c coat, obj int) {
		a := colour.FromXYZ(c.lab.XYZ(colour.WhiteD65))
		for i := range a {
			a[i] *= c.brightness
		}
		s.paints = append(s.paints, paint{albedo: a, plane: at, lamp: 1, class: -1, seed: c.seed, contrast: c.contrast, along: 1})
		s.shapes = append(s.shapes, shape{plane: at, px: [][]geom.PX{ring}, paint: len(s.paints) - 1, obj: obj, over: -1})
	}
	lay(p.silhouette(c, 0, p.HeightMM, 0), coat{bark, 1, 0.35, 31}, firstRoot-1)
	for i := range p.Roots {
		r := &p.Roots[i]
		line := within(p.centreline(r, c), r.DiameterMM/2) // the round ends reach to the centreline's
		tip := len(line)
		for tip > 0 && line[len(line)-1].along-line[tip-1].along <= r.TipMM {
			tip--
		}
		// A tube is bright where it faces the light: ribbons one on the other, narrower and brighter.
		for k, width := range []float64{1, 0.85, 0.65, 0.4} {
			b := []float64{0.66, 0.86, 1, 1.08}[k]
			lay(ribbon(line, width, 0.06*float64(k)), coat{r.Colour, b, 0.08, uint64(50 + i)}, firstRoot+i)
			if r.TipMM > 0 && tip < len(line)-2 {
				lay(ribbon(line[tip:], width, 0.06*float64(k)), coat{TipColour, b, 0.05, uint64(90 + i)}, firstRoot+i)
			}
		}
	}
	for _, from := range []float64{-rimMM, p.HeightMM} {
		lay(p.collar(c, from, from+rimMM, -1.5), coat{rim, 1, 0.1, 33}, firstRoot-2)
	}
}

// within is the part of a centreline that keeps a distance from both ends.
func within(line []stretch, mm float64) []stretch {
	from, to := 0, len(line)
	for from < to && line[from].along < mm {
		from++
	}
	for to > from && line[len(line)-1].along-line[to-1].along < mm {
		to--
	}
	return line[from:to]
}

// seenRoots adds up what the canvas shows of the roots.
func (s *stage) seenRoots(p *Pot, c geom.Camera, cv *canvas) (t RootTruth) {
	for i := range p.Roots {
		line := p.centreline(&p.Roots[i], c)
		shows := func(q stretch) bool {
			x, y := int(math.Round(q.px.X)), int(math.Round(q.px.Y))
			if math.Abs(q.azimuth) > AzimuthLimitDeg || x < 0 || y < 0 || x >= cv.w || y >= cv.h {
				return false
			}
			id := cv.id[y*cv.w+x]
			if b := cv.block[y*cv.w+x]; b >= 0 {
				id = cv.blocks[b][sub*sub/2+sub/2]
			}
			return id > 0 && s.shapes[id-1].obj == firstRoot+i
		}
		last := len(line) - 1
		for k := 1; k <= last; k++ {
			if shows(line[k-1]) && shows(line[k]) {
				t.VisibleMM += line[k].along - line[k-1].along
			}
		}
		t.WholeMM += line[last].along
		if round := within(line, p.Roots[i].DiameterMM/2); p.Roots[i].TipMM > 0 && shows(round[len(round)-1]) {
			t.Tips++
		}
	}
	return
}
