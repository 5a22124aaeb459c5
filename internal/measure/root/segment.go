package root

import (
	"math"

	"phototrack/internal/raster"
)

// ground is what the wall shows where there is no root: bark, moss, clay. Its lightness and its red-green coordinate
// vary over the wall with light and material, so they are taken from the neighbourhood.
type ground struct {
	step  int // px between nodes
	w, h  int
	l, a  []float32
	share []float32 // of the neighbourhood that could be judged
}

// Colour of roots against the ground, CIELAB units. Velamen is neutral or greenish, wet or dry, and tips are green; bark,
// moss peat, clay and wood are redder than any root. Lightness adds what colour alone cannot tell.
const (
	scaleL    = 14.0 // a lightness difference that speaks as loudly as
	scaleA    = 4.0  // this difference in a*
	capVote   = 1.6  // neither has more than this many votes
	floorVote = -1.2 // nor fewer
	edgeSine  = 0.74 // sine of the azimuth beyond which the wall's own reflection counts
)

func (g *ground) at(x, y int) (l, a float32) {
	fx, fy := float32(x)/float32(g.step)-0.5, float32(y)/float32(g.step)-0.5
	fx, fy = min(max(fx, 0), float32(g.w-1)), min(max(fy, 0), float32(g.h-1))
	ix, iy := min(int(fx), max(g.w-2, 0)), min(int(fy), max(g.h-2, 0))
	fx, fy = fx-float32(ix), fy-float32(iy)
	i, dx, dy := iy*g.w+ix, min(1, g.w-1), g.w*min(1, g.h-1)
	mix := func(v []float32) float32 {
		t := v[i] + fx*(v[i+dx]-v[i])
		b := v[i+dy] + fx*(v[i+dx+dy]-v[i+dy])
		return t + fy*(b-t)
	}
	return mix(g.l), mix(g.a)
}

// findGround takes, on a grid of nodes 4 mm apart and from a neighbourhood of +-reach mm, a low quantile of lightness and
// a high one of a*, which roots that cover up to half of the wall do not move much.
func findGround(s *sheet, use raster.Mask, reach float64) *ground {
	step := max(4, int(4/s.Step))
	g := &ground{step: step, w: (s.W + step - 1) / step, h: (s.H + step - 1) / step}
	const bins = 64
	n := g.w * g.h
	histL, histA := make([][bins]int32, n), make([][bins]int32, n)
	for y := 0; y < s.H; y += 2 {
		for x := y / 2 % 2; x < s.W; x += 2 {
			i := y*s.W + x
			if use.Pix[i] == 0 {
				continue
			}
			k := y/step*g.w + x/step
			histL[k][bin(s.L.Pix[i], 0, 110, bins)]++
			histA[k][bin(s.A.Pix[i], -24, 24, bins)]++
		}
	}
	g.l, g.a, g.share = make([]float32, n), make([]float32, n), make([]float32, n)
	r := int(math.Round(reach / s.Step / float64(step)))
	var allL, allA [bins]int32
	for k := range n {
		addTo(&allL, &histL[k])
		addTo(&allA, &histA[k])
	}
	for y := range g.h {
		for x := range g.w {
			rx, ry := r, r
			// Far round the pot the wall mirrors more and more of the room: there only what lies above and below compares.
			if side := math.Abs((float64(x)+0.5)*float64(step)-s.Mid) * s.Step / s.s.Radius(float64(y*step)*s.Step); side > edgeSine {
				rx, ry = 1, r+r/2
			}
			var hl, ha [bins]int32
			for v := max(0, y-ry); v <= min(g.h-1, y+ry); v++ {
				for u := max(0, x-rx); u <= min(g.w-1, x+rx); u++ {
					addTo(&hl, &histL[v*g.w+u])
					addTo(&ha, &histA[v*g.w+u])
				}
			}
			k := y*g.w + x
			if count(&hl) < 200 { // nothing to go by here: the whole wall's
				hl, ha = allL, allA
			}
			g.l[k] = level(&hl, 0.35, 0, 110)
			g.a[k] = level(&ha, 0.62, -24, 24)
		}
	}
	return g
}

func bin(v, lo, hi float32, bins int) int {
	return min(max(int((v-lo)/(hi-lo)*float32(bins)), 0), bins-1)
}

func addTo(a, b *[64]int32) {
	for i := range a {
		a[i] += b[i]
	}
}

func count(h *[64]int32) (n int32) {
	for _, v := range h {
		n += v
	}
	return n
}

// level is the q-quantile of a histogram over lo..hi.
func level(h *[64]int32, q float64, lo, hi float32) float32 {
	n := count(h)
	if n == 0 {
		return lo
	}
	want, sum := q*float64(n), 0.0
	for i, v := range h {
		if sum+float64(v) >= want && v > 0 {
			f := (want - sum) / float64(v)
			return lo + (float32(i)+float32(f))*(hi-lo)/64
		}
		sum += float64(v)
	}
	return hi
}

// rootness is how much each pixel looks like root rather than ground: votes of lightness and of a*, about 0 on the
// ground and above 1.5 on roots.
func rootness(s *sheet, g *ground) raster.Float {
	out := raster.NewFloat(s.W, s.H)
	clip := func(v float32) float32 { return min(max(v, floorVote), capVote) }
	for y := range s.H {
		for x := range s.W {
			i := y*s.W + x
			if s.Seen.Pix[i] == 0 {
				continue
			}
			l, a := g.at(x, y)
			out.Pix[i] = clip((s.L.Pix[i]-l)/scaleL) + clip((a-s.A.Pix[i])/scaleA)
		}
	}
	return out
}
