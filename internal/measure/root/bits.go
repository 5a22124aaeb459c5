package root

import (
	"math"

	"phototrack/internal/raster"
)

// bits is a mask with 64 px to the word, row by row: widening and narrowing by a disc take a few operations a word.
type bits struct {
	w, h, n int // px, px, words a row
	v       []uint64
}

func pack(m raster.Mask) bits {
	b := bits{m.W, m.H, (m.W + 63) / 64, nil}
	b.v = make([]uint64, b.n*b.h)
	for y := range m.H {
		row := b.v[y*b.n : (y+1)*b.n]
		for x, p := range m.Pix[y*m.W : (y+1)*m.W] {
			if p != 0 {
				row[x>>6] |= 1 << (x & 63)
			}
		}
	}
	return b
}

func (b bits) mask() raster.Mask {
	m := raster.NewMask(b.w, b.h)
	for y := range b.h {
		row, out := b.v[y*b.n:(y+1)*b.n], m.Pix[y*b.w:(y+1)*b.w]
		for x := range out {
			out[x] = uint8(row[x>>6] >> (x & 63) & 1)
		}
	}
	return m
}

// inverse turns every pixel over.
func (b bits) inverse() bits {
	out := bits{b.w, b.h, b.n, make([]uint64, len(b.v))}
	last := ^uint64(0) >> (64*b.n - b.w)
	for i, v := range b.v {
		out.v[i] = ^v
		if i%b.n == b.n-1 {
			out.v[i] &= last
		}
	}
	return out
}

// grown widens by a disc of radius r px.
func (b bits) grown(r float64) bits {
	out := bits{b.w, b.h, b.n, make([]uint64, len(b.v))}
	reach := int(r)
	half := make([]int, reach+1) // half width of the disc's rows
	for d := range half {
		half[d] = int(math.Sqrt(r*r - float64(d*d)))
	}
	wide := make([]uint64, b.n)
	for y := range b.h {
		row := b.v[y*b.n : (y+1)*b.n]
		empty := true
		for _, v := range row {
			if v != 0 {
				empty = false
				break
			}
		}
		if empty {
			continue
		}
		for d := 0; d <= reach; d++ {
			if d == 0 || half[d] != half[d-1] {
				copy(wide, row)
				widen(wide, half[d])
			}
			for _, t := range [2]int{y - d, y + d} {
				if t < 0 || t >= b.h {
					continue
				}
				for i, v := range wide {
					out.v[t*b.n+i] |= v
				}
			}
		}
	}
	last := ^uint64(0) >> (64*b.n - b.w)
	for y := range b.h {
		out.v[(y+1)*b.n-1] &= last
	}
	return out
}

// widen spreads the bits of a row by k to either side, in steps that each triple the reach.
func widen(row []uint64, k int) {
	for have := 0; have < k; {
		s := min(2*have+1, k-have, 63)
		var carry uint64
		old := append(make([]uint64, 0, 32), row...)
		for i, v := range old { // towards higher columns
			row[i] |= v<<s | carry
			carry = v >> (64 - s)
		}
		carry = 0
		for i := len(old) - 1; i >= 0; i-- {
			row[i] |= old[i]>>s | carry
			carry = old[i] << (64 - s)
		}
		have += s
	}
}

// grown is m widened by r px.
func grown(m raster.Mask, r float64) raster.Mask { return pack(m).grown(r).mask() }

// opened takes away what is narrower than 2 r px; the border counts as inside.
func opened(m raster.Mask, r float64) raster.Mask {
	return pack(m).inverse().grown(r).inverse().grown(r).mask()
}
