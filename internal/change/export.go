package change

import (
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"phototrack/internal/csvcell"
	"phototrack/internal/gate"
	"phototrack/internal/record"
)

// minDigits are the significant digits of a printed value whose uncertainty is not known.
const minDigits = 4

// FormatValue prints a value to the digits that its uncertainty justifies, for a file: to the place of the second
// significant digit of u95 (JCGM 100:2008, 7.2.6) or to whole units, whichever is finer; the rounding is then less than a
// twentieth of u95. No grouping, no exponent; what is not a number gives an empty cell.
func FormatValue(value, u95 float64) string {
	if math.IsNaN(value) || math.IsInf(value, 0) {
		return ""
	}
	if u95 > 0 && !math.IsInf(u95, 0) {
		return fixed(value, decimalsOf(u95, 2))
	}
	return fixed(value, decimalsOf(value, minDigits))
}

// FormatU95 prints a half-width to two significant digits or to whole units, whichever is finer.
func FormatU95(u95 float64) string {
	if math.IsNaN(u95) || math.IsInf(u95, 0) {
		return ""
	}
	return fixed(u95, decimalsOf(u95, 2))
}

// mostDecimals that are written: below a billionth nothing here is told apart.
const mostDecimals = 9

// decimalsOf is the number of decimals that shows so many significant digits, 0 to mostDecimals.
func decimalsOf(v float64, digits int) int {
	if v == 0 {
		return 0
	}
	return min(mostDecimals, max(0, digits-1-int(math.Floor(math.Log10(math.Abs(v))))))
}

func fixed(v float64, decimals int) string {
	s := strconv.FormatFloat(v, 'f', decimals, 64)
	if strings.Trim(s, "-0.") == "" {
		return strings.TrimPrefix(s, "-") // no minus before zero
	}
	return s
}

// interval prints a half-width; a count has none.
func interval(quantity record.QuantityName, u95 float64) string {
	if quantity == record.CountOf {
		return ""
	}
	return FormatU95(u95)
}

// probability prints p, q and shares: six significant digits, an empty cell for none.
func probability(p float64) string {
	if math.IsNaN(p) {
		return ""
	}
	return strconv.FormatFloat(p, 'g', 6, 64)
}

// text makes a cell that a spreadsheet takes as text.
func text(s string) string { return csvcell.Safe(s) }

// table writes a header and rows as RFC 4180 with \n line ends.
func table(w io.Writer, header string, rows func(add func(cells ...string))) error {
	c := csv.NewWriter(w)
	names := strings.Split(header, ",")
	err := c.Write(names)
	rows(func(cells ...string) {
		if err == nil && len(cells) != len(names) {
			err = fmt.Errorf("a row of %d cells under %d columns", len(cells), len(names))
		}
		if err == nil {
			err = c.Write(cells)
		}
	})
	c.Flush()
	if err == nil {
		err = c.Error()
	}
	return err
}

// WriteMeasurements writes measurements.csv: one row per photo and quantity; a photo without quantities (a rejected one)
// has one row with these cells empty.
func WriteMeasurements(w io.Writer, photos []record.Photo) error {
	return table(w, "photo,date,plant,view,quantity,part,value,unit,u95,status,reasons,sha256", func(add func(...string)) {
		for i := range photos {
			p := &photos[i]
			plant := ""
			if p.Plant != 0 {
				plant = strconv.Itoa(p.Plant)
			}
			row := func(name, part, value, unit, u95 string) {
				add(text(p.Name), p.Taken.String(), plant, string(p.View), name, text(part), value, unit, u95, string(p.Status), gate.Codes(p.Reasons), p.SHA256)
			}
			if p.Status == record.Rejected || len(p.Quantities) == 0 {
				row("", "", "", "", "")
				continue
			}
			for _, q := range p.Quantities {
				row(string(q.Name), q.Part, FormatValue(q.Value, q.U95), q.Unit, FormatU95(q.U95))
			}
		}
	})
}

// WriteSessions writes sessions.csv.
func WriteSessions(w io.Writer, sessions []record.Session) error {
	return table(w, "plant,view,date,quantity,part,value,unit,u95,photos", func(add func(...string)) {
		for i := range sessions {
			s := &sessions[i]
			add(strconv.Itoa(s.Plant), string(s.View), s.Date, string(s.Quantity), text(s.Part), FormatValue(s.Value, s.U95), s.Unit, interval(s.Quantity, s.U95), strconv.Itoa(s.Photos))
		}
	})
}

// WriteChanges writes changes.csv.
func WriteChanges(w io.Writer, changes []record.Change) error {
	return table(w, "plant,name,view,quantity,part,from_date,to_date,from_value,to_value,change,unit,u95,smallest_detectable,verdict,basis,event,q", func(add func(...string)) {
		for i := range changes {
			c := &changes[i]
			add(strconv.Itoa(c.Plant), text(c.Name), string(c.View), string(c.Quantity), text(c.Part), c.FromDate, c.ToDate, FormatValue(c.FromValue, c.U95),
				FormatValue(c.ToValue, c.U95), FormatValue(c.Change, c.U95), c.Unit, interval(c.Quantity, c.U95), interval(c.Quantity, c.SmallestDetectable),
				string(c.Verdict), c.Basis, text(c.Event), probability(c.Q))
		}
	})
}

// WriteTrends writes trends.csv.
func WriteTrends(w io.Writer, trends []record.Trend) error {
	return table(w, "plant,view,quantity,part,phase,from_date,to_date,sessions,slope_per_month,slope_low,slope_high,mk_p,mk_q,relative_growth_per_month,growth_low,growth_high", func(add func(...string)) {
		for i := range trends {
			t := &trends[i]
			u, g := (t.SlopeHigh-t.SlopeLow)/2, (t.GrowthHigh-t.GrowthLow)/2
			add(strconv.Itoa(t.Plant), string(t.View), string(t.Quantity), text(t.Part), text(t.Phase), t.FromDate, t.ToDate, strconv.Itoa(t.Sessions),
				FormatValue(t.SlopePerMonth, u), FormatValue(t.SlopeLow, u), FormatValue(t.SlopeHigh, u), probability(t.MKp), probability(t.MKq),
				FormatValue(t.RelGrowthPerMonth, g), FormatValue(t.GrowthLow, g), FormatValue(t.GrowthHigh, g))
		}
	})
}

// WriteEffects writes events_effect.csv. Comparison plants are joined with semicolons.
func WriteEffects(w io.Writer, effects []record.EventEffect) error {
	return table(w, "plant,view,event,date,quantity,part,slope_before,slope_after,level_change,comparison_plants,difference,low,high,p,p_smallest,q,other_events", func(add func(...string)) {
		for i := range effects {
			e := &effects[i]
			u := (e.High - e.Low) / 2
			add(strconv.Itoa(e.Plant), string(e.View), text(e.Event), e.Date, string(e.Quantity), text(e.Part), FormatValue(e.SlopeBefore, e.LevelU95), FormatValue(e.SlopeAfter, e.LevelU95),
				FormatValue(e.LevelChange, e.LevelU95), strings.ReplaceAll(numbers(e.ComparisonPlants), ", ", ";"), FormatValue(e.Difference, u),
				FormatValue(e.Low, u), FormatValue(e.High, u), probability(e.P), probability(e.PSmallest), probability(e.Q), text(e.OtherEvents))
		}
	})
}

// WritePooled writes events_pooled.csv. The last column is the unit of the median change: the quantity's, or relative
// (0.1 is 10 % of the value before the event) for areas and lengths.
func WritePooled(w io.Writer, pooled []record.PooledEffect) error {
	return table(w, "event,group,quantity,part,month_from_event,plants,median_change,low,high,share_rose,share_fell,unit", func(add func(...string)) {
		for i := range pooled {
			p := &pooled[i]
			u := (p.High - p.Low) / 2
			add(text(p.Event), text(p.Group), string(p.Quantity), text(p.Part), strconv.Itoa(p.MonthFromEvent), strconv.Itoa(p.Plants), FormatValue(p.MedianChange, u),
				FormatValue(p.Low, u), FormatValue(p.High, u), probability(p.ShareRose), probability(p.ShareFell), p.Unit)
		}
	})
}

// WriteParts writes the parts that are followed, as parts.csv has them.
func WriteParts(w io.Writer, parts []record.Part) error {
	return table(w, "plant,part,kind,name,from,until,note", func(add func(...string)) {
		for _, p := range parts {
			add(strconv.Itoa(p.Plant), text(p.Part), p.Kind, text(p.Name), p.From, p.Until, text(p.Note))
		}
	})
}

// WriteCounts writes what was counted, as counts.csv has it.
func WriteCounts(w io.Writer, counts []record.Count) error {
	return table(w, "date,plant,what,count,note", func(add func(...string)) {
		for _, c := range counts {
			add(c.Date, strconv.Itoa(c.Plant), text(c.What), strconv.Itoa(c.Count), text(c.Note))
		}
	})
}
