package uncert

import (
	"math"
	"sort"

	"phototrack/internal/record"
)

// Which rectangular terms keep their shape: the largest four, unless they are under a fiftieth of the whole. The others
// are taken as normal, and their flatness is corrected by the first term of the Cornish-Fisher expansion (Cornish &
// Fisher 1938). A term of a seventh of the whole still moves the 95 % half-width by half a per cent beside one dominant
// rectangular term, because it rules the flank there; under a fiftieth it no longer matters. With four shapes the sum
// below has 16 parts, and with these sizes it loses at most five of its sixteen digits.
const (
	maxShaped = 4
	minShaped = 0.02
)

// sum is the distribution of a normal variable plus up to maxShaped rectangular ones, scaled to standard deviation 1.
type sum struct {
	sigma   float64     // of the normal part
	offsets [16]float64 // all sums of plus or minus the half-widths
	signs   [16]float64
	n       int     // rectangular terms kept
	norm    float64 // 1 over the product of the widths
	excess  float64 // fourth cumulant of the rectangular terms that were taken as normal
}

func newSum(terms []record.Term, u float64) sum {
	var rect []float64
	normal := 0.0
	for _, t := range terms {
		r := t.U / u
		if t.Shape == record.Rectangular {
			rect = append(rect, math.Abs(r))
		} else {
			normal += r * r
		}
	}
	sort.Sort(sort.Reverse(sort.Float64Slice(rect)))
	d := sum{norm: 1}
	d.signs[0] = 1
	for _, r := range rect {
		if d.n == maxShaped || r < minShaped {
			normal += r * r
			d.excess -= 1.2 * r * r * r * r // fourth cumulant of a rectangular variable: -6/5 of its variance squared
			continue
		}
		a := r * root3
		parts := 1 << d.n
		for i := 0; i < parts; i++ {
			d.offsets[parts+i], d.signs[parts+i] = d.offsets[i]-a, -d.signs[i]
			d.offsets[i] += a
		}
		d.norm /= 2 * a
		d.n++
	}
	d.sigma = math.Sqrt(normal)
	return d
}

// cdf is the probability that the sum is at most x. A rectangular variable of half-width a averages a distribution
// over x-a..x+a, so each one turns the distribution's integral into a difference of two: n of them give 2^n signed
// n-fold integrals of the normal distribution.
func (d *sum) cdf(x float64) float64 {
	total := 0.0
	for i := 0; i < 1<<d.n; i++ {
		total += d.signs[i] * integral(d.n, x+d.offsets[i], d.sigma)
	}
	return total * d.norm
}

// pdf is the derivative of cdf.
func (d *sum) pdf(x float64) float64 {
	total := 0.0
	for i := 0; i < 1<<d.n; i++ {
		total += d.signs[i] * integral(d.n-1, x+d.offsets[i], d.sigma)
	}
	return total * d.norm
}

const (
	farOut = 40    // standard deviations, beyond which the normal distribution is 0 or 1 to the last bit (it is from 38 on)
	exact  = 1e-9  // a standard deviation below it is none
	solved = 1e-12 // Newton's steps end at one this small, in standard deviations
)

// integral is the n-fold integral from minus infinity of the normal distribution with standard deviation sigma:
// n = -1 the density, 0 the distribution function. From n = 1 on
// I[n] = (x I[n-1] + sigma^2 I[n-2]) / n; with sigma = 0 it is x^n/n! to the right of zero.
func integral(n int, x, sigma float64) float64 {
	before, now := 0.0, 0.0
	switch {
	case x > farOut*sigma && sigma < exact:
		now = 1
	case sigma < exact:
		return 0
	case x < -farOut*sigma:
		return 0
	default:
		z := x / sigma
		before = math.Exp(-z*z/2) / (sigma * math.Sqrt(2*math.Pi))
		now = 0.5 * math.Erfc(-z/math.Sqrt2)
	}
	if n < 0 {
		return before
	}
	for k := 1; k <= n; k++ {
		before, now = now, (x*now+sigma*sigma*before)/float64(k)
	}
	return now
}

// halfWidth solves cdf(x) = (1+level)/2 by Newton steps kept within a bracket.
func (d *sum) halfWidth(level float64) float64 {
	target := (1 + level) / 2
	z := math.Sqrt2 * math.Erfinv(level)
	// A correction for the flatness of what was taken as normal: (z^3-3z)/24 of its excess kurtosis.
	correction := (z*z*z - 3*z) / 24 * d.excess
	if d.n == 0 {
		return z + correction
	}
	low, high := 0.0, d.sigma*z+d.offsets[0]+1
	x := math.Min(z, high)
	for range 60 {
		f := d.cdf(x) - target
		if f > 0 {
			high = x
		} else {
			low = x
		}
		step := x - f/d.pdf(x)
		if !(step > low && step < high) {
			step = (low + high) / 2
		}
		if math.Abs(step-x) < solved {
			return step + correction
		}
		x = step
	}
	return x + correction
}
