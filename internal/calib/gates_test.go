package calib

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/card"
	"phototrack/internal/gate"
	"phototrack/internal/geom"
	"phototrack/internal/raster"
	"phototrack/internal/record"
)

// warp makes a photo anew: each px takes its colour from where from says it lies in the photo; grey where it lies nowhere.
func warp(img raster.BGR, w, h int, from func(geom.PX) geom.PX) raster.BGR {
	out := raster.BGR{W: w, H: h, Pix: make([]uint8, 3*w*h)}
	for y := range h {
		for x := range w {
			p := from(geom.PX{X: float64(x), Y: float64(y)})
			o := out.Pix[3*(y*w+x) : 3*(y*w+x)+3]
			if !(p.X >= 0 && p.Y >= 0 && p.X < float64(img.W-1) && p.Y < float64(img.H-1)) {
				o[0], o[1], o[2] = 120, 120, 120
				continue
			}
			i, j := int(p.X), int(p.Y)
			u, v := p.X-float64(i), p.Y-float64(j)
			a := img.Pix[3*(j*img.W+i):]
			b := img.Pix[3*((j+1)*img.W+i):]
			for c := range 3 {
				o[c] = uint8((1-v)*((1-u)*float64(a[c])+u*float64(a[3+c])) + v*((1-u)*float64(b[c])+u*float64(b[3+c])) + 0.5)
			}
		}
	}
	return out
}

// shrunk makes a photo smaller by box means.
func shrunk(img raster.BGR, k int) raster.BGR {
	out := raster.BGR{W: img.W / k, H: img.H / k}
	for y := range out.H {
		for x := range out.W {
			for c := range 3 {
				s := 0
				for dy := range k {
					for dx := range k {
						s += int(img.Pix[3*((y*k+dy)*img.W+x*k+dx)+c])
					}
				}
				out.Pix = append(out.Pix, uint8(s/(k*k)))
			}
		}
	}
	return out
}

// seenFrom shows a photo, taken as flat, as it looks with the card tilted by deg about its vertical axis.
func seenFrom(t *testing.T, img raster.BGR, c *Calibration, deg float64) raster.BGR {
	t.Helper()
	turn := geom.Rodrigues(geom.Vec3{0, deg * math.Pi / 180, 0})
	cam := c.Camera
	mid := geom.Vec3{card.WidthMM / 2, card.HeightMM / 2, 0}
	was := cam.R.Vec(mid)
	depth := was[2] + cam.T[2]
	cam.R = turn
	now := cam.R.Vec(mid)
	cam.T = geom.Vec3{-now[0], -now[1], depth*0.8 - now[2]} // the card in the middle, somewhat nearer
	to, err := cam.Plane(0).Inverse()
	require.NoError(t, err)
	plane := c.Camera.Plane(0)
	return warp(img, img.W, img.H, func(p geom.PX) geom.PX { return plane.Px(to.MM(p)) })
}

// bow shows the card bent about its vertical axis by mm over its width, the rest of the photo with it.
func bow(t *testing.T, img raster.BGR, c *Calibration, mm float64) raster.BGR {
	t.Helper()
	inv, err := c.Camera.Plane(0).Inverse()
	require.NoError(t, err)
	return warp(img, img.W, img.H, func(p geom.PX) geom.PX {
		q := p
		for range 4 {
			m := inv.MM(q)
			u := (m.X - card.WidthMM/2) / (card.WidthMM / 2)
			u = math.Min(math.Max(u, -1.2), 1.2)
			flat, bent := c.Camera.Px(geom.Vec3{m.X, m.Y, 0}), c.Camera.Px(geom.Vec3{m.X, m.Y, mm * (u*u - 0.5)})
			q = geom.PX{X: p.X + flat.X - bent.X, Y: p.Y + flat.Y - bent.Y}
		}
		return q
	})
}

// blur runs a box of three px over the encoded values along rows and columns, as often as edges need to grow to mm.
func blur(img raster.BGR, scalePxPerMM, mm float64) raster.BGR {
	const sharp, box = 0.52, 2.0 / 3 // variances, px^2: of an edge of 1.85 px from 10 to 90 %, and of the box
	passes := int((math.Pow(mm*scalePxPerMM/2.563, 2)-sharp)/box + 0.5)
	out := clone(img)
	for range passes {
		for _, step := range []int{3, 3 * img.W} {
			src := append([]uint8(nil), out.Pix...)
			for i := step; i < len(src)-step; i++ {
				out.Pix[i] = uint8((int(src[i-step]) + int(src[i]) + int(src[i+step]) + 1) / 3)
			}
		}
	}
	return out
}

// paste puts the part of b from x0, y0 to x1, y1 over a, at the same size, at x, y.
func paste(a, b raster.BGR, x0, y0, x1, y1, x, y int) raster.BGR {
	out := clone(a)
	for r := y0; r < y1; r++ {
		copy(out.Pix[3*((y+r-y0)*a.W+x):3*((y+r-y0)*a.W+x+x1-x0)], b.Pix[3*(r*b.W+x0):3*(r*b.W+x1)])
	}
	return out
}

type rect struct{ x0, y0, x1, y1 float64 }

func leafColour(v [3]float64) [3]float64 { return [3]float64{0.03, 0.11, 0.05} }

func scaled(by float64) func(x, y float64, v [3]float64) [3]float64 {
	return func(_, _ float64, v [3]float64) [3]float64 { return [3]float64{by * v[0], by * v[1], by * v[2]} }
}

// lamp is a lamp of nearly one colour: rest is what it leaves of the differences between colours.
func lamp(rest float64) func(x, y float64, v [3]float64) [3]float64 {
	return func(_, _ float64, v [3]float64) [3]float64 {
		y := 0.05*v[0] + 0.6*v[1] + 0.35*v[2]
		return [3]float64{0.2*y + rest*v[0]/2, 0.6*y + rest*v[1], y}
	}
}

func within(p geom.MM, x0, y0, x1, y1 float64) bool {
	return p.X > x0 && p.X < x1 && p.Y > y0 && p.Y < y1
}

// A card of which half is hidden, and of the rest two patches washed out: the grower is told to clear the card, not to expose anew.
func TestAHiddenCardIsNotCalledOverexposed(t *testing.T) {
	good := read(t, "series", "045_2026-04_L.jpg")
	img := onCard(t, good.Img, func(p geom.MM, v [3]float64) [3]float64 {
		switch {
		case within(p, -5, 29, 88, 102):
			return leafColour(v)
		case within(p, 96, 32, 120, 45): // red and yellow
			return [3]float64{1, 1, 1}
		}
		return v
	})
	_, why, err := Calibrate(img, good.F35MM, Settings{Print: TruePrint(0.001)})
	require.NoError(t, err)
	p := record.Photo{Reasons: why}
	assert.True(t, p.HasReason(gate.CardHidden), "%v", why)
	assert.False(t, p.HasReason(gate.ClippedHard), "%v", why)
}

// Where a leaf photo has few pixels a mm, edges of 3 px are a millimetre wide and more: it is small, not unsharp, and is measured with a flag. Edges
// wider than any sharp photo's are refused there, too; and on a photo of roots, which are hardly wider, the millimetre counts.
func TestASmallPhotoIsNotCalledBlurred(t *testing.T) {
	with := func(set, file string, smaller int, edgePx float64) (got []record.GateCode) {
		f := read(t, set, file)
		c, why, err := Calibrate(f.Img, f.F35MM, Settings{Print: TruePrint(0.001)})
		require.NoError(t, err)
		require.Empty(t, why)
		scale := c.ScalePxPerMM / float64(smaller)
		c, why, err = Calibrate(blur(shrunk(f.Img, smaller), scale, edgePx/scale), f.F35MM, Settings{Print: TruePrint(0.001)})
		require.NoError(t, err)
		t.Logf("%s: %.2f px per mm, edges %.2f px, %v", file, c.ScalePxPerMM, c.EdgeSpreadPx, why)
		for _, r := range why {
			got = append(got, r.Code)
		}
		return got
	}
	assert.Equal(t, []record.GateCode{gate.Soft}, with("series", "045_2026-04_L.jpg", 1, 3.4))
	assert.Contains(t, with("series", "045_2026-04_L.jpg", 1, 5.2), gate.Blurred, "no sharp photo has such edges")
	assert.Contains(t, with("single", "L01_ellipses.jpg", 2, 4), gate.Blurred, "half a cell")
	assert.Contains(t, with("single", "R02_straight_dense.jpg", 2, 3.4), gate.Blurred)
}

// Every gate that a photo can trip at its card or tag has a photo that trips it: a good photo with one fault.
func TestEveryGateOfTheCardHasAPhoto(t *testing.T) {
	good := read(t, "series", "045_2026-04_L.jpg")
	c, why, err := Calibrate(good.Img, good.F35MM, Settings{Print: TruePrint(0.001)})
	require.NoError(t, err)
	require.Empty(t, why)
	tag := c.TagOutlines(2)[0]
	inTag := func(x, y float64) bool {
		return x > math.Min(tag[0].X, tag[3].X) && x < math.Max(tag[1].X, tag[2].X) && y > math.Min(tag[0].Y, tag[1].Y) && y < math.Max(tag[2].Y, tag[3].Y)
	}
	cover := func(parts ...rect) func(*testing.T) raster.BGR {
		return func(t *testing.T) raster.BGR {
			return onCard(t, good.Img, func(p geom.MM, v [3]float64) [3]float64 {
				for _, r := range parts {
					if within(p, r.x0, r.y0, r.x1, r.y1) {
						return leafColour(v)
					}
				}
				return v
			})
		}
	}
	light := func(f func(p geom.MM) [3]float64) func(*testing.T) raster.BGR {
		return func(t *testing.T) raster.BGR {
			return onCard(t, good.Img, func(p geom.MM, v [3]float64) [3]float64 {
				if !within(p, -400, -400, 500, 500) {
					return v
				}
				g := f(p)
				return [3]float64{v[0] * g[0], v[1] * g[1], v[2] * g[2]}
			})
		}
	}
	plain := func(f func(x, y float64, v [3]float64) [3]float64) func(*testing.T) raster.BGR {
		return func(*testing.T) raster.BGR { return relight(good.Img, f) }
	}
	other := read(t, "series", "012_2026-03_L.jpg")
	oc, _, err := Calibrate(other.Img, other.F35MM, Settings{})
	require.NoError(t, err)
	a, b := oc.TagOutlines(2)[0][0], oc.TagOutlines(2)[0][2]
	twoTags := paste(good.Img, other.Img, int(a.X), int(a.Y), int(b.X), int(b.Y), 20, 20)
	sharp := read(t, "single", "R02_straight_dense.jpg")
	sc, _, err := Calibrate(sharp.Img, sharp.F35MM, Settings{})
	require.NoError(t, err)
	sharpScale := sc.ScalePxPerMM
	tests := []struct {
		code record.GateCode
		make func(t *testing.T) raster.BGR
	}{
		{gate.NoCard, cover(rect{-2, -2, 150, 102})},
		{gate.FewMarkers, cover(rect{31, -2, 150, 102}, rect{-2, 60, 40, 102})},
		{gate.SomeMarkers, cover(rect{-2, 3, 150, 31})},
		{gate.CardCovered, cover(rect{-5, 29, 27, 102})},
		{gate.CardHidden, cover(rect{-5, 29, 88, 102})},
		{gate.CardSmall, func(*testing.T) raster.BGR { return shrunk(good.Img, 4) }},
		{gate.Tilted, func(t *testing.T) raster.BGR { return seenFrom(t, good.Img, c, 41) }},
		{gate.Oblique, func(t *testing.T) raster.BGR { return seenFrom(t, good.Img, c, 50) }},
		{gate.Soft, func(*testing.T) raster.BGR { return blur(sharp.Img, sharpScale, 0.9) }},
		{gate.Blurred, func(*testing.T) raster.BGR { return blur(sharp.Img, sharpScale, 1.2) }},
		{gate.BentCard, func(t *testing.T) raster.BGR { return bow(t, good.Img, c, 4) }},
		{gate.TwoCards, func(*testing.T) raster.BGR { return beside(good.Img, other.Img) }},
		{gate.TwoTags, func(*testing.T) raster.BGR { return twoTags }},
		{gate.NoTag, plain(func(x, y float64, v [3]float64) [3]float64 {
			if inTag(x, y) {
				return leafColour(v)
			}
			return v
		})},
		{gate.Dark, plain(scaled(0.014))},
		{gate.Dark, plain(scaled(0.002))}, // no marker can be read any more
		{gate.Clipped, plain(scaled(2.6))},
		{gate.ClippedHard, plain(scaled(8))},
		{gate.Gradient, light(func(p geom.MM) [3]float64 {
			g := math.Exp(-0.009 * p.X)
			return [3]float64{g, g, g}
		})},
		{gate.ColourCast, light(func(p geom.MM) [3]float64 { // a lamp from the left, daylight from the right
			g := math.Exp(0.0015 * (p.X - 74))
			return [3]float64{0.7 * g, 0.7, 0.7 / g}
		})},
		{gate.ColourCast, plain(lamp(0.02))},
		{gate.ColourLost, plain(lamp(0))},
	}
	for _, tt := range tests {
		t.Run(string(tt.code), func(t *testing.T) {
			_, why, err := Calibrate(tt.make(t), good.F35MM, Settings{Print: TruePrint(0.001)})
			require.NoError(t, err)
			t.Log(why)
			assert.True(t, (&record.Photo{Reasons: why}).HasReason(tt.code), "%v", why)
			g, ok := gate.Lookup(tt.code)
			require.True(t, ok)
			if g.Status == record.Flagged {
				for _, r := range why {
					k, _ := gate.Lookup(r.Code)
					assert.True(t, k.Status == record.Flagged || tt.code == gate.TwoCards, "no more than flagged: %v", r)
				}
			}
		})
	}
}
