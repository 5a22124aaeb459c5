package leaf

import (
	"testing"

	"github.com/stretchr/testify/require"

	"phototrack/internal/geom"
	"phototrack/internal/leafnet"
	"phototrack/internal/raster"
)

// BenchmarkMeasure12MP times the leaf part of a photo of 12 megapixels: a scene at twice its size.
func BenchmarkMeasure12MP(b *testing.B) {
	for _, c := range []struct{ set, file string }{
		{"series", "017_2026-06_L.jpg"}, {"hard", "D01_L_behind_heart.jpg"}, {"hard", "D06_L_replicate_a.jpg"},
	} {
		b.Run(c.file, func(b *testing.B) {
			for _, s := range scenesOf(b, c.set) {
				if s.File != c.file {
					continue
				}
				f, _ := readScene(b, c.set, s)
				in := inputOf(b, f.Img, f.F35MM)
				in = doubled(in)
				in.Net = &leafnet.Net{}
				b.ResetTimer()
				for range b.N {
					_, _, err := Measure(in, DefaultSettings())
					require.NoError(b, err)
				}
			}
		})
	}
}

// doubled is the same photo at twice the size, each pixel drawn between its neighbours.
func doubled(in Input) Input {
	w, h := in.Img.W, in.Img.H
	img := raster.NewBGR(2*w, 2*h)
	for y := range 2 * h {
		y0 := max(0, (y-1)/2)
		y1, fy := min(h-1, y0+1), 1
		if y%2 == 0 {
			fy = 3
		}
		for x := range 2 * w {
			x0 := max(0, (x-1)/2)
			x1, fx := min(w-1, x0+1), 1
			if x%2 == 0 {
				fx = 3
			}
			for c := range 3 {
				p := func(x, y int) int { return int(in.Img.Pix[3*(y*w+x)+c]) }
				v := (4-fx)*((4-fy)*p(x0, y0)+fy*p(x0, y1)) + fx*((4-fy)*p(x1, y0)+fy*p(x1, y1))
				img.Pix[3*(2*w*y+x)+c] = uint8((v + 8) / 16)
			}
		}
	}
	in.Img = img
	s := geom.Homography{2, 0, 0.5, 0, 2, 0.5, 0, 0, 1}
	in.CardToPx = geom.Homography(geom.Mat3(s).Mul(geom.Mat3(in.CardToPx)))
	in.ScalePxPerMM *= 2
	in.EdgeSpreadPx *= 2
	for i := range in.Card {
		in.Card[i].X, in.Card[i].Y = 2*in.Card[i].X+0.5, 2*in.Card[i].Y+0.5
	}
	for _, q := range in.Tags {
		for i := range q {
			q[i].X, q[i].Y = 2*q[i].X+0.5, 2*q[i].Y+0.5
		}
	}
	return in
}
