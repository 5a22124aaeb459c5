package calib

import (
	"math"
	"slices"

	"phototrack/internal/card"
	"phototrack/internal/geom"
)

// surface is one of the light's values over the card. How smooth it is was chosen by leave-one-out error: a plane or a
// quadric over the whole card where that is enough, else a local regression (Cleveland 1979, J. Am. Stat. Assoc.
// 74:829) that follows a shadow's or a reflection's flank.
type surface struct {
	k      int
	terms  int // of the polynomial over the card: 3 or 6; 0: local
	coef   [6]float64
	reach  float64 // of the local regression, mm
	points []whiteObs
	resid  []float64 // leave-one-out residuals of points
	noise  float64   // their robust standard deviation
	jumps  []whiteObs
	jump   []float64 // and those of the points left out
}

// reachesMM are the reaches that are tried, the smoothest first. A patch lies within 8 mm of paper on one side and
// 20 mm on the other.
var reachesMM = []float64{60, 40, 28, 20}

const (
	jumpFloor   = 0.06 // a sample that is 6 % off its neighbours' light is dirty or lies at an edge
	jumpScale   = 6.0
	smoothBonus = 1.06 // a smoother surface is taken while its error is no more than this of the best
)

func fitSurface(all []whiteObs, k int) surface {
	keep, jumps := withoutJumps(all, k)
	var best surface
	var costs []float64
	var tried []surface
	for _, terms := range []int{3, 6} {
		s := surface{k: k, terms: terms, points: keep, jumps: jumps}
		if s.fitPolynomial() {
			tried, costs = append(tried, s), append(costs, rms(s.resid))
		}
	}
	reaches := reachesMM
	if k > 0 {
		reaches = reaches[:2] // a shadow's edge is sharper in brightness than in colour
	}
	for _, reach := range reaches {
		s := surface{k: k, reach: reach, points: keep, jumps: jumps}
		s.fitLocal()
		tried, costs = append(tried, s), append(costs, rms(s.resid))
	}
	least := slices.Min(costs)
	for i, c := range costs {
		if c <= smoothBonus*least {
			best = tried[i]
			break
		}
	}
	best.noise = spread(best.resid)
	for _, o := range jumps {
		best.jump = append(best.jump, o.v[k]-best.at(o.x, o.y))
	}
	return best
}

func rms(v []float64) float64 {
	var s float64
	for _, x := range v {
		s += x * x
	}
	return math.Sqrt(s / float64(max(1, len(v))))
}

// spread is the robust standard deviation of residuals about zero (median of the absolute values).
func spread(resid []float64) float64 {
	sorted := make([]float64, len(resid))
	for i, r := range resid {
		sorted[i] = math.Abs(r)
	}
	slices.Sort(sorted)
	return 1.4826 * sorted[len(sorted)/2]
}

// withoutJumps takes out the samples that their neighbours do not foretell.
func withoutJumps(all []whiteObs, k int) (keep, jumps []whiteObs) {
	keep = all
	for range 3 {
		s := surface{k: k, reach: 28, points: keep}
		s.fitLocal()
		limit := math.Max(jumpFloor, jumpScale*spread(s.resid))
		var next []whiteObs
		for i, o := range keep {
			if math.Abs(s.resid[i]) > limit {
				jumps = append(jumps, o)
			} else {
				next = append(next, o)
			}
		}
		if len(next) == len(keep) || len(next) < minWhites {
			break
		}
		keep = next
	}
	return keep, jumps
}

// at is the surface's value at a point of the card.
func (s *surface) at(x, y float64) float64 {
	if s.terms > 0 {
		return quadricAt(s.coef, x, y)
	}
	v, ok := s.local(x, y, -1)
	if !ok {
		return 0
	}
	return v
}

// spanFactor is how much more a bend of the light misleads at a patch than at a white sample that is foretold by its
// neighbours: by the product of the distances to both sides, 7.5 x 19.5 mm for a patch and 6 x 6 mm for a sample.
const spanFactor = 7.5 * 19.5 / (6.0 * 6.0)

// doubt is the standard uncertainty of the surface at a patch: what the samples round about differ from what their
// neighbours foretell, beyond the noise of all, jumps included, times spanFactor.
func (s *surface) doubt(x, y float64) float64 {
	const reach = 16.0
	var sum, sw float64
	add := func(o whiteObs, r float64) {
		d2 := ((o.x-x)*(o.x-x) + (o.y-y)*(o.y-y)) / (reach * reach)
		if d2 < 1 {
			w := (1 - d2) * (1 - d2)
			sum, sw = sum+w*r*r, sw+w
		}
	}
	for i, o := range s.points {
		add(o, s.resid[i])
	}
	for i, o := range s.jumps {
		add(o, s.jump[i])
	}
	if sw == 0 {
		return 0
	}
	return spanFactor * math.Sqrt(math.Max(sum/sw-s.noise*s.noise, 0))
}

func (s *surface) fitLocal() {
	s.resid = make([]float64, len(s.points))
	for i, o := range s.points {
		if v, ok := s.local(o.x, o.y, i); ok {
			s.resid[i] = o.v[s.k] - v
		}
	}
}

const (
	mostReachMM   = 300.0 // twice the card's length: farther there is no sample
	leastOfPlane  = 6     // samples for a plane of three parameters
	leastLeverage = 0.1   // a residual that a sample nearly makes itself is not blown up by more than ten
)

// local is the local plane's value at a point, without the sample skip (-1: with all). The reach grows where there
// are too few samples.
func (s *surface) local(x, y float64, skip int) (float64, bool) {
	for reach := s.reach; reach < mostReachMM; reach *= 1.5 {
		var sw, su, sv, suu, suv, svv, sz, suz, svz float64
		n := 0
		for i, o := range s.points {
			u, v := o.x-x, o.y-y
			d2 := (u*u + v*v) / (reach * reach)
			if i == skip || d2 >= 1 {
				continue
			}
			n++
			w := (1 - d2) * (1 - d2)
			z := o.v[s.k]
			sw, su, sv, sz = sw+w, su+w*u, sv+w*v, sz+w*z
			suu, suv, svv, suz, svz = suu+w*u*u, suv+w*u*v, svv+w*v*v, suz+w*u*z, svz+w*v*z
		}
		if n < leastOfPlane {
			continue
		}
		// A ridge on the slopes keeps a plane through few samples from tilting wildly.
		ridge := 0.002 * sw * reach * reach
		m := geom.Mat3{sw, su, sv, su, suu + ridge, suv, sv, suv, svv + ridge}
		inv, err := m.Inv()
		if err != nil {
			continue
		}
		return inv.Vec(geom.Vec3{sz, suz, svz})[0], true
	}
	return 0, false
}

func quadricTerms(x, y float64) [6]float64 {
	u, v := (x-card.WidthMM/2)/100, (y-card.HeightMM/2)/100
	return [6]float64{1, u, v, u * u, u * v, v * v}
}

func quadricAt(c [6]float64, x, y float64) (s float64) {
	t := quadricTerms(x, y)
	for i := range c {
		s += c[i] * t[i]
	}
	return
}

// quadricFit fits the first terms of a quadric by weighted least squares.
func quadricFit(all []whiteObs, w []float64, k, terms int) (c [6]float64, ok bool) {
	A, b := normal(all, w, k, terms)
	x, ok := geom.SolveSymmetric(A, b)
	if ok {
		copy(c[:], x)
	}
	return c, ok
}

func normal(all []whiteObs, w []float64, k, terms int) (A [][]float64, b []float64) {
	A, b = make([][]float64, terms), make([]float64, terms)
	for i := range A {
		A[i] = make([]float64, terms)
		A[i][i] = 1e-6
	}
	for n, o := range all {
		t, wn := quadricTerms(o.x, o.y), 1.0
		if w != nil {
			wn = w[n]
		}
		for i := range terms {
			for j := range terms {
				A[i][j] += wn * t[i] * t[j]
			}
			b[i] += wn * t[i] * o.v[k]
		}
	}
	return
}

// fitPolynomial fits the surface and its leave-one-out residuals, e/(1-h) with h the sample's leverage.
func (s *surface) fitPolynomial() bool {
	A, b := normal(s.points, nil, s.k, s.terms)
	x, ok := geom.SolveSymmetric(A, b)
	if !ok {
		return false
	}
	copy(s.coef[:], x)
	s.resid = make([]float64, len(s.points))
	for i, o := range s.points {
		t := quadricTerms(o.x, o.y)
		z, ok := geom.SolveSymmetric(A, t[:s.terms])
		if !ok {
			return false
		}
		h := 0.0
		for j := range s.terms {
			h += t[j] * z[j]
		}
		s.resid[i] = (o.v[s.k] - quadricAt(s.coef, o.x, o.y)) / math.Max(1-h, leastLeverage)
	}
	return true
}
