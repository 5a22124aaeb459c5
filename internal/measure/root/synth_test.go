package root

import (
	"math"
	"math/rand/v2"

	"phototrack/internal/raster"
	"phototrack/internal/record"
	"phototrack/internal/wall"
)

// synth is a made-up wall: bark in chips, roots of known length laid on the wall one over the other, noise, uneven
// light, and in some a mirrored window. It is made straight in the frontal view, so that hundreds can be measured.
type synth struct {
	rng    *rand.Rand
	pot    record.Pot
	fr     wall.Frustum
	cam    wall.Camera
	sh     *sheet
	roots  []synthRoot
	length float64 // mm, seen within 60 degrees
	tips   int
	glare  bool
}

type synthRoot struct {
	az, y  []float64 // centreline, rad and mm along the axis, dense
	px     [][2]float64
	diam   float64
	lab    [3]float64
	tipMM  float64
	hidden []bool
}

const synthDist = 540.0

func newSynth(seed uint64, roots int) *synth {
	g := &synth{rng: rand.New(rand.NewPCG(seed, 7)), pot: record.Pot{TopMM: 90, BottomMM: 82, HeightMM: 80}}
	g.fr = wall.Frustum{Rim: wall.Vec{-60, 20, 0}, Base: wall.Vec{-60, 20 + g.pot.HeightMM, 0}, RRim: g.pot.TopMM / 2, RBase: g.pot.BottomMM / 2}
	g.cam = wall.Camera{Fx: 2400, Fy: 2400, Cx: 1000, Cy: 750, R: [9]float64{1, 0, 0, 0, 1, 0, 0, 0, 1}, T: wall.Vec{20, -60, synthDist}}
	g.fr = g.fr.Facing(g.cam.Centre())
	v := newView(g.cam, g.fr.Inset(typicalRadiusMM), workStep, true)
	n := v.W * v.H
	g.sh = &sheet{view: v, Pic: raster.NewBGR(v.W, v.H), Seen: raster.NewMask(v.W, v.H),
		L: raster.NewFloat(v.W, v.H), A: raster.NewFloat(v.W, v.H), B: raster.NewFloat(v.W, v.H)}
	for i := range n {
		g.sh.Seen.Pix[i] = 1
	}
	g.bark()
	for range roots {
		g.grow()
	}
	g.draw()
	g.surround()
	if g.rng.Float64() < 0.3 {
		g.glare = true
		g.window()
	}
	g.finish()
	g.measure()
	return g
}

func (g *synth) uniform(lo, hi float64) float64 { return lo + (hi-lo)*g.rng.Float64() }

// bark fills the view with chips: the cells of random points, each of its own lightness and redness.
func (g *synth) bark() {
	type chip struct{ x, y, l, a, b float64 }
	const cell = 28
	w, h := g.sh.W/cell+2, g.sh.H/cell+2
	chips := make([]chip, w*h)
	for i := range chips {
		// light and shade scale lightness and chroma together
		l := g.uniform(14, 39)
		chips[i] = chip{(float64(i%w) + g.rng.Float64()) * cell, (float64(i/w) + g.rng.Float64()) * cell, l, 2.2 + 0.13*l + 0.7*g.rng.NormFloat64(), 3 + 0.2*l}
	}
	for y := range g.sh.H {
		for x := range g.sh.W {
			best, second := math.Inf(1), math.Inf(1)
			var c chip
			for v := max(0, y/cell-1); v <= min(h-1, y/cell+1); v++ {
				for u := max(0, x/cell-1); u <= min(w-1, x/cell+1); u++ {
					k := chips[v*w+u]
					if d := math.Hypot(k.x-float64(x), k.y-float64(y)); d < best {
						best, second, c = d, best, k
					} else if d < second {
						second = d
					}
				}
			}
			l := c.l
			if second-best < 2 {
				l *= 0.6
			}
			g.set(x, y, l, c.a, c.b)
		}
	}
}

func (g *synth) set(x, y int, l, a, b float64) {
	i := y*g.sh.W + x
	g.sh.L.Pix[i], g.sh.A.Pix[i], g.sh.B.Pix[i] = float32(l), float32(a), float32(b)
}

// grow adds a root that wanders down and sideways from somewhere below the filling's edge.
func (g *synth) grow() {
	r := synthRoot{diam: g.uniform(2.4, 5), tipMM: g.uniform(5, 11)}
	if g.rng.Float64() < 0.6 {
		r.lab = [3]float64{g.uniform(60, 80), g.uniform(-1, 1), g.uniform(3, 7)}
	} else {
		r.lab = [3]float64{g.uniform(42, 55), g.uniform(-6, -3), g.uniform(6, 10)}
	}
	az, y := g.uniform(-1.15, 1.15), g.uniform(8, 26)
	dir, turn := g.uniform(0.2, 2.9), 0.0
	length := g.uniform(18, 75)
	const step = 0.2
	for s := 0.0; s < length; s += step {
		r.az, r.y = append(r.az, az), append(r.y, y)
		rad := g.radius(y) - r.diam/2
		az += step * math.Cos(dir) / rad
		y += step * math.Sin(dir)
		turn = 0.97*turn + 0.004*g.rng.NormFloat64()
		dir += turn * step * 3
		if y < 7 || y > g.pot.HeightMM-5 || math.Abs(az) > 1.5 {
			break
		}
	}
	g.roots = append(g.roots, r)
}

func (g *synth) radius(y float64) float64 {
	return g.fr.RRim + (g.fr.RBase-g.fr.RRim)*y/g.pot.HeightMM
}

// draw paints the roots in their order, a tube each, shaded towards its edges, and notes what lies under later ones.
func (g *synth) draw() {
	owner := make([]int32, g.sh.W*g.sh.H)
	for k := range g.roots {
		r := &g.roots[k]
		half := r.diam / 2 / g.sh.Step
		eye := g.cam.Centre()
		for i := range r.az {
			// where the centreline, inside the wall, is seen on the surface of the view
			in := g.fr.Inset(r.diam / 2)
			p := in.Point(r.az[i], r.y[i])
			q, ok := g.sh.s.MeetOpen(eye, p.Sub(eye))
			if !ok {
				q = p
			}
			a, depth, _ := g.sh.s.Coords(q)
			x, y := g.sh.at(a, depth)
			r.px = append(r.px, [2]float64{x, y})
		}
		g.tube(k, half, owner)
	}
	for k := range g.roots {
		r := &g.roots[k]
		r.hidden = make([]bool, len(r.px))
		for i, p := range r.px {
			x, y := int(p[0]+0.5), int(p[1]+0.5)
			r.hidden[i] = x < 0 || y < 0 || x >= g.sh.W || y >= g.sh.H || owner[y*g.sh.W+x] != int32(k+1)
		}
	}
}

// tube paints root k: nearest point of the centreline per pixel, so each pixel is shaded once.
func (g *synth) tube(k int, half float64, owner []int32) {
	r := &g.roots[k]
	dist := map[int]float64{}
	along := map[int]int{}
	n := len(r.px)
	for i := range r.px {
		cx, cy := r.px[i][0], r.px[i][1]
		for y := int(cy - half - 1); y <= int(cy+half+1); y++ {
			for x := int(cx - half - 1); x <= int(cx+half+1); x++ {
				if x < 0 || y < 0 || x >= g.sh.W || y >= g.sh.H {
					continue
				}
				d := math.Hypot(float64(x)-cx, float64(y)-cy)
				j := y*g.sh.W + x
				if v, ok := dist[j]; d <= half && (!ok || d < v) {
					dist[j], along[j] = d, i
				}
			}
		}
	}
	for j, i := range along { // no cap: the centreline's end is the root's end
		if i == 0 || i == n-1 {
			delete(dist, j)
		}
	}
	for j, d := range dist {
		u := d / half
		l := r.lab[0] * (1 - 0.35*u*u)
		a, b := r.lab[1], r.lab[2]
		if float64(n-along[j])*0.2 < r.tipMM {
			l, a, b = 0.75*l+8, -17, 28
		}
		g.sh.L.Pix[j], g.sh.A.Pix[j], g.sh.B.Pix[j] = float32(l), float32(a), float32(b)
		owner[j] = int32(k + 1)
	}
}

// surround puts a grey room beside the filling and above it.
func (g *synth) surround() {
	for y := range g.sh.H {
		r := g.sh.s.Radius(float64(y)*g.sh.Step/g.sh.slant) / g.sh.Step
		for x := range g.sh.W {
			if math.Abs(float64(x)-g.sh.Mid) > 0.93*r || float64(y)*g.sh.Step < 5.5 {
				g.set(x, y, 62, 0.5, 2)
			}
		}
	}
}

// window adds a band of light at constant azimuth from the rim down.
func (g *synth) window() {
	a0 := g.uniform(-0.7, 0.4)
	a1, y1 := a0+g.uniform(0.05, 0.16), int(g.uniform(20, 45)/g.sh.Step)
	veil := float32(g.uniform(0.12, 0.4))
	for y := range y1 {
		r := g.sh.s.Radius(float64(y)*g.sh.Step/g.sh.slant) / g.sh.Step
		for x := max(0, int(g.sh.Mid+a0*r)); x < min(g.sh.W, int(g.sh.Mid+a1*r)); x++ {
			i := y*g.sh.W + x
			px, py, pz := toXYZ(g.sh.L.Pix[i], g.sh.A.Pix[i], g.sh.B.Pix[i])
			g.sh.L.Pix[i], g.sh.A.Pix[i], g.sh.B.Pix[i] = toLab(px+veil, py+veil, pz+veil)
		}
	}
}

// finish lays uneven light over all, blurs a little and adds noise.
func (g *synth) finish() {
	s := g.sh
	k, phase := g.uniform(-0.25, 0.25), g.uniform(-0.1, 0.1)
	for i := range s.L.Pix {
		x := (float64(i%s.W) - s.Mid) / s.Mid
		s.L.Pix[i] *= float32(1 + phase + k*x)
	}
	soften(s.L, 1)
	soften(s.A, 2)
	soften(s.B, 2)
	noise := g.uniform(0.8, 2.2)
	for i := range s.L.Pix {
		s.L.Pix[i] = max(1, s.L.Pix[i]+float32(noise*g.rng.NormFloat64()))
		s.A.Pix[i] += float32(0.5 * g.rng.NormFloat64())
		s.B.Pix[i] += float32(0.5 * g.rng.NormFloat64())
		v := uint8(min(255, max(1, 2.4*s.L.Pix[i])))
		s.Pic.Pix[3*i], s.Pic.Pix[3*i+1], s.Pic.Pix[3*i+2] = v, v, v
	}
}

// measure sums the true length: in space, seen, within 60 degrees.
func (g *synth) measure() {
	for k := range g.roots {
		r := &g.roots[k]
		for i := 1; i < len(r.az); i++ {
			if math.Abs(r.az[i]) > limitAzimuth || r.hidden[i] {
				continue
			}
			rad := g.radius(r.y[i]) - r.diam/2
			g.length += math.Hypot(rad*(r.az[i]-r.az[i-1]), r.y[i]-r.y[i-1])
		}
		if n := len(r.az) - 4; n > 0 && !r.hidden[n] {
			g.tips++
		}
	}
}
