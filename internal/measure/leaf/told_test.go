package leaf

import (
	"image"

	"phototrack/internal/regions"
)

// told stands in for the network: it knows the leaf pixels of a photo, and says of every place of the fine picture what
// share of it is leaf. Every second look is in the mirror.
type told struct {
	w, h  int
	leaf  []bool
	looks int
}

func toldByMask(g *image.Gray) *told {
	t := &told{w: g.Rect.Dx(), h: g.Rect.Dy()}
	for y := range t.h {
		for _, v := range g.Pix[y*g.Stride:][:t.w] {
			t.leaf = append(t.leaf, v >= 1 && v <= 4)
		}
	}
	return t
}

// See implements regions.Seer.
func (t *told) See(v regions.View) (regions.Map, error) {
	t.looks++
	m := regions.Map{W: 2 * v.W, H: 2 * v.H}
	n := m.W * m.H
	m.Class = make([]regions.Class, n)
	for c := range m.P {
		m.P[c] = make([]float32, n)
	}
	for y := range m.H {
		for x := range m.W {
			sum, all := 0, 0
			for py := y * t.h / m.H; py < max(y*t.h/m.H+1, (y+1)*t.h/m.H); py++ {
				for px := x * t.w / m.W; px < max(x*t.w/m.W+1, (x+1)*t.w/m.W); px++ {
					all++
					if t.leaf[py*t.w+px] {
						sum++
					}
				}
			}
			i := y*m.W + x
			if t.looks%2 == 0 {
				i = y*m.W + m.W - 1 - x
			}
			p := float32(sum) / float32(all)
			m.P[regions.Leaf][i], m.P[regions.Rest][i] = p, 1-p
			if p > 0.5 {
				m.Class[i] = regions.Leaf
			}
		}
	}
	return m, nil
}
