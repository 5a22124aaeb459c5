package digest

import (
	"encoding/csv"
	"io"
	"math"
	"strconv"

	"phototrack/internal/change"
	"phototrack/internal/record"
)

// columns of digest.csv: a row for each quantity of each plant that changed, in the order of the report's first screen.
var columns = []string{"rank", "plant", "name", "view", "quantity", "part", "unit",
	"last_from_date", "last_change", "last_u95", "last_verdict",
	"long_basis", "long_from_date", "long_change", "long_u95", "long_verdict", "times_u95"}

// WriteCSV writes digest.csv.
func (d *Digest) WriteCSV(w io.Writer) error {
	out := csv.NewWriter(w)
	if err := out.Write(columns); err != nil {
		return err
	}
	for i := range d.Plants {
		p := &d.Plants[i]
		for j := range p.Lines {
			l := &p.Lines[j]
			row := []string{strconv.Itoa(i + 1), strconv.Itoa(p.Number), change.Text(p.Name), string(l.View), string(l.Quantity), change.Text(l.Part), l.Unit}
			row = append(row, span(l.Last)...)
			basis := ""
			if l.Long != nil {
				basis = l.Long.Basis
				if l.Long.Event != "" {
					basis = change.Text(l.Long.Event)
				}
			}
			row = append(append(row, basis), span(l.Long)...)
			if err := out.Write(append(row, strconv.FormatFloat(math.Round(10*l.Times())/10, 'f', -1, 64))); err != nil {
				return err
			}
		}
	}
	out.Flush()
	return out.Error()
}

func span(c *record.Change) []string {
	if c == nil {
		return []string{"", "", "", ""}
	}
	return []string{c.FromDate, change.FormatValue(c.Change, c.U95), change.FormatU95(c.U95), string(c.Verdict)}
}
