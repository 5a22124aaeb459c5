package quantity

import (
	"math"
	"strconv"
	"strings"

	"phototrack/internal/record"
)

// Thin is the narrow no-break space that groups digits and stands before a unit.
const Thin = "\u202f"

// Minus is the true minus sign, as wide as a figure.
const Minus = "\u2212"

const (
	twoDigitsTo = 2.95 // below it the first digit is 1 or 2, rounded to two
	nextPower   = 9.5
)

// Decimals is the number of decimals that an uncertainty justifies: the uncertainty keeps two significant digits where
// it begins with 1 or 2, else one (JCGM 100:2008, 7.2.6: one or at most two digits), and the value ends at the same
// place. It is negative where whole tens or hundreds are all that is known. An uncertainty of zero, or one that is not
// a number, gives no answer: ok is false.
func Decimals(u95 float64) (decimals int, ok bool) {
	if !(u95 > 0) || math.IsInf(u95, 0) {
		return 0, false
	}
	e := int(math.Floor(math.Log10(u95)))
	lead := u95 / math.Pow(10, float64(e))
	keep := 1
	if lead < twoDigitsTo {
		keep = 2
	}
	if lead >= nextPower { // rounds up to the next power of ten: 0.97 is printed as 1.0
		e++
		keep = 2
	}
	return keep - 1 - e, true
}

// Number prints v rounded to a number of decimals (negative: to tens, hundreds), digits grouped by three, with a true
// minus sign. What is not a number is printed as an en dash.
func Number(v float64, decimals int) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return "–"
	}
	if decimals < 0 {
		f := math.Pow(10, float64(-decimals))
		v = math.Round(v/f) * f
		decimals = 0
	}
	s := strconv.FormatFloat(math.Abs(v), 'f', decimals, 64)
	whole, frac, _ := strings.Cut(s, ".")
	var b strings.Builder
	if v < 0 && strings.Trim(s, "0.") != "" {
		b.WriteString(Minus)
	}
	for i, r := range whole {
		if i > 0 && (len(whole)-i)%3 == 0 && len(whole) > 4 {
			b.WriteString(Thin)
		}
		b.WriteRune(r)
	}
	if frac != "" {
		b.WriteString("." + frac)
	}
	return b.String()
}

// Signed is Number with a plus sign before what is above zero.
func Signed(v float64, decimals int) string {
	s := Number(v, decimals)
	if v > 0 && strings.Trim(s, "0.") != "" {
		return "+" + s
	}
	return s
}

// mostDecimals of a value without uncertainty.
const mostDecimals = 4

// unknownDigits is the number of decimals for a value without uncertainty: three significant digits.
func unknownDigits(v float64) int {
	if v == 0 || math.IsNaN(v) || math.IsInf(v, 0) {
		return 0
	}
	return min(max(0, 2-int(math.Floor(math.Log10(math.Abs(v))))), mostDecimals)
}

// places returns decimals and the shown value and uncertainty.
func (q Info) places(value, u95 float64) (v, u float64, decimals int, ok bool) {
	v, u = value*q.Scale, u95*q.Scale
	decimals, ok = Decimals(u)
	switch {
	case q.Name == record.CountOf:
		decimals, ok = 0, false
	case !ok:
		decimals = unknownDigits(v)
	}
	return v, u, decimals, ok
}

// unit is the shown unit with the space that belongs before it; degrees stand close.
func (q Info) unit() string {
	if q.Shown == "" || q.Shown == "°" {
		return q.Shown
	}
	return Thin + q.Shown
}

// Value prints a stored value with its 95 % interval in the shown unit: "214 ± 4 cm²".
func (q Info) Value(value, u95 float64) string {
	v, u, d, ok := q.places(value, u95)
	if !ok {
		return Number(v, d) + q.unit()
	}
	return Number(v, d) + " ± " + Number(u, d) + q.unit()
}

// Bare prints a stored value alone, in the shown unit, to the digits its uncertainty justifies: "214 cm²".
func (q Info) Bare(value, u95 float64) string {
	v, _, d, _ := q.places(value, u95)
	return Number(v, d) + q.unit()
}

// Delta prints a difference with sign and interval. The unit of a share's change is the percentage point.
func (q Info) Delta(change, u95 float64) string {
	v, u, d, ok := q.places(change, u95)
	unit := q.unit()
	if q.Shown == "%" && !q.Ratio {
		unit = Thin + "points"
	}
	if !ok {
		return Signed(v, d) + unit
	}
	return Signed(v, d) + " ± " + Number(u, d) + unit
}

// Rate prints a change that has no interval, such as a slope from few sessions, to the digits that an interval of the
// given size would leave it; 0 for a size that is not known prints about three digits.
func (q Info) Rate(change, size float64) string {
	v, _, d, _ := q.places(change, size)
	unit := q.unit()
	if q.Shown == "%" && !q.Ratio {
		unit = Thin + "points"
	}
	return Signed(v, d) + unit
}

// Size prints the size of a difference, such as the smallest detectable one, to the digits of an uncertainty.
func (q Info) Size(v float64) string {
	v *= q.Scale
	d, ok := Decimals(v)
	if !ok {
		return "–"
	}
	unit := q.unit()
	if q.Shown == "%" && !q.Ratio {
		unit = Thin + "points"
	}
	return Number(v, d) + unit
}

// Percent prints a change relative to the earlier value, "+9.3 ± 1.8 %", and whether that makes sense for this
// quantity: it needs a value above zero that is itself known better than by half.
func (q Info) Percent(from, change, u95 float64) (string, bool) {
	if !q.Relative || !(from > 0) || !(u95 > 0) || u95 > from/2 {
		return "", false
	}
	p, u := 100*change/from, 100*u95/from
	d, _ := Decimals(u)
	return Signed(p, d) + " ± " + Number(u, d) + Thin + "%", true
}
