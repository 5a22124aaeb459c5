package register

import (
	"math"

	"phototrack/internal/cv"
	"phototrack/internal/geom"
	"phototrack/internal/raster"
)

// Plants with plain leaves have few distinct places. Their shape and colours as a whole tell where they are: a picture of the
// earlier plant, turned by some degrees each way, is slid over the later photo.

const (
	shapeStepMM  = 1.0  // per pixel of the pictures that are slid
	shapeTurnDeg = 8.0  // each way
	shapeTurns   = 9    // that are tried
	leastScore   = 0.70 // correlation that is the plant again
	rivalScore   = 0.90 // of the best: what any other place may reach
	rivalMM      = 14.0 // from where on a place is another one
)

// byShape finds the shift and turn at which the region looks most alike in both photos.
func byShape(before, now View, from, to geom.MM) Result {
	mid := geom.MM{X: (from.X + to.X) / 2, Y: (from.Y + to.Y) / 2}
	half := math.Max(to.X-from.X, to.Y-from.Y) / 2
	large := now.picture(geom.MM{X: mid.X - half - farMM, Y: mid.Y - half - farMM}, 2*(half+farMM), 0, mid)
	type found struct{ score, x, y, turn float64 }
	var best found
	var all [shapeTurns]found
	var maps [shapeTurns][]float32
	var mw int
	for k := range shapeTurns {
		turn := shapeTurnDeg * (2*float64(k)/(shapeTurns-1) - 1) * math.Pi / 180
		small := before.picture(geom.MM{X: mid.X - half, Y: mid.Y - half}, 2*half, -turn, mid)
		score, w, _, err := cv.Match(small, large)
		if err != nil {
			return Result{Because: "the plant could not be looked at"}
		}
		at := 0
		for i, v := range score {
			if v > score[at] {
				at = i
			}
		}
		all[k] = found{float64(score[at]), float64(at % w), float64(at / w), turn}
		maps[k], mw = score, w
		if all[k].score > best.score {
			best = all[k]
		}
	}
	r := Result{Of: 1, Because: "the plant was not found again by its shape"}
	if best.score < leastScore {
		return r
	}
	rival := 0.0
	for _, m := range maps {
		for i, v := range m {
			if math.Hypot(float64(i%mw)-best.x, float64(i/mw)-best.y)*shapeStepMM > rivalMM {
				rival = math.Max(rival, float64(v))
			}
		}
	}
	if rival > rivalScore*best.score {
		r.Because = "the plant looks alike in more than one place"
		return r
	}
	// The small picture shows places turned by -turn about the middle, so that the plant of the earlier photo appears turned.
	s, c := math.Sincos(best.turn)
	dx, dy := best.x*shapeStepMM-farMM, best.y*shapeStepMM-farMM
	m := Move{A: c, B: s}
	m.X = mid.X + dx - (c*mid.X - s*mid.Y)
	m.Y = mid.Y + dy - (s*mid.X + c*mid.Y)
	return Result{Move: m, Agree: 1, Of: 1, RMSMM: shapeStepMM, Sure: true}
}

// picture is a square of a photo seen square on, a pixel a step, each the mean of several samples. Its places are turned about a
// point before they are looked up.
func (v View) picture(from geom.MM, side, turn float64, about geom.MM) raster.BGR {
	n := int(side / shapeStepMM)
	out := raster.NewBGR(n, n)
	s, c := math.Sincos(turn)
	const fine = 3
	for y := range n {
		for x := range n {
			var sum [3]float64
			k := 0.0
			for i := range fine * fine {
				qx := from.X + (float64(x)+(float64(i%fine)+0.5)/fine)*shapeStepMM - about.X
				qy := from.Y + (float64(y)+(float64(i/fine)+0.5)/fine)*shapeStepMM - about.Y
				if px := v.seenAt(geom.MM{X: about.X + c*qx - s*qy, Y: about.Y + s*qx + c*qy}); px != nil {
					for ch := range sum {
						sum[ch] += float64(px[ch])
					}
					k++
				}
			}
			if k == 0 {
				sum, k = [3]float64{128, 128, 128}, 1
			}
			for ch := range sum {
				out.Pix[3*(y*n+x)+ch] = uint8(sum[ch]/k + 0.5)
			}
		}
	}
	return out
}

// seenAt is the photo's pixel that shows a place; nil where none does.
func (v View) seenAt(q geom.MM) []uint8 {
	p, ok := v.Surface.PX(q)
	if !ok || p.X < 0 || p.Y < 0 || p.X >= float64(v.Img.W-1) || p.Y >= float64(v.Img.H-1) || v.hidden(p) {
		return nil
	}
	return v.Img.Pix[3*(int(p.Y+0.5)*v.Img.W+int(p.X+0.5)):][:3]
}
