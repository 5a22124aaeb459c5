package calib

import (
	"testing"

	"phototrack/internal/geom"
)

// A photo of 12 megapixels, as a phone takes it.
func BenchmarkCalibrate12MP(b *testing.B) {
	f := read(b, "single", "L01_ellipses.jpg")
	img := warp(f.Img, 4000, 3000, func(p geom.PX) geom.PX { return geom.PX{X: p.X / 2, Y: p.Y / 2} })
	b.ResetTimer()
	for range b.N {
		if _, _, err := Calibrate(img, f.F35MM, Settings{Print: TruePrint(0.001)}); err != nil {
			b.Fatal(err)
		}
	}
}
