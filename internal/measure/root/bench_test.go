package root

import (
	"testing"

	"phototrack/internal/raster"
)

// BenchmarkMeasure is the time of one root photo after decoding and calibration, without pictures: as it is, and at
// twice the width and height (12 megapixels).
func BenchmarkMeasure(b *testing.B) {
	in := rootScenes(b)[1].input(b)
	big := in
	big.Img = raster.NewBGR(2*in.Img.W, 2*in.Img.H)
	for y := range big.Img.H {
		for x := range big.Img.W {
			copy(big.Img.Pix[3*(y*big.Img.W+x):], in.Img.Pix[3*(y/2*in.Img.W+x/2):3*(y/2*in.Img.W+x/2)+3])
		}
	}
	c := &big.Camera
	c.Fx, c.Fy, c.Cx, c.Cy = 2*c.Fx, 2*c.Fy, 2*c.Cx+0.5, 2*c.Cy+0.5
	big.Blocked = nil
	s := DefaultSettings()
	s.Pictures = false
	for _, v := range []struct {
		name string
		in   Input
	}{{"3 megapixels", in}, {"12 megapixels", big}} {
		b.Run(v.name, func(b *testing.B) {
			for b.Loop() {
				if _, _, err := Measure(v.in, s); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
