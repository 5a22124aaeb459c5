package digest

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/change"
	"phototrack/internal/gate"
	"phototrack/internal/record"
)

func moved(plant int, basis, from string, delta, u float64) record.Change {
	c := record.Change{Plant: plant, Name: map[int]string{12: "Clivia A", 44: "Clivia B"}[plant], View: record.Leaf, Quantity: record.LeafArea, Unit: "mm2", FromDate: from, ToDate: "2026-07-11",
		FromValue: 20000, ToValue: 20000 + delta, Change: delta, U95: u, SmallestDetectable: u, Verdict: record.NoChange, Basis: basis, Q: 0.004}
	if delta > u {
		c.Verdict = record.Rose
	}
	return c
}

// TestTheSurerSpanLeads: a small change of this month neither hides nor outranks what has built up since the start. The
// numbers are of the kind that two siblings gave of which one was repotted.
func TestTheSurerSpanLeads(t *testing.T) {
	repot := moved(12, record.BasisEvent, "2026-04-11", 6900, 820)
	repot.Event = "2026-04-18 repot"
	all := []record.Change{moved(44, record.BasisLast, "2026-06-13", 800, 850), moved(44, record.BasisBaseline, "2026-03-07", 3200, 780),
		moved(12, record.BasisLast, "2026-06-13", 2500, 880), repot, moved(12, record.BasisBaseline, "2026-03-07", 7700, 790)}
	an := change.Analysis{From: "2026-07-01", To: "2026-07-31", Changes: all,
		FirstScreen: []record.Change{all[1], all[2]}} // of number 12 the latest news was chosen
	d := Make(Input{Analysis: an})
	require.Len(t, d.Plants, 2)
	first := d.Plants[0]
	assert.Equal(t, 12, first.Number, "9.7 times its interval stands above 4.1 times")
	l := first.Lead()
	assert.Equal(t, record.BasisBaseline, l.Surer().Basis)
	assert.True(t, l.LongIsSurer())
	assert.Equal(t, Cell{Mark: "↑", Class: "went-up", Text: "+38 ± 4\u202f%", Aside: "+77 ± 8\u202fcm²", Since: "since the start, 7\u00a0Mar\u00a02026"}, l.LongCell())
	assert.Equal(t, "+12 ± 4\u202f%", l.LastCell().Text, "both spans stand side by side")
	assert.Equal(t, Cell{Mark: "=", Class: "same", Text: "no change", Aside: "would show from 8\u202fcm²", Since: "since 13\u00a0Jun\u00a02026"}, d.Plants[1].Lead().LastCell())
	assert.Equal(t, 1, d.Lately, "number 44 did not change since the photos before")
	assert.Equal(t, "Clivia A (12): leaf area +38 ± 4\u202f% since the start, 7\u00a0Mar\u00a02026; +12 ± 4\u202f% since 13\u00a0Jun\u00a02026.", first.Sentence(l))
	assert.Contains(t, l.HowSure(), "9.7 times as large as its uncertainty")
	assert.Contains(t, l.HowSure(), "less than 1 in 100")

	var b bytes.Buffer
	require.NoError(t, d.WriteCSV(&b))
	rows, err := csv.NewReader(&b).ReadAll()
	require.NoError(t, err)
	assert.Equal(t, []string{"1", "12", "Clivia A", "leaf", "leaf_area", "", "mm2", "2026-06-13", "2500", "880", "rose", "baseline", "2026-03-07", "7700", "790", "rose", "9.7"}, rows[1])
}

func TestTwoSessionsHaveOneSpan(t *testing.T) {
	last, long := moved(12, record.BasisLast, "2026-06-13", 2500, 880), moved(12, record.BasisBaseline, "2026-06-13", 2500, 880)
	d := Make(Input{Analysis: change.Analysis{Changes: []record.Change{last, long}, FirstScreen: []record.Change{last}}})
	assert.Nil(t, d.Plants[0].Lead().Long, "the one before is the first")
}

func TestWordsOfCells(t *testing.T) {
	nan := math.NaN()
	for _, c := range []struct {
		quantity record.QuantityName
		unit     string
		delta    float64
		verdict  record.Verdict
		want     Cell
	}{
		{record.YellowShare, "1", -0.27, record.Fell, Cell{Mark: "↓", Class: "went-down", Text: "−27 ± 3\u202fpoints"}},
		{record.YellowShare, "1", 0.01, record.NoChange, Cell{Mark: "=", Class: "same", Text: "no change", Aside: "would show from 3\u202fpoints"}},
		{record.RootNew, "mm", 200, record.Rose, Cell{Mark: "↑", Class: "went-up", Text: "200.00 ± 0.03\u202fmm"}},
		{record.RootGone, "mm", 200, record.Rose, Cell{Mark: "≠", Class: "moved", Text: "200.00 ± 0.03\u202fmm"}},
		{record.LeafHue, "deg", nan, record.TooFew, Cell{Mark: "○", Class: "few", Text: "too few photos"}},
	} {
		got := CellOf(&record.Change{Quantity: c.quantity, Unit: c.unit, FromValue: 0.5, Change: c.delta, U95: 0.03, SmallestDetectable: 0.03, Verdict: c.verdict, FromDate: "2026-03-07", Basis: record.BasisLast})
		c.want.Since = "since 7\u00a0Mar\u00a02026"
		assert.Equal(t, c.want, got, c.quantity)
	}
	assert.Equal(t, Cell{}, CellOf(nil))
}

// TestGapsBySortOfWork: what a new photo mends, what a list mends, and what needs nothing.
func TestGapsBySortOfWork(t *testing.T) {
	at := time.Date(2026, 7, 11, 10, 0, 0, 0, time.UTC)
	photo := func(name string, plant int, codes ...record.GateCode) record.Photo {
		p := record.Photo{Name: name, SHA256: "sha of " + name, Plant: plant, View: record.Leaf, Status: record.Accepted, Taken: record.Stamp{Time: at, Source: "exif"},
			Quantities: []record.Quantity{{Name: record.LeafArea, Unit: "mm2", Value: 20000, U95: 500, Terms: []record.Term{{Name: "scale", U: 250}}}}}
		for _, c := range codes {
			p.Status = record.Rejected
			p.Reasons = append(p.Reasons, record.Reason{Code: c})
		}
		return p
	}
	soft := photo("soft.jpg", 2)
	soft.Status, soft.Reasons = record.Flagged, []record.Reason{{Code: gate.Soft}}
	photos := []record.Photo{photo("good.jpg", 1), photo("blurred.jpg", 1, gate.Blurred), soft, photo("only.jpg", 3, gate.Blurred), photo("untagged.jpg", 0, gate.NoTag), photo("nocard.jpg", 0, gate.NoCard)}
	photos[5].View = ""
	plants := []record.Plant{{Number: 1, Name: "Good"}, {Number: 2, Name: "Soft"}, {Number: 3, Name: "Blurred"}, {Number: 4, Name: "Absent"}}
	an := change.Analyze(change.Input{Photos: photos, Plants: plants, From: "2026-07-01", To: "2026-07-31", Settings: change.DefaultSettings()})
	d := Make(Input{Analysis: an, Plants: plants, Photos: photos})
	names := func(list []Gap) (out []string) {
		for _, g := range list {
			out = append(out, strings.TrimSpace(g.Name+" "+g.PhotoNames()))
		}
		return out
	}
	assert.ElementsMatch(t, []string{"Blurred only.jpg", "nocard.jpg", "Absent"}, names(d.Again))
	assert.Equal(t, []string{"untagged.jpg"}, names(d.Lists), "its number can be said on the desk")
	assert.ElementsMatch(t, []string{"Good blurred.jpg", "Soft soft.jpg"}, names(d.Aside), "another photo of the same plant does, or it is used all the same")
	assert.Equal(t, "sha of only.jpg", d.Again[0].Photos[0].SHA256)
	assert.Equal(t, []int{2, 2}, []int{d.Measured, d.Photos})
}

// A photo without its card has no view; it is told with its plant all the same, and the plant is not asked for twice.
func TestARefusedPhotoWithoutViewIsToldWithItsPlant(t *testing.T) {
	why := []record.Reason{{Code: gate.NoCard}}
	missing := []record.Missing{{Plant: 45, View: record.Leaf, Kind: change.MissingPhoto, LastDay: "2026-06-13"}, {Plant: 45, Kind: change.MissingGood, Photo: "cut.jpg", Reasons: why},
		{Plant: 31, View: record.Leaf, Kind: change.MissingPhoto}, {Plant: 31, View: record.Root, Kind: change.MissingPhoto}, {Plant: 31, Kind: change.MissingGood, Photo: "cut too.jpg", Reasons: why},
		{Plant: 12, Kind: change.MissingGood, Photo: "one too many.jpg", Reasons: why}}
	d := Make(Input{Analysis: change.Analysis{Missing: missing}, Plants: []record.Plant{{Number: 12}, {Number: 31}, {Number: 45}}})
	var told []string
	for _, g := range d.Again {
		told = append(told, strings.TrimSpace(fmt.Sprint(g.Plant, " ", g.View, " ", g.PhotoNames())))
	}
	assert.ElementsMatch(t, []string{"45  cut.jpg", "31  cut too.jpg", "31 leaf", "31 root"}, told, "which of the two views of 31 was meant nobody knows")
	require.Len(t, d.Aside, 1)
	assert.Equal(t, 12, d.Aside[0].Plant)
}

func TestLooksFirstReachedThenNear(t *testing.T) {
	hit := func(plant int, state string, answered bool) record.WatchHit {
		return record.WatchHit{Plant: plant, Name: "Fern", State: state, Answered: answered, Since: "2026-05-09", Rule: record.WatchRule{Quantity: record.YellowShare, Message: "a tenth is yellow", Line: 3},
			Evidence: "Fern (7): yellow share 20 ± 1 % on 11 July 2026"}
	}
	d := Make(Input{Analysis: change.Analysis{Watch: []record.WatchHit{hit(7, "near", false), hit(7, "fired", false), hit(7, "fired", true)}}})
	require.Len(t, d.Looks, 2)
	assert.False(t, d.Looks[0].Near)
	assert.Equal(t, "Yellow share 20 ± 1 % on 11 July 2026.", d.Looks[0].Evidence)
	assert.Equal(t, "A tenth is yellow.", d.Looks[0].Message)
	assert.Empty(t, d.Looks[1].Since)
	assert.Equal(t, []int{1, 1}, []int{d.Answered, d.Fired()})
}

func TestLooksAreGatheredByPlant(t *testing.T) {
	hit := func(plant int, state, eased string) record.WatchHit {
		return record.WatchHit{Plant: plant, State: state, Eased: eased, Since: "2026-05-09", Rule: record.WatchRule{Quantity: record.YellowShare, Message: "m", Line: 3}}
	}
	d := Make(Input{Analysis: change.Analysis{Watch: []record.WatchHit{hit(9, "near", ""), hit(7, "fired", "2026-06-09"), hit(8, "fired", ""), hit(7, "fired", "")}}})
	assert.Equal(t, 2, d.Fired(), "plants, not rules")
	by := d.LooksByPlant()
	require.Len(t, by, 3)
	assert.Equal(t, []int{8, 7, 9}, []int{by[0].Plant, by[1].Plant, by[2].Plant})
	assert.Equal(t, []bool{false, true}, []bool{by[1].Looks[0].Eased, by[1].Looks[1].Eased}, "what is so now comes before what was")
	assert.Equal(t, []bool{false, false, true}, []bool{by[0].Near, by[1].Near, by[2].Near})
}

func TestPartsAreToldInMillimetres(t *testing.T) {
	c := record.Change{Quantity: record.PartLength, Part: "spike 1", Unit: "mm", FromValue: 40, ToValue: 139, Change: 99, U95: 3, Verdict: record.Rose}
	assert.Equal(t, []string{"+99 ± 3\u202fmm", "+248 ± 8\u202f%"}, []string{CellOf(&c).Text, CellOf(&c).Aside})
}

func TestLinesThatWaitAreThoseOfEarlierPhotos(t *testing.T) {
	photo := func(day, name string, parts ...string) record.Photo {
		at, err := time.Parse(time.DateOnly, day)
		require.NoError(t, err)
		p := record.Photo{Name: name, SHA256: "sha of " + name, Plant: 53, View: record.Leaf, Status: record.Accepted, Taken: record.Stamp{Time: at, Source: "exif"}}
		for _, part := range parts {
			p.Quantities = append(p.Quantities, record.Quantity{Name: record.PartLength, Part: part, Value: 40, Unit: "mm", U95: 2})
		}
		return p
	}
	plants := []record.Plant{{Number: 53, Name: "Cattleya B"}}
	followed := []record.Part{{Plant: 53, Part: "Spike 1", Kind: "spike"}, {Plant: 53, Part: "spike 2", Kind: "spike"}, {Plant: 53, Part: "bulb 1", Kind: "bulb", Until: "2026-06-13"}, {Plant: 53, Part: "leaf 1", Kind: "leaf"}}
	photos := []record.Photo{photo("2026-06-13", "a.jpg", "spike 1", "spike 2", "bulb 1"), photo("2026-07-11", "b.jpg", "spike 2"), photo("2026-07-11", "c.jpg")}
	run := func(month string) Digest {
		from, to, err := change.Month(month)
		require.NoError(t, err)
		return Make(Input{Analysis: change.Analysis{From: from, To: to}, Plants: plants, Photos: photos, Parts: followed})
	}
	d := run("2026-07")
	require.Len(t, d.Waits, 1)
	assert.Equal(t, LinesWait{Plant: 53, Name: "Cattleya B", View: record.Leaf, Day: "2026-07-11", SHA256: "sha of b.jpg", PhotoName: "b.jpg", Parts: []string{"Spike 1"}}, d.Waits[0],
		"spike 2 has its line, bulb 1 is gone, leaf 1 never had one")
	assert.Equal(t, 1, d.LinesCount())
	assert.Empty(t, run("2026-06").Waits)
}
