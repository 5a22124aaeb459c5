package trainscene

import "testing"

// BenchmarkDraw draws one sample after another.
func BenchmarkDraw(b *testing.B) {
	var f Film
	n := uint64(1000)
	for b.Loop() {
		Draw(n, n%4 == 3, nil, &f)
		n++
	}
}
