package report

import (
	"phototrack/internal/change"
	"phototrack/internal/record"
)

// Take fills a report with an analysis: sessions, changes, what the first screen lists, trends, effects, watch rules,
// gaps and noise, and the period where none is given.
func (d *Data) Take(a change.Analysis) {
	if d.From == "" && d.To == "" {
		d.From, d.To = a.From, a.To
	}
	d.Sessions, d.Changes, d.Trends = a.Sessions, a.Changes, a.Trends
	d.Effects, d.Pooled, d.Watch, d.Missing = a.Effects, a.Pooled, a.Watch, a.Missing
	d.FirstScreen, d.Season = a.FirstScreen, a.Season
	if d.FirstScreen == nil {
		d.FirstScreen = []record.Change{} // chosen, and nothing survived
	}
	d.Noise = nil
	for _, n := range a.Noise {
		d.Noise = append(d.Noise, NoiseRow{Quantity: n.Quantity, Factor: n.Factor, DF: n.DF, Plants: n.Plants})
	}
}
