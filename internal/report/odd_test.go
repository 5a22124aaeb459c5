package report

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"phototrack/internal/change"
	"phototrack/internal/record"
)

// oddCollections are those that a page is easily made without thinking of.
func oddCollections(t *testing.T) map[string]Data {
	bench := func(change func(*Data)) Data {
		d := benchData(t, "2026-07")
		change(&d)
		return d
	}
	long := "Paphiopedilum rothschildianum var. elliottianum × Phragmipedium ‘Grande’ of the late Mr Llanfairpwllgwyngyllgogerychwyrndrobwllllantysiliogogogoch"
	first := Data{Collection: "Window sill", From: "2026-03-01", To: "2026-03-31", Plants: []record.Plant{{Number: 7}}, FDR: 0.1,
		Photos: []record.Photo{{Name: "IMG_1.jpg", SHA256: "x", Plant: 7, View: record.Leaf, Status: record.Accepted, Taken: record.Stamp{Time: time.Date(2026, 3, 7, 10, 0, 0, 0, time.UTC), Source: "exif"},
			Quantities: []record.Quantity{{Name: record.LeafArea, Unit: "mm2", Value: 21371, U95: 412, Terms: []record.Term{{Name: "scale", U: 210}}}}}}}
	first.Take(change.Analyze(change.Input{Photos: first.Photos, Plants: first.Plants, From: first.From, To: first.To, Settings: change.DefaultSettings()}))
	return map[string]Data{
		"one-photo": first,
		"nobody":    {Collection: "Empty", From: "2026-03-01", To: "2026-03-31", Plants: []record.Plant{{Number: 1, Name: "Fern"}}},
		"no-names": bench(func(d *Data) {
			for i := range d.Plants {
				d.Plants[i].Name = ""
			}
			d.Digest = nil
		}),
		"long-names": bench(func(d *Data) {
			d.Collection, d.Digest = long, nil
			for i := range d.Plants {
				d.Plants[i].Name, d.Plants[i].Group, d.Plants[i].Note = fmt.Sprintf("%s %d", long, i), strings.Repeat("W", 90), long
			}
			for i := range d.Events {
				d.Events[i].Note = strings.Repeat("fresh_mix_", 40)
			}
			for i := range d.Missing {
				d.Missing[i].Photo = strings.Repeat("IMG", 60) + ".jpg"
			}
		}),
	}
}

// TestOddCollectionsInTheBrowser: no width scrolls sideways, nothing is said of nobody, and no sentence is left hanging.
func TestOddCollectionsInTheBrowser(t *testing.T) {
	b := openBrowser(t)
	for name, d := range oddCollections(t) {
		t.Run(name, func(t *testing.T) {
			path := write(t, name, d)
			for _, w := range []int64{320, 390, 1280} {
				b.open(t, path, w, 844, false)
				eval[int](t, b, unfold+"0")
				b.NoSideways(t, fmt.Sprintf("%s at %d px", name, w))
				b.Shoot(t, fmt.Sprintf("%s-%d", name, w), true)
			}
			text := eval[string](t, b, `document.body.innerText`)
			for _, wrong := range []string{"NaN", "Inf", "  ,", " .", "()", "undefined", "<no value>", "0 plant ", "1 plants"} {
				assert.NotContains(t, text, wrong)
			}
		})
	}
	b.Quiet(t)
}
