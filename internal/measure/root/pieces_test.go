package root

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"phototrack/internal/raster"
)

// walked is pieces by a walk from pixel to pixel.
func walked(m raster.Mask) (label []int32, size []int) {
	label, size = make([]int32, len(m.Pix)), []int{0}
	for s, v := range m.Pix {
		if v == 0 || label[s] != 0 {
			continue
		}
		id := int32(len(size))
		size = append(size, 0)
		label[s] = id
		for stack := []int{s}; len(stack) > 0; {
			i := stack[len(stack)-1]
			stack = stack[:len(stack)-1]
			size[id]++
			for y := max(0, i/m.W-1); y <= min(m.H-1, i/m.W+1); y++ {
				for x := max(0, i%m.W-1); x <= min(m.W-1, i%m.W+1); x++ {
					if j := y*m.W + x; m.Pix[j] != 0 && label[j] == 0 {
						label[j] = id
						stack = append(stack, j)
					}
				}
			}
		}
	}
	return
}

func TestPiecesAndDropSmallAgainstAWalk(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	for range 50 {
		m := raster.NewMask(10+rng.IntN(60), 5+rng.IntN(40))
		for i := range m.Pix {
			if rng.IntN(10) < 6 {
				m.Pix[i] = 1
			}
			if i > 0 && rng.IntN(3) > 0 {
				m.Pix[i] = m.Pix[i-1]
			}
		}
		label, size := walked(m)
		runs, sizes := raster.Components(m, true)
		got := raster.Label(runs, m.W, m.H)
		require.Equal(t, label, got)
		require.Equal(t, size, sizes)
		want := raster.NewMask(m.W, m.H)
		for i, l := range label {
			if l != 0 && size[l] >= 8 {
				want.Pix[i] = 1
			}
		}
		label, size = walked(inverse(want))
		for i, l := range label {
			if l != 0 && size[l] < 6 {
				want.Pix[i] = 1
			}
		}
		require.Equal(t, want, dropSmall(m, 8, 6))
	}
}
