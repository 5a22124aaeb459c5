package pipeline

import (
	"fmt"
	"time"

	"phototrack/internal/collection"
	"phototrack/internal/gate"
	"phototrack/internal/record"
)

// firstCameras is the first day that is believed. A clock that was never set says 1970 or 1980.
var firstCameras = fmt.Sprintf("%d-01-01", gate.FirstYear)

// Today is the calendar day of the computer's clock, for Job.Today.
func Today() string { return time.Now().Format(time.DateOnly) }

// dateDoubt says which gate a photo's date does not pass on a day (YYYY-MM-DD), "" where it may be right: it lies in the
// future, with a day's grace for time zones, or before there were digital cameras, or before the collection's first plant.
// A past date that a person gave is believed.
func dateDoubt(c *collection.Collection, p *record.Photo, today string) (code record.GateCode, detail string) {
	day := p.Taken.Day()
	if day == "" || today == "" {
		return "", ""
	}
	if now, err := time.Parse(time.DateOnly, today); err == nil && day > now.AddDate(0, 0, 1).Format(time.DateOnly) {
		return gate.DateFuture, said(p, today)
	}
	if p.Taken.Source == "given" {
		return "", ""
	}
	if day < firstCameras {
		return gate.DateEarly, said(p, today)
	}
	if c == nil {
		return "", ""
	}
	if own, ok := c.Plant(p.Plant); !ok || own.From == "" {
		return "", ""
	}
	first := ""
	for _, plant := range c.Plants {
		if plant.From != "" && (first == "" || plant.From < first) {
			first = plant.From
		}
	}
	if day < first {
		return gate.DateEarly, fmt.Sprintf("%s; the first plant of plants.csv is from %s", said(p, today), first)
	}
	return "", ""
}

// said is the date as the photo has it, and the likely right one: that of the file's name, else the same day of the year
// the last time that it was.
func said(p *record.Photo, today string) string {
	day := p.Taken.Day()
	likely := ""
	if s, ok := collection.DateFromName(p.Name); ok && s.Day() != day && s.Day() <= today && s.Day() >= firstCameras {
		likely = s.Day()
	} else if len(day) == len(time.DateOnly) {
		for year := today[:4]; likely == "" && year > "1994"; year = before(year) {
			if d := year + day[4:]; d <= today {
				likely = d
			}
		}
	}
	if likely == "" {
		return day
	}
	return fmt.Sprintf("%s; likely %s", day, likely)
}

func before(year string) string {
	t, err := time.Parse("2006", year)
	if err != nil {
		return ""
	}
	return t.AddDate(-1, 0, 0).Format("2006")
}

// Redate says whether what is held against a stored photo's date is not what would be held against it today: the day may
// have come, or plants.csv have changed.
func Redate(c *collection.Collection, p *record.Photo) bool {
	code, _ := dateDoubt(c, p, Today())
	return p.HasReason(gate.DateFuture) != (code == gate.DateFuture) || p.HasReason(gate.DateEarly) != (code == gate.DateEarly)
}
