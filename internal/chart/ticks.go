package chart

import (
	"math"
	"time"

	"gonum.org/v1/plot"

	"phototrack/internal/quantity"
	"phototrack/internal/record"
	"phototrack/internal/words"
)

const (
	mostTicks   = 6 // on an axis of months (chosen by eye)
	monthsAYear = 12
	rounding    = 1e-9 // of a step: what arithmetic may be off
)

// months puts ticks at the first of months, as many as fit, and names the year where it changes.
type months struct{}

// Ticks meets plot.Ticker; min and max are seconds since 1970.
func (months) Ticks(min, max float64) []plot.Tick {
	from, to := time.Unix(int64(min), 0).UTC(), time.Unix(int64(max), 0).UTC()
	span := int(to.Sub(from).Hours()/(24*record.MonthDays)) + 1
	step := monthsAYear * (1 + span/(5*monthsAYear))
	for _, s := range []int{1, 2, 3, 6} {
		if span/s <= mostTicks {
			step = s
			break
		}
	}
	var out []plot.Tick
	first := time.Date(from.Year(), 1, 1, 0, 0, 0, 0, time.UTC)
	year := 0
	for t := first; !t.After(to); t = t.AddDate(0, step, 0) {
		if t.Before(from) {
			continue
		}
		name := words.ShortMonth(t)
		if t.Year() != year {
			name += t.Format(" 2006")
			if step >= monthsAYear {
				name = t.Format("2006")
			}
			year = t.Year()
		}
		out = append(out, plot.Tick{Value: float64(t.Unix()), Label: name})
	}
	return out
}

// round puts about four ticks at 1, 2 or 5 times a power of ten.
type round struct{}

// Ticks meets plot.Ticker.
func (round) Ticks(min, max float64) []plot.Tick {
	raw := (max - min) / 4
	if !(raw > 0) || math.IsInf(raw, 0) {
		return nil
	}
	pow := math.Pow(10, math.Floor(math.Log10(raw)))
	step := 10 * pow
	for _, m := range []float64{1, 2, 5} {
		if raw <= m*pow {
			step = m * pow
			break
		}
	}
	dec := int(math.Max(0, -math.Floor(math.Log10(step)+rounding)))
	var out []plot.Tick
	for i := math.Ceil(min/step - rounding); i*step <= max+rounding*step; i++ {
		out = append(out, plot.Tick{Value: i * step, Label: quantity.Number(i*step, dec)})
	}
	return out
}
