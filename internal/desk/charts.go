package desk

import (
	"phototrack/internal/change"
	"phototrack/internal/record"
	"phototrack/internal/report"
)

// chartData is what the charts of a plant rest on: what belongs to it and to the plants of its group.
func chartData(s *snapshot, an *change.Analysis, p record.Plant) *report.Data {
	d := &report.Data{To: an.To, Plants: []record.Plant{p}}
	of := map[int]bool{p.Number: true}
	for _, q := range s.c.Plants {
		if p.Group != "" && q.Group == p.Group && q.Number != p.Number {
			of[q.Number] = true
			d.Plants = append(d.Plants, q)
		}
	}
	for _, e := range s.c.Events {
		if e.Plant == p.Number {
			d.Events = append(d.Events, e)
		}
	}
	for i := range s.photos {
		if s.photos[i].Plant == p.Number {
			d.Photos = append(d.Photos, s.photos[i])
		}
	}
	for _, ses := range an.Sessions {
		if of[ses.Plant] {
			d.Sessions = append(d.Sessions, ses)
		}
	}
	for _, t := range an.Trends {
		if t.Plant == p.Number {
			d.Trends = append(d.Trends, t)
		}
	}
	for _, c := range an.Changes {
		if c.Plant == p.Number {
			d.Changes = append(d.Changes, c)
		}
	}
	return d
}
