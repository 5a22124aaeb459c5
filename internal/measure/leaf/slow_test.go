package leaf

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/geom"
)

// Slow and obvious forms of what the measuring does fast, and the same inputs for both.

// blobs is a mask of random patches of the values 1..n, with specks and gaps.
func blobs(rng *rand.Rand, w, h, n int) []uint8 {
	m := make([]uint8, w*h)
	for range 14 {
		cx, cy, r, v := rng.IntN(w), rng.IntN(h), 2+rng.IntN(w/5), uint8(1+rng.IntN(n))
		for y := max(0, cy-r); y < min(h, cy+r); y++ {
			for x := max(0, cx-r); x < min(w, cx+r); x++ {
				if (x-cx)*(x-cx)+(y-cy)*(y-cy) < r*r {
					m[y*w+x] = v
				}
			}
		}
	}
	for range w * h / 40 {
		m[rng.IntN(w*h)] = uint8(rng.IntN(n + 1))
	}
	return m
}

// flood numbers the connected components in the order of their first pixels by walking each of them.
func flood(m []uint8, w, h int, eight bool) (label []int32, size []int) {
	label, size = make([]int32, w*h), []int{0}
	for i := range m {
		if m[i] == 0 || label[i] != 0 {
			continue
		}
		n := int32(len(size))
		size = append(size, 0)
		stack := []int{i}
		label[i] = n
		for len(stack) > 0 {
			p := stack[len(stack)-1]
			stack = stack[:len(stack)-1]
			size[n]++
			for dy := -1; dy <= 1; dy++ {
				for dx := -1; dx <= 1; dx++ {
					x, y := p%w+dx, p/w+dy
					if x < 0 || y < 0 || x >= w || y >= h || !eight && dx != 0 && dy != 0 {
						continue
					}
					if q := y*w + x; m[q] != 0 && label[q] == 0 {
						label[q] = n
						stack = append(stack, q)
					}
				}
			}
		}
	}
	return
}

func TestPartsAgainstFlooding(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 1))
	for trial := range 60 {
		w, h := 1+rng.IntN(90), 1+rng.IntN(60)
		if trial > 5 {
			w, h = w+20, h+20
		} else {
			w, h = w+10, 1+trial
		}
		m := blobs(rng, w, h, 3)
		for _, eight := range []bool{true, false} {
			want, sizes := flood(m, w, h, eight)
			got, size := components(m, w, h, eight)
			require.Equal(t, want, got)
			require.Equal(t, sizes, size)
		}
		label, size := flood(m, w, h, true)
		least := box{w, h, 0, 0}
		few, want := append([]uint8(nil), m...), append([]uint8(nil), m...)
		for i, l := range label {
			if l == 0 {
				continue
			}
			least = box{min(least.x0, i%w), min(least.y0, i/w), max(least.x1, i%w+1), max(least.y1, i/w+1)}
			if size[l] < 9 {
				want[i] = 0
			}
		}
		require.Equal(t, least, bounds(m, w, h))
		dropSmall(few, w, h, 9)
		require.Equal(t, want, few)
	}
}

func TestContoursStartAtEveryUpperSide(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 1))
	for range 30 {
		w, h := 30+rng.IntN(40), 20+rng.IntN(40)
		m := blobs(rng, w, h, 3)
		for _, values := range [][]uint8{{1, 2, 3}, {2}, {1, 3}} {
			var in [256]bool
			for _, v := range values {
				in[v] = true
			}
			ls := contours(m, w, h, bounds(m, w, h), &in)
			// Each loop runs to the right along the upper sides of pixels that have none of theirs above.
			upper, want := map[[2]int32]int{}, 0
			for _, l := range ls {
				for i, p := range l {
					if q := l[(i+1)%len(l)]; q[0] > p[0] {
						for x := p[0]; x < q[0]; x++ {
							upper[[2]int32{x, p[1]}]++
						}
					}
				}
			}
			for i, v := range m {
				if in[v] && (i < w || !in[m[i-w]]) {
					want++
					require.Equal(t, 1, upper[[2]int32{int32(i % w), int32(i / w)}], "pixel %d, %d", i%w, i/w)
				}
			}
			require.Len(t, upper, want)
		}
	}
}

func TestTallyCountsEveryPixel(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 1))
	toPlane, err := geom.Homography{4, 0.2, 10, 0.1, 4, 20, 1e-4, 2e-4, 1}.Inverse()
	require.NoError(t, err)
	for range 20 {
		f := &fine{w: 70 + rng.IntN(30), h: 50, k: 2, z: 2}
		f.class = blobs(rng, f.w, f.h, 5)
		got := f.tally(toPlane)
		var want tally
		at := func(x, y int) int {
			if x < 0 || y < 0 || x >= f.w || y >= f.h {
				return -1
			}
			return int(f.class[y*f.w+x])
		}
		for y := range f.h {
			for x := range f.w {
				v := at(x, y)
				if v == 0 {
					continue
				}
				mm2 := 4 * toPlane.AreaMM2(geom.PX{X: 2*(float64(x/16*16)+7.5) + 0.5, Y: 2*float64(y) + 0.5})
				want.area += mm2
				want.class[v-1] += mm2
				side := math.Sqrt(mm2) * math.Pi / 4
				for _, u := range []int{at(x-1, y), at(x+1, y), at(x, y-1), at(x, y+1)} {
					if u == 0 {
						want.outline += side
					}
				}
				for _, u := range []int{at(x+1, y), at(x, y+1)} {
					if u > 0 && u != v {
						want.border[u-1] += side
						want.border[v-1] += side
					}
				}
			}
		}
		assert.InEpsilon(t, want.area, got.area, 1e-9)
		assert.InEpsilon(t, want.outline, got.outline, 1e-9)
		for v := range want.class {
			assert.InDelta(t, want.class[v], got.class[v], 1e-6*want.area)
			assert.InDelta(t, want.border[v], got.border[v], 1e-6*want.outline)
		}
	}
}

func TestCameraIsTheMeanOfItsPixels(t *testing.T) {
	rng := rand.New(rand.NewPCG(6, 1))
	in := &Input{Img: newPicture(61, 37, 0, 0, 0)}
	for i := range in.Img.Pix {
		in.Img.Pix[i] = uint8(rng.Uint32())
	}
	for k := 1; k <= 5; k++ {
		f := &fine{w: 61 / k, h: 37 / k, k: k}
		for y := range f.h {
			for x := range f.w {
				var want [3]uint8
				for c := range want {
					sum := 0
					for j := range k {
						for i := range k {
							sum += int(in.Img.Pix[3*((y*k+j)*61+x*k+i)+c])
						}
					}
					want[c] = uint8((sum + k*k/2) / (k * k))
				}
				b, g, r := f.camera(in, x, y)
				require.Equal(t, want, [3]uint8{b, g, r}, "k %d", k)
			}
		}
	}
}
