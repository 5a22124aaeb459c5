package leaf

import (
	"phototrack/internal/raster"
	"phototrack/internal/record"
)

// grid is the reduced picture on which regions are found: CIELAB planes, and what must not be leaf.
type grid struct {
	w, h    int
	k       int // one grid pixel is k x k photo pixels
	pxPerMM float64
	pix     []uint8 // mean camera values, BGR
	L, A, B []float32
	block   []uint8 // card, tag or left out by hand
}

// What a blocked grid pixel is.
const (
	blockCard uint8 = iota + 1
	blockTag
	blockHand
)

// photo gives the photo position of a grid position (pixel centres at whole numbers in both).
func (g *grid) photo(x, y float64) (float64, float64) {
	o := float64(g.k-1) / 2
	return float64(g.k)*x + o, float64(g.k)*y + o
}

// reduce averages k x k blocks of the camera's values. Edges are placed later on finer pixels in linear light; here
// the mean of the coded values is good enough and cheap.
func reduce(img raster.BGR, k int) (pix []uint8, w, h int) {
	w, h = img.W/k, img.H/k
	pix = make([]uint8, 3*w*h)
	if k == 1 {
		for y := range h {
			copy(pix[3*w*y:3*w*(y+1)], img.Pix[3*img.W*y:])
		}
		return
	}
	sum := make([]uint16, 3*w)
	div := uint32(k * k)
	mul := (1<<16 + div - 1) / div
	for y := range h {
		clear(sum)
		for j := range k {
			row := img.Pix[3*img.W*(y*k+j):]
			row = row[:3*w*k]
			switch k {
			case 2:
				for x, i := 0, 0; x < 3*w; x, i = x+3, i+6 {
					s, r := sum[x:x+3:x+3], row[i:i+6:i+6]
					s[0] += uint16(r[0]) + uint16(r[3])
					s[1] += uint16(r[1]) + uint16(r[4])
					s[2] += uint16(r[2]) + uint16(r[5])
				}
			case 4:
				for x, i := 0, 0; x < 3*w; x, i = x+3, i+12 {
					s, r := sum[x:x+3:x+3], row[i:i+12:i+12]
					s[0] += uint16(r[0]) + uint16(r[3]) + uint16(r[6]) + uint16(r[9])
					s[1] += uint16(r[1]) + uint16(r[4]) + uint16(r[7]) + uint16(r[10])
					s[2] += uint16(r[2]) + uint16(r[5]) + uint16(r[8]) + uint16(r[11])
				}
			default:
				for x, i := 0, 0; x < 3*w; x += 3 {
					for range k {
						sum[x] += uint16(row[i])
						sum[x+1] += uint16(row[i+1])
						sum[x+2] += uint16(row[i+2])
						i += 3
					}
				}
			}
		}
		out := pix[3*w*y : 3*w*(y+1)]
		for i, s := range sum {
			out[i] = uint8(min(255, (uint32(s)+div/2)*mul>>16))
		}
	}
	return
}

// newGrid reduces the photo by k and puts it through the colour correction.
func newGrid(in *Input, k int, t *labTable) *grid {
	g := &grid{k: k, pxPerMM: in.ScalePxPerMM / float64(k)}
	g.pix, g.w, g.h = reduce(in.Img, k)
	n := g.w * g.h
	buf := make([]float32, 3*n)
	g.L, g.A, g.B = buf[:n:n], buf[n:2*n:2*n], buf[2*n:]
	for i := range n {
		p := g.pix[3*i : 3*i+3 : 3*i+3]
		r, gg, b := in.Colour.Linear(p[2], p[1], p[0])
		g.L[i], g.A[i], g.B[i] = t.lab(r, gg, b)
	}
	g.block = make([]uint8, n)
	if len(in.Card) > 0 {
		fillPolygon(g.block, g.w, g.h, in.Card, float64(k), blockCard)
	}
	for _, q := range in.Tags {
		fillPolygon(g.block, g.w, g.h, q, float64(k), blockTag)
	}
	for _, k := range in.Marks {
		if !k.Keep {
			fillPolygon(g.block, g.w, g.h, k.Points, float64(g.k), blockHand)
		}
	}
	return g
}

// fillPolygon sets every pixel of a k-times reduced picture whose centre lies in the polygon (photo px, even-odd).
func fillPolygon(m []uint8, w, h int, poly []record.Point, k float64, v uint8) {
	if len(poly) < 3 {
		return
	}
	o := (k - 1) / 2
	ylo, yhi := poly[0].Y, poly[0].Y
	for _, p := range poly {
		ylo, yhi = min(ylo, p.Y), max(yhi, p.Y)
	}
	y0, y1 := max(0, int((ylo-o)/k)), min(h-1, int((yhi-o)/k)+1)
	var xs []float64
	for y := y0; y <= y1; y++ {
		xs = xs[:0]
		yy := float64(y)*k + o
		for i, p := range poly {
			q := poly[(i+1)%len(poly)]
			if (p.Y <= yy) != (q.Y <= yy) {
				xs = append(xs, p.X+(yy-p.Y)/(q.Y-p.Y)*(q.X-p.X))
			}
		}
		sortFloats(xs)
		for i := 0; i+1 < len(xs); i += 2 {
			a, b := (xs[i]-o)/k, (xs[i+1]-o)/k
			for x := max(0, ceilInt(a)); x <= min(w-1, floorInt(b)); x++ {
				m[y*w+x] = v
			}
		}
	}
}
