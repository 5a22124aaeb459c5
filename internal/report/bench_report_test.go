package report

import (
	"io"
	"testing"

	"github.com/stretchr/testify/require"
)

// BenchmarkBench writes the report of the demo bench: six plants, thirty photos, a small photo of each session.
func BenchmarkBench(b *testing.B) {
	d := benchData(b, "2026-07")
	for _, p := range d.Photos { // decode the scenes before the clock starts
		d.Picture(p.SHA256, "plain")
		d.Picture(p.SHA256, "overlay")
	}
	for b.Loop() {
		require.NoError(b, Write(io.Discard, d))
	}
}
