package root

import "testing"

// BenchmarkMeasure is the time of one root photo of 3 megapixels after decoding and calibration, without pictures.
func BenchmarkMeasure(b *testing.B) {
	in := rootScenes(b)[1].input(b)
	s := DefaultSettings()
	s.Pictures = false
	b.ResetTimer()
	for b.Loop() {
		if _, _, err := Measure(in, s); err != nil {
			b.Fatal(err)
		}
	}
}
