package report

import (
	"math"

	"phototrack/internal/change"
	"phototrack/internal/digest"
	"phototrack/internal/quantity"
	"phototrack/internal/record"
)

// headline is what a plant's first table may list. Lightness and indices that contain it are left to the second one: they
// move with the way light falls on tilted leaves. Of the others each says something that a grower can look at.
var headline = map[record.QuantityName]bool{record.LeafArea: true, record.GreenShare: true, record.YellowShare: true, record.PurpleShare: true,
	record.BrownShare: true, record.LeafHue: true, record.RootLength: true, record.RootLongest: true, record.RootTips: true,
	record.RootNew: true, record.RootGone: true}

// probability prints p and q values: two digits, and a bound where it is tiny.
func probability(p float64) string {
	switch {
	case math.IsNaN(p):
		return "–"
	case p < 0.001: // bounds as they are said
		return "below 0.001"
	case p < 0.1: // two digits: 0.012, 0.12
		return quantity.Number(p, 3)
	}
	return quantity.Number(p, 2)
}

func (d *Data) inPeriod(date string) bool {
	return (d.From == "" || date >= d.From) && (d.To == "" || date <= d.To)
}

// digestOf makes the digest of data that came without one: what changed is then chosen from the changes since the
// session before, by their own q.
func digestOf(d *Data) *digest.Digest {
	an := change.Analysis{From: d.From, To: d.To, Changes: d.Changes, Watch: d.Watch, Missing: d.Missing, Season: d.Season}
	for _, c := range d.Changes {
		if c.Basis == record.BasisLast && headline[c.Quantity] && digest.Moved(&c) && c.Q <= d.FDR && d.inPeriod(c.ToDate) {
			an.FirstScreen = append(an.FirstScreen, c)
		}
	}
	out := digest.Make(digest.Input{Analysis: an, Plants: d.Plants, Photos: d.Photos})
	return &out
}
