// Package uncert combines the lines of an uncertainty budget to the half-width of a 95 % interval.
//
// A budget is a list of record.Term: independent, centred at zero, normal or rectangular. Their standard
// uncertainties add in quadrature (JCGM 100:2008, 5.1.2). The 95 % interval is that of the distribution of their sum
// (JCGM 101:2008, 5): where one rectangular term rules it is 1.645 u, not 1.96 u. The distribution is computed, not
// drawn, so that the same photo gives the same figure to the last digit.
//
// Call Quantity to make a record.Quantity from its value and terms; U95 and Standard for the figures alone; Split to
// tell what cancels in a change from what does not.
package uncert

import (
	"math"

	"phototrack/internal/record"
)

// Coverage is the probability of the intervals of this program.
const Coverage = 0.95

// root3 is half-width over standard uncertainty of a rectangular term (JCGM 100:2008, 4.3.7).
var root3 = math.Sqrt(3)

// Normal is a term with standard uncertainty u.
func Normal(name string, u float64) record.Term {
	return record.Term{Name: name, U: math.Abs(u), Shape: record.Normal}
}

// Rectangular is a term that lies anywhere within plus or minus halfWidth with equal probability.
func Rectangular(name string, halfWidth float64) record.Term {
	return record.Term{Name: name, U: math.Abs(halfWidth) / root3, Shape: record.Rectangular}
}

// Common marks a term as the same for all photos of a plant: it cancels in a change.
func Common(t record.Term) record.Term {
	t.Common = true
	return t
}

// Quantity makes a quantity with its U95 from its terms. Terms of zero size are left out; value and terms are in unit.
func Quantity(name record.QuantityName, unit string, value float64, terms ...record.Term) record.Quantity {
	kept := make([]record.Term, 0, len(terms))
	for _, t := range terms {
		if t.U != 0 {
			kept = append(kept, t)
		}
	}
	return record.Quantity{Name: name, Unit: unit, Value: value, U95: U95(kept), Terms: kept}
}

// Scale multiplies the size of every term by |factor|: a sensitivity coefficient (JCGM 100:2008, 5.1.3).
func Scale(terms []record.Term, factor float64) []record.Term {
	out := make([]record.Term, len(terms))
	for i, t := range terms {
		t.U *= math.Abs(factor)
		out[i] = t
	}
	return out
}

// Combine joins budgets of independent parts of a sum into one list.
func Combine(lists ...[]record.Term) []record.Term {
	var out []record.Term
	for _, l := range lists {
		out = append(out, l...)
	}
	return out
}

// Split parts a budget into what is common to all photos of a plant and what varies between them.
func Split(terms []record.Term) (common, varying []record.Term) {
	for _, t := range terms {
		if t.Common {
			common = append(common, t)
		} else {
			varying = append(varying, t)
		}
	}
	return common, varying
}

// Standard is the combined standard uncertainty: the root of the sum of squares (JCGM 100:2008, equation 10).
func Standard(terms []record.Term) float64 {
	sum := 0.0
	for _, t := range terms {
		sum += t.U * t.U
	}
	return math.Sqrt(sum)
}

// U95 is the half-width of the 95 % interval of the sum of the terms. No terms give 0; a term that is not a number or
// infinite gives the same.
func U95(terms []record.Term) float64 { return HalfWidth(terms, Coverage) }

// HalfWidth is the half-width of the symmetric interval that holds the sum of the terms with probability level, which
// must lie between 0 and 1 (else NaN).
func HalfWidth(terms []record.Term, level float64) float64 {
	u := Standard(terms)
	switch {
	case !(level > 0 && level < 1) || math.IsNaN(u):
		return math.NaN()
	case u == 0 || math.IsInf(u, 1):
		return u
	}
	d := newSum(terms, u)
	return u * d.halfWidth(level)
}
