package icc

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// noise is a picture without two equal neighbours, which no cache can help with.
func noise(pixels int) []byte {
	r := rand.New(rand.NewPCG(1, 2))
	pix := make([]byte, 3*pixels)
	for i := range pix {
		pix[i] = byte(r.Uint32())
	}
	return pix
}

// BenchmarkToSRGB converts 12 megapixels of Display P3.
func BenchmarkToSRGB(b *testing.B) {
	p, err := DisplayP3()
	require.NoError(b, err)
	defer p.Close()
	pix := noise(4032 * 3024)
	for b.Loop() {
		if _, err := p.ToSRGB(pix); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkIdentityCheck(b *testing.B) {
	p, err := DisplayP3()
	require.NoError(b, err)
	defer p.Close()
	pix := noise(1)
	for b.Loop() {
		if _, err := p.ToSRGB(pix); err != nil {
			b.Fatal(err)
		}
	}
}
