package report

import (
	"phototrack/internal/change"
	"phototrack/internal/digest"
)

// Take fills a report, which has its plants and photos, with an analysis: sessions, changes, the digest, trends, effects,
// watch rules, gaps and noise, and the period where none is given.
func (d *Data) Take(a change.Analysis) {
	if d.From == "" && d.To == "" {
		d.From, d.To = a.From, a.To
	}
	d.Sessions, d.Changes, d.Trends = a.Sessions, a.Changes, a.Trends
	d.Effects, d.Pooled, d.Watch, d.Missing = a.Effects, a.Pooled, a.Watch, a.Missing
	d.Season = a.Season
	m := digest.Make(digest.Input{Analysis: a, Plants: d.Plants, Photos: d.Photos, Parts: d.Parts})
	d.Digest = &m
	d.Noise = nil
	for _, n := range a.Noise {
		d.Noise = append(d.Noise, NoiseRow{Quantity: n.Quantity, Factor: n.Factor, DF: n.DF, Plants: n.Plants})
	}
}
