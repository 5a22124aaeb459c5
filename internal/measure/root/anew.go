package root

import (
	"phototrack/internal/raster"
	"phototrack/internal/skeleton"
)

// A network that meets what it was never shown may be wrong and sure of it. So it is shown the wall anew, at half the size, where lines
// are other lines and textures other textures: what it sees there alike it knows, and of what it calls root there and nothing here, or the
// other way round, it is not sure, whatever it says. On walls like those it was trained on the two answers agree.
const (
	anewBesideMM  = 1.0   // beside what is root at full size, what is root at half size is that root's soft edge
	anewLeastMM2  = 15.0  // smaller places where the two differ are no root's: 5 mm of one of 3 mm
	anewOpenMM    = 0.5   // narrower places are none
	anewHiddenMM2 = 100.0 // of wall that is hidden at half the size only: about as much as a small label, or 1 % of a wall
)

// halved is the view and what it shows at half the size.
func (s *sheet) halved() *sheet {
	v := *s.view
	v.W, v.H, v.Step, v.Mid = (s.W+1)/2, (s.H+1)/2, 2*s.Step, (s.Mid-0.5)/2
	out := &sheet{view: &v, Seen: raster.NewMask(v.W, v.H), L: raster.NewFloat(v.W, v.H), A: raster.NewFloat(v.W, v.H), B: raster.NewFloat(v.W, v.H), frameW: s.frameW, frameH: s.frameH}
	n := make([]float32, v.W)
	for y := range v.H {
		clear(n)
		row := y * v.W
		l, a, b := out.L.Pix[row:row+v.W], out.A.Pix[row:row+v.W], out.B.Pix[row:row+v.W]
		for k := 2 * y; k < min(2*y+2, s.H); k++ {
			for x, seen := range s.Seen.Pix[k*s.W : (k+1)*s.W] {
				if seen != 0 {
					i := k*s.W + x
					l[x/2] += s.L.Pix[i]
					a[x/2] += s.A.Pix[i]
					b[x/2] += s.B.Pix[i]
					n[x/2]++
				}
			}
		}
		for x, k := range n {
			if k > 0 {
				out.Seen.Pix[row+x] = 1
				l[x], a[x], b[x] = l[x]/k, a[x]/k, b[x]/k
			}
		}
	}
	return out
}

// doubt takes up what the wall looks like at half the size, at places large enough to matter: where root is seen there and none here it is
// as likely as both say together; where something hides the wall there, the wall is not seen.
func (r *regions) doubt(half *regions, step float64) {
	w, h := r.any.W, r.any.H
	known := raster.NewMask(w, h)
	for i, v := range r.any.Pix {
		if v > perhaps || r.hidden.Pix[i] > surely {
			known.Pix[i] = 1
		}
	}
	near := dilated(known, anewBesideMM/step)
	r.anew = onlyAtHalf(half.any, near, anewLeastMM2, step)
	covered := onlyAtHalf(half.hidden, near, anewHiddenMM2, step)
	for i := range r.any.Pix {
		j := i/w/2*half.any.W + i%w/2
		if covered.Pix[i] != 0 {
			r.hidden.Pix[i] = half.hidden.Pix[j]
		}
		if r.anew.Pix[i] != 0 {
			r.mean(half, i, j)
		}
	}
}

// mean makes root at pixel i as likely as both looks say together, and takes middle lines from the one that sees it.
func (r *regions) mean(half *regions, i, j int) {
	for _, p := range [3][2]raster.Float{{r.any, half.any}, {r.tip, half.tip}, {r.old, half.old}} {
		p[0].Pix[i] = (p[0].Pix[i] + p[1].Pix[j]) / 2
	}
	if r.line.W > 0 {
		r.line.Pix[i] = half.line.Pix[j]
	}
}

// onlyAtHalf are the places, large enough, where something is likelier than not at half the size, apart from those near what is known.
func onlyAtHalf(half raster.Float, near raster.Mask, leastMM2, step float64) raster.Mask {
	m := raster.NewMask(near.W, near.H)
	for i, v := range near.Pix {
		if v == 0 && half.Pix[i/near.W/2*half.W+i%near.W/2] > surely {
			m.Pix[i] = 1
		}
	}
	return dropSmall(opened(m, anewOpenMM/step), int(leastMM2/(step*step)), 0)
}

// seenAnew says whether most of a course lies where root was seen at half the size only.
func (f *found) seenAnew(px []skeleton.Pt) bool {
	if f.reg.anew.W == 0 {
		return false
	}
	n := 0
	for _, p := range px {
		if _, i, ok := f.sh.colour(p); ok {
			n += int(f.reg.anew.Pix[i])
		}
	}
	return 2*n > len(px)
}
