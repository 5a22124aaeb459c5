package change

import (
	"io"
	"maps"
	"slices"
	"strconv"
	"strings"

	"phototrack/internal/record"
)

// monthColumn is a pair of columns of months.csv: a quantity in the unit that growers use, and its interval.
type monthColumn struct {
	title, quantity string
	scale           float64 // stored value times scale is the printed one
}

// monthColumns are the quantities of months.csv.
var monthColumns = []monthColumn{
	{"leaf area cm2", "leaf_area", 0.01},
	{"green %", "green_share", 100},
	{"yellow %", "yellow_share", 100},
	{"purple %", "purple_share", 100},
	{"brown %", "brown_share", 100},
	{"visible roots mm", "root_length", 1},
	{"longest root mm", "root_longest", 1},
	{"root tips", "root_tips", 1},
}

// MonthsHeader is the head of months.csv: each quantity is followed by its +-, which holds the true value in 19 of 20
// cases.
func MonthsHeader() []string {
	out := []string{"month", "plant", "name", "group", "last photo"}
	for _, c := range monthColumns {
		out = append(out, c.title, c.title+" +-")
	}
	return append(out, "photos", "done to it")
}

// WriteMonths writes months.csv, for spreadsheets: one row a plant and month, with the values of the month's last day that
// has photos.
func WriteMonths(w io.Writer, sessions []record.Session, plants []record.Plant, events []record.Event) error {
	type rowKey struct {
		month string
		plant int
	}
	type row struct {
		last   map[string]*record.Session
		photos map[string]int
		day    string
	}
	rows := map[rowKey]*row{}
	for i := range sessions {
		s := &sessions[i]
		if len(s.Date) < 7 || s.Part != "" {
			continue
		}
		k := rowKey{s.Date[:7], s.Plant}
		r := rows[k]
		if r == nil {
			r = &row{last: map[string]*record.Session{}, photos: map[string]int{}}
			rows[k] = r
		}
		if old := r.last[s.Quantity]; old == nil || s.Date >= old.Date {
			r.last[s.Quantity] = s
		}
		r.photos[string(s.View)+s.Date] = max(r.photos[string(s.View)+s.Date], s.Photos)
		r.day = max(r.day, s.Date)
	}
	by := map[int]record.Plant{}
	for _, p := range plants {
		by[p.Number] = p
	}
	keys := slices.SortedFunc(maps.Keys(rows), func(a, b rowKey) int {
		if a.plant != b.plant {
			return a.plant - b.plant
		}
		return strings.Compare(a.month, b.month)
	})
	return table(w, strings.Join(MonthsHeader(), ","), func(add func(...string)) {
		for _, k := range keys {
			r, p := rows[k], by[k.plant]
			cells := []string{k.month, strconv.Itoa(k.plant), text(p.Name), text(p.Group), r.day}
			for _, c := range monthColumns {
				if s := r.last[c.quantity]; s != nil {
					cells = append(cells, FormatValue(s.Value*c.scale, s.U95*c.scale), FormatU95(s.U95*c.scale))
				} else {
					cells = append(cells, "", "")
				}
			}
			n := 0
			for _, v := range r.photos {
				n += v
			}
			var done []string
			for _, e := range events {
				if e.Plant == k.plant && strings.HasPrefix(e.Date, k.month) {
					done = append(done, strings.TrimSpace(e.Date+" "+e.Kind+" "+e.Note))
				}
			}
			add(append(cells, strconv.Itoa(n), text(strings.Join(done, "; ")))...)
		}
	})
}
