package raster

import (
	"encoding/binary"
	"math"
)

// Bits is a mask with 64 px to the word, row by row: widening and narrowing by a disc take a few operations a word.
type Bits struct {
	w, h, n int // px, px, words a row
	v       []uint64
}

// Pack makes bits of a mask: every value but 0 is inside.
func Pack(m Mask) Bits {
	b := Bits{m.W, m.H, (m.W + 63) / 64, nil}
	b.v = make([]uint64, b.n*b.h)
	const low7, high, gather = 0x7f7f7f7f7f7f7f7f, 0x8080808080808080, 0x0102040810204080
	for y := range m.H {
		row, px := b.v[y*b.n:(y+1)*b.n], m.Pix[y*m.W:(y+1)*m.W]
		x := 0
		for ; len(px) >= 8; x += 8 {
			v := binary.LittleEndian.Uint64(px)
			px = px[8:]
			if v != 0 { // the top bit of each byte that is not 0, then all eight side by side
				set := (v&low7 + low7 | v) & high >> 7
				row[x>>6] |= set * gather >> 56 << (x & 63)
			}
		}
		for _, p := range px {
			if p != 0 {
				row[x>>6] |= 1 << (x & 63)
			}
			x++
		}
	}
	return b
}

// Mask turns the bits into bytes, 1 inside.
func (b Bits) Mask() Mask {
	m := NewMask(b.w, b.h)
	const spread, pick, low7, one = 0x0101010101010101, 0x8040201008040201, 0x7f7f7f7f7f7f7f7f, 0x0101010101010101
	for y := range b.h {
		row, out := b.v[y*b.n:(y+1)*b.n], m.Pix[y*b.w:(y+1)*b.w]
		x := 0
		for ; len(out) >= 8; x += 8 {
			if eight := row[x>>6] >> (x & 63) & 0xff; eight != 0 { // a bit of the eight in each byte, moved to its lowest place
				binary.LittleEndian.PutUint64(out, (eight*spread&pick+low7)>>7&one)
			}
			out = out[8:]
		}
		for i := range out {
			out[i] = uint8(row[x>>6] >> (x & 63) & 1)
			x++
		}
	}
	return m
}

// Inverse turns every pixel over.
func (b Bits) Inverse() Bits {
	out := Bits{b.w, b.h, b.n, make([]uint64, len(b.v))}
	for i, v := range b.v {
		out.v[i] = ^v
	}
	out.trim()
	return out
}

// trim clears what lies right of the picture.
func (b Bits) trim() {
	last := ^uint64(0) >> (64*b.n - b.w)
	for y := range b.h {
		b.v[(y+1)*b.n-1] &= last
	}
}

// Dilated widens by a disc of radius r px.
func (b Bits) Dilated(r float64) Bits {
	out := Bits{b.w, b.h, b.n, make([]uint64, len(b.v))}
	reach := int(r)
	half := make([]int, reach+1) // half width of the disc's rows
	for d := range half {
		half[d] = int(math.Sqrt(r*r - float64(d*d)))
	}
	wide, spare := make([]uint64, b.n), make([]uint64, b.n)
	for y := range b.h {
		row := b.v[y*b.n : (y+1)*b.n]
		from, to := held(row)
		if from == to {
			continue
		}
		from, to = max(0, from-words(reach)), min(b.n, to+words(reach))
		for d := 0; d <= reach; d++ {
			if d == 0 || half[d] != half[d-1] {
				copy(wide[from:to], row[from:to])
				widen(wide[from:to], spare[from:to], half[d])
			}
			for _, t := range [2]int{y - d, y + d} {
				if t < 0 || t >= b.h {
					continue
				}
				dst := out.v[t*b.n+from : t*b.n+to]
				for i, v := range wide[from:to] {
					dst[i] |= v
				}
			}
		}
	}
	out.trim()
	return out
}

// held are the words of a row, from..to-1, between the first and the last that hold something.
func held(row []uint64) (from, to int) {
	to = len(row)
	for from < to && row[from] == 0 {
		from++
	}
	for from < to && row[to-1] == 0 {
		to--
	}
	return from, to
}

// wordBits are the pixels of a word, words the words that n pixels touch.
const wordBits = 64

func words(n int) int { return (n + wordBits - 1) / wordBits }

// Eroded narrows by a disc of radius r px; what lies outside the picture counts as inside.
func (b Bits) Eroded(r float64) Bits { return b.Inverse().Dilated(r).Inverse() }

// widen spreads the bits of a row by k to either side; old is room of its length. A step is at most one longer than what
// was reached before: what ran out over the row's end is lost, so that a longer step would leave a gap there.
func widen(row, old []uint64, k int) {
	for have := 0; have < k; {
		s := min(have+1, k-have, wordBits-1)
		copy(old, row)
		var carry uint64
		for i, v := range old { // towards higher columns
			row[i] |= v<<s | carry
			carry = v >> (wordBits - s)
		}
		carry = 0
		for i := len(old) - 1; i >= 0; i-- {
			row[i] |= old[i]>>s | carry
			carry = old[i] << (64 - s)
		}
		have += s
	}
}
