package part

import (
	"math"

	"phototrack/internal/geom"
)

// follow goes on from the end of a path as long as a part of like width and colour goes on there.
func (in *Input) follow(path []geom.MM, width float64, sc scales) (out []geom.MM) {
	n := len(path)
	back := path[max(0, n-pointsBack)]
	end := path[n-1]
	l := math.Hypot(end.X-back.X, end.Y-back.Y)
	if l == 0 {
		return nil
	}
	dir := geom.MM{X: (end.X - back.X) / l, Y: (end.Y - back.Y) / l}
	inside, ok := in.lightNear(end)
	if !ok {
		return nil
	}
	lost, w := 0, width
	at := end
	var run []geom.MM
	for len(run) < mostGrowth/followMM && lost < tracksLost {
		at = geom.MM{X: at.X + followMM*dir.X, Y: at.Y + followMM*dir.Y}
		s := station{p: at, dir: dir, normal: geom.MM{X: -dir.Y, Y: dir.X}}
		reach := 1.5*w + 4*sc.spreadMM
		s.prof = in.take(sc.fine(transect{origin: at, dir: s.normal, side: dir, from: -reach, to: reach, halfSide: 0.4}))
		best, cost := pair{none: true}, math.Inf(1)
		for _, k := range s.candidates(sc) {
			if k.none || outside(k.width()/w, stepWidthRatio) || math.Abs(k.mid()) > stationsOff*w || far(k.inside, inside) > colourOff {
				continue
			}
			if c := k.cost + math.Abs(k.mid())/w; c < cost {
				best, cost = k, c
			}
		}
		if best.none {
			lost++
			continue
		}
		lost = 0
		w = 0.8*w + 0.2*best.width()
		at = geom.MM{X: at.X + 0.7*best.mid()*s.normal.X, Y: at.Y + 0.7*best.mid()*s.normal.Y}
		run = append(run, at)
		from := end
		if len(run) >= pointsBack {
			from = run[len(run)-pointsBack]
		}
		if d := math.Hypot(at.X-from.X, at.Y-from.Y); d > 0 {
			dir = geom.MM{X: (at.X - from.X) / d, Y: (at.Y - from.Y) / d}
		}
		out = run
	}
	return out
}

func (in *Input) lightNear(p geom.MM) (light, bool) {
	px, ok := in.Surface.PX(p)
	if !ok {
		return light{}, false
	}
	return lightAt(in.Img, px)
}

// thinned keeps about as many points as a hand would set: ends and a few between, at even distances.
func thinned(path []geom.MM) []geom.MM {
	if len(path) < leastPoints {
		return path
	}
	c := newCurve(path)
	n := int(math.Min(mostPoints, math.Max(leastPoints, c.length()/pointEachMM)))
	out := make([]geom.MM, n)
	for i := range out {
		out[i], _ = c.place(c.length() * float64(i) / float64(n-1))
	}
	return out
}
