package change

import (
	"cmp"
	"io"
	"maps"
	"slices"
	"strconv"
	"strings"

	"phototrack/internal/record"
)

// monthColumn is a pair of columns of months.csv: a quantity in the unit that growers use, and its interval.
type monthColumn struct {
	title    string
	quantity record.QuantityName
	scale    float64 // stored value times scale is the printed one
}

// monthColumns are the quantities of months.csv.
var monthColumns = []monthColumn{
	{"leaf area cm2", record.LeafArea, 0.01},
	{"green %", record.GreenShare, 100},
	{"yellow %", record.YellowShare, 100},
	{"purple %", record.PurpleShare, 100},
	{"brown %", record.BrownShare, 100},
	{"visible roots mm", record.RootLength, 1},
	{"longest root mm", record.RootLongest, 1},
	{"root tips", record.RootTips, 1},
}

// partColumns are the quantities of a part's row.
var partColumns = []monthColumn{
	{"length mm", record.PartLength, 1},
	{"width mm", record.PartWidth, 1},
	{"bend degrees", record.PartBend, 1},
	{"angle degrees", record.PartAngle, 1},
}

// MonthsHeader is the head of months.csv: each quantity is followed by its +-, which holds the true value in 19 of 20
// cases.
func MonthsHeader() []string {
	out := []string{"month", "plant", "name", "group", "last photo"}
	for _, c := range monthColumns {
		out = append(out, c.title, c.title+" +-")
	}
	out = append(out, "photos", "done to it", "part")
	for _, c := range partColumns {
		out = append(out, c.title, c.title+" +-")
	}
	return append(out, "count")
}

// monthRow is a row of months.csv: a plant's month, or that of one of its parts.
type monthRow struct {
	month, part string
	plant       int
}

// monthCells are the last values of a row's month.
type monthCells struct {
	last   map[record.QuantityName]*record.Session
	photos map[string]int
	day    string
}

func (c *monthCells) take(s *record.Session) {
	if old := c.last[s.Quantity]; old == nil || s.Date >= old.Date {
		c.last[s.Quantity] = s
	}
	c.photos[string(s.View)+s.Date] = max(c.photos[string(s.View)+s.Date], s.Photos)
	c.day = max(c.day, s.Date)
}

// photographed is the number of photos, empty for a part of which there is none.
func (c *monthCells) photographed(k monthRow) string {
	n := 0
	for _, v := range c.photos {
		n += v
	}
	if n == 0 && k.part != "" {
		return ""
	}
	return strconv.Itoa(n)
}

// counted is the last number that was counted, empty where none was.
func (c *monthCells) counted() string {
	s := c.last[record.CountOf]
	if s == nil {
		return ""
	}
	return strconv.Itoa(int(s.Value))
}

// doneTo are the events of a plant in the row's month; they stand with the plant, not with its parts.
func doneTo(k monthRow, events []record.Event) string {
	var done []string
	for _, e := range events {
		if e.Plant == k.plant && k.part == "" && strings.HasPrefix(e.Date, k.month) {
			done = append(done, strings.TrimSpace(e.Date+" "+e.Kind+" "+e.Note))
		}
	}
	return strings.Join(done, "; ")
}

func (c *monthCells) value(k monthColumn) []string {
	s := c.last[k.quantity]
	if s == nil {
		return []string{"", ""}
	}
	return []string{FormatValue(s.Value*k.scale, s.U95*k.scale), FormatU95(s.U95 * k.scale)}
}

// WriteMonths writes months.csv, for spreadsheets: one row a plant and month, and one for each of its parts and of what was
// counted on it, named in the column part, with the values of the month's last day that has some.
func WriteMonths(w io.Writer, sessions []record.Session, plants []record.Plant, events []record.Event) error {
	rows := map[monthRow]*monthCells{}
	for i := range sessions {
		s := &sessions[i]
		if len(s.Date) < 7 {
			continue
		}
		k := monthRow{s.Date[:7], s.Part, s.Plant}
		if rows[k] == nil {
			rows[k] = &monthCells{last: map[record.QuantityName]*record.Session{}, photos: map[string]int{}}
		}
		rows[k].take(s)
	}
	by := map[int]record.Plant{}
	for _, p := range plants {
		by[p.Number] = p
	}
	keys := slices.SortedFunc(maps.Keys(rows), func(a, b monthRow) int {
		return cmp.Or(a.plant-b.plant, strings.Compare(a.month, b.month), strings.Compare(a.part, b.part))
	})
	return table(w, strings.Join(MonthsHeader(), ","), func(add func(...string)) {
		for _, k := range keys {
			r, p := rows[k], by[k.plant]
			cells := []string{k.month, strconv.Itoa(k.plant), text(p.Name), text(p.Group), r.day}
			for _, c := range monthColumns {
				cells = append(cells, r.value(c)...)
			}
			cells = append(cells, r.photographed(k), text(doneTo(k, events)), text(k.part))
			for _, c := range partColumns {
				cells = append(cells, r.value(c)...)
			}
			add(append(cells, r.counted())...)
		}
	})
}
