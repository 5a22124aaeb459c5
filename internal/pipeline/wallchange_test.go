package pipeline_test

import (
	"image"
	"image/color"
	"math"
	"math/rand/v2"

	"github.com/disintegration/imaging"

	"phototrack/internal/colour"
)

// rootColours are colours of roots as sRGB: white and silver, grey-green, wet green, yellowish, tan, older brown, purple, reddish
// (common practice).
var rootColours = []color.NRGBA{{214, 216, 206, 255}, {188, 192, 184, 255}, {150, 162, 138, 255}, {104, 130, 84, 255}, {216, 202, 156, 255},
	{176, 142, 100, 255}, {126, 92, 64, 255}, {130, 104, 126, 255}, {176, 120, 110, 255}}

// mediumColours are colours of what pots are filled with: bark, wet bark, black peat, dry and green moss, clay, grey stone, perlite, coir.
var mediumColours = []color.NRGBA{{110, 76, 52, 255}, {66, 44, 34, 255}, {38, 32, 30, 255}, {186, 164, 112, 255}, {92, 112, 56, 255},
	{160, 96, 66, 255}, {120, 118, 114, 255}, {214, 212, 206, 255}, {140, 100, 62, 255}}

// pick is one of the colours.
func pick(r *rand.Rand, of []color.NRGBA) colour.RGB { return linear(of[r.IntN(len(of))]) }

// otherRoots paints the roots in one colour or, in places, another; what grows at a tip keeps its own or takes that of red and purple tips.
func (s *wallScene) otherRoots(pic *image.NRGBA, r *rand.Rand) *image.NRGBA {
	base, other := pick(r, rootColours), pick(r, rootColours)
	if r.IntN(4) == 0 { // nearly the colour of what lies behind them
		base = scaled(s.mediumColour(), 1.25+0.5*r.Float64())
	}
	where := noise(r, 12, 12)
	mean, n := 0.0, 0.0
	w := s.mask.Rect.Dx()
	for i, share := range s.root {
		if share == 1 {
			mean += light(linear(pic.NRGBAAt(i%w, i/w)))
			n++
		}
	}
	mean /= max(1, n)
	tip, bend := pick(r, []color.NRGBA{{122, 156, 60, 255}, {150, 70, 80, 255}, {120, 80, 120, 255}}), 0.7+0.3*r.Float64()
	shine := min(1.4, mean/light(linear(color.NRGBA{200, 200, 190, 255}))) // the scenes' roots are white
	return s.repaint(pic, func(p place, x, y int, c colour.RGB) colour.RGB {
		share := s.root[y*w+x]
		if share == 0 {
			return c
		}
		to := toward(base, other, min(1, max(0, 3*where(s.radius*p.az, p.depth))))
		if s.mask.GrayAt(x, y).Y == codeTip {
			to = tip
		}
		return toward(c, scaled(to, shine*math.Pow(light(c)/mean, bend)), share)
	})
}

// mediumColour is the mean colour of the wall beside the roots.
func (s *wallScene) mediumColour() (c colour.RGB) {
	w, n := s.mask.Rect.Dx(), 0.0
	for i, p := range s.at {
		if p.depth > 0 && s.root[i] == 0 {
			c = toward(c, linear(nrgba(s.pic.At(i%w, i/w))), 1/(n+1))
			n++
		}
	}
	return c
}

// otherMedium fills the pot with something else: the light and shade of what is there stay as far as it says, grains or fibres, balls or
// crumbs are added.
func (s *wallScene) otherMedium(pic *image.NRGBA, r *rand.Rand) *image.NRGBA {
	base, other := pick(r, mediumColours), pick(r, mediumColours)
	if r.IntN(2) == 0 {
		other = scaled(base, 0.5+r.Float64())
	}
	relief := 0.3 + 0.7*r.Float64() // how far the light and shade that is there stays
	grain := s.grain(r)
	w := s.mask.Rect.Dx()
	return s.repaint(pic, func(p place, x, y int, c colour.RGB) colour.RGB {
		share := 1 - s.root[y*w+x]
		if share == 0 {
			return c
		}
		lit, mix := grain(s.radius*p.az, p.depth)
		k := math.Pow(min(4, max(0.05, light(c)/s.mean)), relief) * lit
		return toward(c, scaled(toward(base, other, mix), 0.75*k), share)
	})
}

// grain is a texture: how bright a place of the wall, mm, is and how much it has of the second colour.
func (s *wallScene) grain(r *rand.Rand) func(x, y float64) (lit, mix float64) {
	fine, rough := noise(r, 0.6, 0.6), noise(r, 6, 6)
	switch r.IntN(4) {
	case 0: // fibres
		lean, strand := 2*r.Float64()-1, noise(r, 0.7, 7)
		return func(x, y float64) (lit, mix float64) {
			v := strand(x+lean*y+3*rough(x, y), y)
			return 1 + 0.45*v + 0.15*fine(x, y), min(1, max(0, 0.5+rough(x, y)))
		}
	case 1: // balls or stones
		size := 5 + 8*r.Float64()
		jitter, tone := noise(r, 0.5, 0.5), noise(r, 0.5, 0.5)
		return func(x, y float64) (lit, mix float64) {
			best, cx, cy := math.Inf(1), 0.0, 0.0
			i0, j0 := math.Floor(x/size), math.Floor(y/size)
			for j := j0 - 1; j <= j0+1; j++ {
				for i := i0 - 1; i <= i0+1; i++ {
					u, v := (i+0.5+0.45*jitter(17*i, 31*j))*size, (j+0.5+0.45*jitter(23*i+7, 13*j+5))*size
					if d := math.Hypot(x-u, y-v); d < best {
						best, cx, cy = d, i, j
					}
				}
			}
			e := best / (0.62 * size)
			return 0.25 + 0.95*math.Sqrt(max(0, 1-e*e)) + 0.1*fine(x, y), min(1, max(0, 0.5+tone(11*cx, 19*cy)))
		}
	case 2: // crumbs of another kind among it
		crumb, least := noise(r, 3, 3), 0.25+0.4*r.Float64()
		return func(x, y float64) (lit, mix float64) {
			return 1 + 0.2*rough(x, y) + 0.2*fine(x, y), min(1, max(0, 8*(crumb(x, y)-least)))
		}
	}
	return func(x, y float64) (lit, mix float64) { return 1 + 0.3*rough(x, y) + 0.3*fine(x, y), 0 }
}

// otherLight lays lamps' reflections, mist or a shadow over the wall.
func (s *wallScene) otherLight(pic *image.NRGBA, r *rand.Rand) *image.NRGBA {
	white := colour.RGB{0.95, 0.97, 1}
	switch r.IntN(4) {
	case 0, 1: // one to three bands of a lamp or window, some so bright that nothing is seen behind them
		for range 1 + r.IntN(3) {
			mid, half, lean := (2*r.Float64()-1)*0.9, 0.02+0.08*r.Float64(), 0.1*(2*r.Float64()-1)
			from, to := s.height*0.4*r.Float64(), s.height*(0.6+0.4*r.Float64())
			most := 0.1 + 0.5*r.Float64()
			if r.IntN(4) == 0 {
				most = 1.2
			}
			pic = s.repaint(pic, func(p place, _, _ int, c colour.RGB) colour.RGB {
				across := (p.az - mid - lean*(p.depth/s.height-0.5)) / half
				k := most * math.Exp(-0.5*math.Pow(across, 4)) / (1 + math.Exp((from-p.depth)/2)) / (1 + math.Exp((p.depth-to)/2))
				for i := range c {
					c[i] += k * white[i]
				}
				return c
			})
		}
		return pic
	case 2: // mist, thicker in places
		cloud, drop, most := noise(r, 25, 25), noise(r, 1.2, 1.2), 0.1+0.5*r.Float64()
		grey := colour.RGB{0.5, 0.52, 0.53}
		return s.repaint(pic, func(p place, _, _ int, c colour.RGB) colour.RGB {
			x := s.radius * p.az
			k := most * min(1, max(0, 0.5+1.5*cloud(x, p.depth))) * (0.85 + 0.15*drop(x, p.depth))
			return toward(c, grey, k)
		})
	}
	mid, half, k := 2*r.Float64()-1, 0.15+0.4*r.Float64(), 0.25+0.5*r.Float64() // a shadow
	edge := 0.02 + 0.1*r.Float64()
	slope := 0.02 * (2*r.Float64() - 1)
	return s.repaint(pic, func(p place, _, _ int, c colour.RGB) colour.RGB {
		d := math.Abs(p.az+slope*p.depth-mid) - half
		return scaled(c, 1-(1-k)/(1+math.Exp(d/edge)))
	})
}

// otherCamera is the picture of another camera: darker or brighter, of another white, softer, noisier.
func otherCamera(pic *image.NRGBA, r *rand.Rand) *image.NRGBA {
	gain := math.Exp2(0.8*r.Float64() - 0.6)
	cast := [3]float64{math.Exp(0.12 * r.NormFloat64()), 1, math.Exp(0.12 * r.NormFloat64())}
	soft, rough := []float64{0, 0.8, 1.3}[r.IntN(3)], []float64{0, 2, 5}[r.IntN(3)]
	if soft > 0 {
		pic = imaging.Blur(pic, soft)
	}
	out := imaging.Clone(pic)
	for y := range out.Rect.Dy() {
		for x := range out.Rect.Dx() {
			c := linear(out.NRGBAAt(x, y))
			for k := range c {
				c[k] *= gain * cast[k]
			}
			q := encoded(c)
			for _, v := range []*uint8{&q.R, &q.G, &q.B} {
				*v = uint8(min(255, max(0, float64(*v)+rough*r.NormFloat64())))
			}
			out.SetNRGBA(x, y, q)
		}
	}
	return out
}
