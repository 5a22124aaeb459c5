package pipeline

import (
	"encoding/binary"

	"phototrack/internal/raster"
)

// Reduce makes a copy whose longer side is at most longPx, each pixel the mean of the area it stands for, in the
// encoded values (the eye's scale).
func Reduce(img raster.BGR, longPx int) raster.BGR {
	long := max(img.W, img.H)
	if long <= longPx {
		out := raster.NewBGR(img.W, img.H)
		copy(out.Pix, img.Pix)
		return out
	}
	w, h := max(1, img.W*longPx/long), max(1, img.H*longPx/long)
	out := raster.NewBGR(w, h)
	xs, ys := spans(img.W, w), spans(img.H, h)
	sum := newColumnSums(3 * img.W)
	acc := make([]uint32, 3*w)
	var by divisors
	for y := range h {
		clear(acc)
		for from := ys[y]; from < ys[y+1]; from += maxSumRows {
			to := min(ys[y+1], from+maxSumRows)
			sum.rows(img.Pix[3*from*img.W : 3*to*img.W])
			sum.across(xs, acc)
		}
		rows := uint32(ys[y+1] - ys[y])
		for x := range w {
			d, p := by.of(rows*uint32(xs[x+1]-xs[x])), out.Pix[3*(y*w+x):3*(y*w+x)+3:3*(y*w+x)+3]
			a := acc[3*x : 3*x+3 : 3*x+3]
			p[0], p[1], p[2] = d.mean(a[0]), d.mean(a[1]), d.mean(a[2])
		}
	}
	return out
}

// divisor divides sums of n bytes by n, rounded, by a multiplication: floor(a*(2^40/n + 1) / 2^40) is floor(a/n) as long
// as a*n is below 2^40 (Granlund & Montgomery 1994).
type divisor struct{ n, half, inverse uint64 }

func (d *divisor) mean(sum uint32) uint8 {
	if d.inverse == 0 {
		return uint8((uint64(sum) + d.half) / d.n)
	}
	return uint8((uint64(sum) + d.half) * d.inverse >> 40)
}

// divisors remembers the last ones: in a picture there are at most four.
type divisors struct {
	kept [4]divisor
	next int
}

func (s *divisors) of(n uint32) *divisor {
	for i := range s.kept {
		if s.kept[i].n == uint64(n) {
			return &s.kept[i]
		}
	}
	d := &s.kept[s.next]
	s.next = (s.next + 1) % len(s.kept)
	*d = divisor{n: uint64(n), half: uint64(n / 2)}
	if n < 1<<15 { // 256 n^2 stays below 2^40
		d.inverse = 1<<40/d.n + 1
	}
	return d
}

// maxSumRows is how many bytes a 16-bit sum holds without running over.
const maxSumRows = 257

// columnSums adds up rows of bytes column by column, eight columns at a step: four 16-bit sums lie side by side in each
// 64-bit word, the even columns in one word and the odd ones in the next.
type columnSums struct {
	words []uint64
	sums  []uint16 // the same column by column
	n     int
}

func newColumnSums(columns int) *columnSums {
	words := (columns + 7) / 8
	return &columnSums{words: make([]uint64, 2*words), sums: make([]uint16, 8*words), n: columns}
}

// rows sums whole rows, at most maxSumRows of them.
func (s *columnSums) rows(pix []uint8) {
	switch len(pix) / s.n {
	case 2:
		s.two(pix[:s.n], pix[s.n:])
	case 3:
		s.three(pix[:s.n], pix[s.n:2*s.n], pix[2*s.n:])
	default:
		s.many(pix)
	}
}

const evenBytes = 0x00ff00ff00ff00ff

// two and three are many for the usual reductions, without a walk through memory for each row.
func (s *columnSums) two(a, b []uint8) {
	sums := s.sums
	for len(a) >= 8 && len(b) >= 8 && len(sums) >= 8 {
		u, v := binary.LittleEndian.Uint64(a), binary.LittleEndian.Uint64(b)
		unpackSums(sums, u&evenBytes+v&evenBytes, u>>8&evenBytes+v>>8&evenBytes)
		a, b, sums = a[8:], b[8:], sums[8:]
	}
	for i, v := range a {
		sums[i] = uint16(v) + uint16(b[i])
	}
}

func (s *columnSums) three(a, b, c []uint8) {
	sums := s.sums
	for len(a) >= 8 && len(b) >= 8 && len(c) >= 8 && len(sums) >= 8 {
		u, v, w := binary.LittleEndian.Uint64(a), binary.LittleEndian.Uint64(b), binary.LittleEndian.Uint64(c)
		unpackSums(sums, u&evenBytes+v&evenBytes+w&evenBytes, u>>8&evenBytes+v>>8&evenBytes+w>>8&evenBytes)
		a, b, c, sums = a[8:], b[8:], c[8:], sums[8:]
	}
	for i, v := range a {
		sums[i] = uint16(v) + uint16(b[i]) + uint16(c[i])
	}
}

func (s *columnSums) many(pix []uint8) {
	clear(s.words)
	whole := s.n / 8
	for len(pix) >= s.n {
		row := pix[:s.n]
		pix = pix[s.n:]
		words := s.words[:2*whole]
		for i := 0; i+1 < len(words); i += 2 {
			v := binary.LittleEndian.Uint64(row)
			row = row[8:]
			words[i] += v & evenBytes
			words[i+1] += v >> 8 & evenBytes
		}
		for i, v := range row { // the last columns, fewer than eight
			s.words[2*whole+i%2] += uint64(v) << (16 * (i / 2))
		}
	}
	for i := 0; i+1 < len(s.words); i += 2 {
		unpackSums(s.sums[4*i:], s.words[i], s.words[i+1])
	}
}

// unpackSums writes the eight sums of an even and an odd word in the order of their columns.
func unpackSums(sums []uint16, even, odd uint64) {
	p := sums[:8:8]
	p[0], p[2], p[4], p[6] = uint16(even), uint16(even>>16), uint16(even>>32), uint16(even>>48)
	p[1], p[3], p[5], p[7] = uint16(odd), uint16(odd>>16), uint16(odd>>32), uint16(odd>>48)
}

// across adds the sums of each run of pixels, three channels each, to acc.
func (s *columnSums) across(xs []int, acc []uint32) {
	at := s.sums
	for x := 0; x+1 < len(xs); x++ {
		var b, g, r uint32
		n := 3 * (xs[x+1] - xs[x])
		run := at[:n]
		at = at[n:]
		for len(run) >= 3 {
			b, g, r = b+uint32(run[0]), g+uint32(run[1]), r+uint32(run[2])
			run = run[3:]
		}
		a := acc[3*x : 3*x+3 : 3*x+3]
		a[0], a[1], a[2] = a[0]+b, a[1]+g, a[2]+r
	}
}

// spans divides n source pixels into m runs of nearly equal length.
func spans(n, m int) []int {
	out := make([]int, m+1)
	for i := range out {
		out[i] = i * n / m
	}
	return out
}
