package leaf

import (
	"encoding/binary"
	"math"
	"slices"

	"phototrack/internal/raster"
)

func sortFloats(x []float64) { slices.Sort(x) }
func ceilInt(x float64) int  { return int(math.Ceil(x)) }
func floorInt(x float64) int { return int(math.Floor(x)) }

// wordPx is how many pixels are compared at once: the bytes of a 64-bit word.
const wordPx = 8

// box is a part of a picture: columns x0..x1-1, rows y0..y1-1.
type box struct{ x0, y0, x1, y1 int }

// bounds is the smallest box that holds all set pixels; empty (x1 <= x0) where there is none.
func bounds(m []uint8, w, h int) box {
	b := box{w, h, 0, 0}
	for y := range h {
		row := m[y*w : (y+1)*w]
		x0 := raster.NextSet(row, 0)
		if x0 == w {
			continue
		}
		b.x0, b.y0, b.y1 = min(b.x0, x0), min(b.y0, y), y+1
		for x := w - 1; x >= b.x1; x-- {
			if x-wordPx+1 >= b.x1 && binary.LittleEndian.Uint64(row[x-wordPx+1:]) == 0 {
				x -= wordPx - 1
			} else if row[x] != 0 {
				b.x1 = x + 1
				break
			}
		}
	}
	return b
}

func (b box) grow(r, w, h int) box {
	return box{max(0, b.x0-r), max(0, b.y0-r), min(w, b.x1+r), min(h, b.y1+r)}
}

// disc is the radius, px, whose disc reaches r px along the axes and is round for small r too.
func disc(r int) float64 { return float64(r) + 0.3 }

func pack(m []uint8, w, h int) raster.Bits { return raster.Pack(raster.Mask{W: w, H: h, Pix: m}) }

// dilate grows the mask by a disc of r px; erode shrinks it (the frame's edge does not erode). The values become 0 and 1.
func dilate(m []uint8, w, h, r int) []uint8 { return pack(m, w, h).Dilated(disc(r)).Mask().Pix }

func erode(m []uint8, w, h, r int) []uint8 { return pack(m, w, h).Eroded(disc(r)).Mask().Pix }

// open removes what is thinner than the disc.
func open(m []uint8, w, h, r int) []uint8 {
	return pack(m, w, h).Eroded(disc(r)).Dilated(disc(r)).Mask().Pix
}
