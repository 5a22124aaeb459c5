package change

import (
	"bytes"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/gate"
	"phototrack/internal/record"
	"phototrack/internal/uncert"
)

func leaf(plant int, date string, area float64) record.Photo {
	return photoOf(plant, record.Leaf, day(date), map[record.QuantityName]float64{record.LeafArea: area})
}

func analyse(photos []record.Photo, change func(*Input)) Analysis {
	in := Input{Photos: photos, Settings: DefaultSettings()}
	seen := map[int]bool{}
	for _, p := range photos {
		if !seen[p.Plant] && p.Plant != 0 {
			seen[p.Plant] = true
			in.Plants = append(in.Plants, record.Plant{Number: p.Plant, Group: "bench"})
		}
	}
	if change != nil {
		change(&in)
	}
	return Analyze(in)
}

func find(t *testing.T, a Analysis, basis, to string) record.Change {
	t.Helper()
	for _, c := range a.Changes {
		if c.Basis == basis && c.ToDate == to {
			return c
		}
	}
	require.Fail(t, "no such change", "%s %s", basis, to)
	return record.Change{}
}

func TestFourComparisons(t *testing.T) {
	var photos []record.Photo
	for _, d := range []string{"2024-07-03", "2025-05-05", "2025-06-06", "2025-06-28", "2025-07-05"} {
		photos = append(photos, leaf(1, d, 10000))
	}
	a := analyse(photos, func(in *Input) {
		in.From, in.To = "2025-07-01", "2025-07-31"
		in.Events = []record.Event{{Date: "2025-06-06", Plant: 1, Kind: "repot"}, {Date: "2025-07-05", Plant: 1, Kind: "feed"}, {Date: "2025-08-01", Plant: 1, Kind: "cut"}}
		in.Settings.Baseline = "2025-05-01"
	})
	assert.Equal(t, "2025-06-28", find(t, a, record.BasisLast, "2025-07-05").FromDate)
	assert.Equal(t, "2024-07-03", find(t, a, record.BasisYear, "2025-07-05").FromDate)
	assert.Equal(t, "2025-05-05", find(t, a, record.BasisBaseline, "2025-07-05").FromDate, "the first session on or after the baseline's date")
	e := find(t, a, record.BasisEvent, "2025-07-05")
	assert.Equal(t, "2025-06-06", e.FromDate, "a photo of the event's own day is before it")
	assert.Equal(t, "2025-06-06 repot", e.Event)
	require.Len(t, a.Changes, 4, "an event on the later photo's own day, and one after it, are no comparison")
	assert.Contains(t, a.Season, "not separated")
}

func TestCommonTermsWidenTheValueAndNotTheChange(t *testing.T) {
	run := func(print float64) Analysis {
		photos := []record.Photo{leaf(1, "2025-06-01", 10000), leaf(1, "2025-07-01", 10500)}
		for i := range photos {
			q := &photos[i].Quantities[0]
			*q = uncert.Quantity(q.Name, q.Unit, q.Value, append(q.Terms, uncert.Common(uncert.Normal("print", print)))...)
		}
		return analyse(photos, nil)
	}
	exact, rough := run(0), run(800)
	assert.Greater(t, rough.Sessions[0].U95, exact.Sessions[0].U95+500)
	assert.InDelta(t, find(t, exact, record.BasisLast, "2025-07-01").U95, find(t, rough, record.BasisLast, "2025-07-01").U95, 1e-9)
}

func TestTooFewPhotosWhereOneSideHasNone(t *testing.T) {
	bad := leaf(1, "2025-07-01", 0)
	bad.Status, bad.Quantities, bad.Reasons = record.Rejected, nil, []record.Reason{{Code: gate.Blurred}}
	left := leaf(1, "2025-08-01", 12000)
	left.Status, left.Reasons = record.Flagged, []record.Reason{{Code: gate.Excluded}}
	flagged := leaf(1, "2025-09-01", 12000)
	flagged.Status, flagged.Reasons = record.Flagged, []record.Reason{{Code: gate.Tilted}}
	a := analyse([]record.Photo{leaf(1, "2025-06-01", 10000), bad, left, flagged}, func(in *Input) {
		in.Events = []record.Event{{Date: "2025-05-01", Plant: 1, Kind: "repot"}}
	})
	require.Len(t, a.Sessions, 2, "flagged photos count, rejected and excluded ones do not")
	first := find(t, a, record.BasisLast, "2025-06-01")
	assert.Equal(t, record.TooFew, first.Verdict)
	for _, d := range []string{"2025-07-01", "2025-08-01"} {
		c := find(t, a, record.BasisLast, d)
		assert.Equal(t, record.TooFew, c.Verdict, d)
		assert.True(t, math.IsNaN(c.ToValue) && math.IsNaN(c.Q))
		assert.Equal(t, "2025-06-01", c.FromDate)
	}
	assert.Equal(t, record.TooFew, find(t, a, record.BasisEvent, "2025-09-01").Verdict, "no photo before the event")
	last := find(t, a, record.BasisLast, "2025-09-01")
	assert.Equal(t, record.Rose, last.Verdict)
	assert.Equal(t, "2025-06-01", last.FromDate, "the last session that counts")
}

func TestHueGoesRoundTheCircle(t *testing.T) {
	hue := func(date string, h float64) record.Photo {
		return photoOf(1, record.Leaf, day(date), map[record.QuantityName]float64{record.LeafHue: h})
	}
	a := analyse([]record.Photo{hue("2025-05-01", 350), hue("2025-06-01", 356), hue("2025-07-01", 4), hue("2025-07-01", 6)}, nil)
	c := find(t, a, record.BasisLast, "2025-07-01")
	assert.InDelta(t, 9, c.Change, 1e-9)
	assert.InDelta(t, 5, c.ToValue, 1e-9, "mean of replicates either side of nothing")
	assert.Greater(t, a.Trends[0].SlopePerMonth, 5.0)
	b := analyse([]record.Photo{hue("2025-06-01", 359), hue("2025-07-01", 358), hue("2025-07-01", 2)}, nil)
	assert.InDelta(t, 0, find(t, b, record.BasisLast, "2025-07-01").ToValue, 1e-9)
	assert.InDelta(t, 1, find(t, b, record.BasisLast, "2025-07-01").Change, 1e-9)
}

func TestAnotherFaceOfThePotIsNoReplicate(t *testing.T) {
	root := func(date, face string, length float64) record.Photo {
		p := photoOf(1, record.Root, day(date), map[record.QuantityName]float64{record.RootLength: length})
		p.Extra = map[string]string{"face": face}
		p.Name += face
		return p
	}
	a := analyse([]record.Photo{root("2025-05-01", "A", 400), root("2025-06-01", "A", 410), root("2025-06-01", "B", 800), root("2025-07-01", "B", 700)}, nil)
	require.Len(t, a.Sessions, 3)
	assert.InDelta(t, 410, a.Sessions[1].Value, 1e-9, "the series' own face")
	same, other := find(t, a, record.BasisLast, "2025-06-01"), find(t, a, record.BasisLast, "2025-07-01")
	assert.Greater(t, other.U95, 1.96*0.25*700, "sampling another side is in it")
	assert.Less(t, same.U95, 150.0)
	assert.Equal(t, record.NoChange, other.Verdict)
}

func TestPhasesAndRoutine(t *testing.T) {
	var photos []record.Photo
	for m := range 12 {
		photos = append(photos, leaf(1, day("2025-01-05").AddDate(0, m, 0).Format(time.DateOnly), 10000+100*float64(m)))
	}
	a := analyse(photos, func(in *Input) {
		in.Events = []record.Event{{Date: "2025-04-20", Plant: 1, Kind: "repot"}, {Date: "2025-04-25", Plant: 1, Kind: "medium"}, {Date: "2025-08-05", Plant: 1, Kind: "move"}}
		for w := range 40 {
			in.Events = append(in.Events, record.Event{Date: day("2025-01-10").AddDate(0, 0, 8*w).Format(time.DateOnly), Plant: 1, Kind: "water"})
		}
	})
	var got []string
	for _, x := range a.Trends {
		got = append(got, x.Phase)
	}
	assert.Equal(t, []string{"all", "before 2025-04-20 repot, 2025-04-25 medium",
		"between 2025-04-20 repot, 2025-04-25 medium and 2025-08-05 move", "after 2025-08-05 move"}, got, "watering parts nothing")
	assert.Equal(t, 4, a.Trends[1].Sessions)
	assert.True(t, math.IsNaN(a.Trends[1].SlopeLow), "no interval under five sessions")
	assert.InDelta(t, 1.0/12, a.Trends[1].MKp, 1e-9, "2/4!")
	assert.InDelta(t, 4, a.Trends[2].Sessions, 0, "the photo of the move's own day is before it")
}

func TestWatchRules(t *testing.T) {
	rule := record.WatchRule{Line: 2, Quantity: record.LeafArea, Of: "value", Condition: ">=", Limit: 10000, Message: "big"}
	values := []float64{9000, 9950, 10900, 10850, 9000, 11000}
	var photos []record.Photo
	for m, v := range values {
		photos = append(photos, leaf(1, day("2025-01-05").AddDate(0, m, 0).Format(time.DateOnly), v))
	}
	run := func(months int, answers ...Answer) []record.WatchHit {
		return analyse(photos[:months], func(in *Input) { in.Rules, in.Answers = []record.WatchRule{rule}, answers }).Watch
	}
	assert.Empty(t, run(1))
	near := run(2)
	require.Len(t, near, 1)
	assert.Equal(t, "near", near[0].State)
	fired := run(3)
	require.Len(t, fired, 1)
	assert.Equal(t, "fired", fired[0].State)
	assert.Equal(t, "2025-03-05", fired[0].Since)
	stays := run(5)
	require.Len(t, stays, 1)
	assert.Equal(t, "fired", stays[0].State, "it stays until it is answered, also when the value is back")
	assert.Equal(t, "2025-03-05", stays[0].Since)
	assert.Equal(t, "2025-05-05", stays[0].Eased)
	assert.Contains(t, stays[0].Evidence, "on 5 April 2025; not so any more on 5 May 2025: 90")
	assert.Empty(t, fired[0].Eased)
	answer := Answer{Plant: 1, Rule: rule.Key(), Time: "2025-03-20T09:00:00Z", Note: "cut back"}
	answered := run(4, answer)
	require.Len(t, answered, 1)
	assert.True(t, answered[0].Answered)
	assert.Equal(t, "cut back", answered[0].AnswerNote)
	assert.Empty(t, run(5, answer), "answered and at rest")
	again := run(6, answer)
	require.Len(t, again, 1)
	assert.False(t, again[0].Answered, "an old answer is none to a new firing")
	assert.Equal(t, "2025-06-05", again[0].Since)

	up := analyse(photos[:4], func(in *Input) {
		in.Rules = []record.WatchRule{{Line: 2, Quantity: record.LeafArea, Of: "change", Condition: ">=", Detectable: true},
			{Line: 3, Quantity: record.LeafArea, Of: "change", Condition: "<=", Limit: -5000}, {Line: 4, Quantity: record.LeafArea, Of: "value", Condition: "<=", Limit: 20000, Plants: []int{7}}}
	}).Watch
	require.Len(t, up, 1)
	assert.Equal(t, "2025-02-05", up[0].Since)
}

// A photo whose date cannot be right is no session of any day, and waits by its name until the date is put right.
func TestADateInDoubtCountsNowhere(t *testing.T) {
	late := leaf(1, "2062-07-11", 20000)
	late.Name, late.Status, late.Reasons = "late.jpg", record.Flagged, []record.Reason{{Code: gate.DateFuture}}
	early := leaf(1, "1980-01-01", 5000)
	early.Name, early.Status, early.Reasons = "early.jpg", record.Flagged, []record.Reason{{Code: gate.DateEarly}}
	sound := []record.Photo{leaf(1, "2025-06-01", 10000), leaf(1, "2025-07-01", 10500)}
	period := func(in *Input) { in.From, in.To = "2025-07-01", "2025-07-31" }
	want, got := analyse(sound, period), analyse(append([]record.Photo{late, early}, sound...), period)
	assert.Equal(t, want.Sessions, got.Sessions)
	assert.Equal(t, want.Changes, got.Changes)
	var named []string
	for _, m := range got.Missing {
		if m.Kind == MissingCare {
			named = append(named, m.Photo)
		}
	}
	assert.Equal(t, []string{"early.jpg", "late.jpg"}, named)
}

func TestMissing(t *testing.T) {
	bad := leaf(2, "2025-07-03", 0)
	bad.Name, bad.Status, bad.Quantities, bad.Reasons = "bad.jpg", record.Rejected, nil, []record.Reason{{Code: gate.Blurred}}
	lost := record.Photo{Name: "lost.jpg", Status: record.Rejected, Reasons: []record.Reason{{Code: gate.NoTag}}, Taken: record.Stamp{Time: day("2025-07-03"), Source: "exif"}, View: record.Leaf}
	root := photoOf(1, record.Root, day("2025-06-02"), map[record.QuantityName]float64{record.RootLength: 300})
	photos := []record.Photo{leaf(1, "2025-06-02", 10000), root, leaf(1, "2025-07-02", 10000), leaf(2, "2025-06-02", 9000), bad, leaf(4, "2025-05-02", 9000), lost}
	a := analyse(photos, func(in *Input) {
		in.From, in.To = "2025-07-01", "2025-07-31"
		in.Plants = append(in.Plants, record.Plant{Number: 3, Name: "never seen"})
		for i := range in.Plants {
			if in.Plants[i].Number == 4 {
				in.Plants[i].Until = "2025-06-15"
			}
		}
	})
	var got []string
	for _, m := range a.Missing {
		got = append(got, strings.TrimSpace(strings.Join([]string{string(rune('0' + m.Plant)), string(m.View), m.Kind, m.Photo, m.LastDay}, "|")))
	}
	assert.ElementsMatch(t, []string{
		"1|leaf|one photo only|001_2025-07-02T10_leaf.jpg|2025-07-02",
		"1|root|no photo||2025-06-02",
		"2|leaf|no photo||2025-06-02",
		"2|leaf|rejected|bad.jpg|2025-06-02",
		"3||no photo||",
		"0|leaf|rejected|lost.jpg|",
	}, got, "number 4 left the collection before")
}

// The same photos in another order give the same analysis.
func TestOrderOfPhotosDoesNotMatter(t *testing.T) {
	in := benchInput(t)
	want := Analyze(in)
	rng := rand.New(rand.NewPCG(1, 1))
	rng.Shuffle(len(in.Photos), func(i, j int) { in.Photos[i], in.Photos[j] = in.Photos[j], in.Photos[i] })
	got := Analyze(in)
	var a, b bytes.Buffer
	for _, w := range []struct {
		buf *bytes.Buffer
		a   Analysis
	}{{&a, want}, {&b, got}} {
		require.NoError(t, WriteSessions(w.buf, w.a.Sessions))
		require.NoError(t, WriteChanges(w.buf, w.a.Changes))
		require.NoError(t, WriteTrends(w.buf, w.a.Trends))
		require.NoError(t, WriteEffects(w.buf, w.a.Effects))
		require.NoError(t, WritePooled(w.buf, w.a.Pooled))
	}
	assert.Equal(t, a.String(), b.String())
	assert.Equal(t, want.Watch, got.Watch)
}

func TestReadyChangesJoinIn(t *testing.T) {
	a := analyse([]record.Photo{leaf(1, "2025-06-01", 10000), leaf(1, "2025-07-01", 10010)}, func(in *Input) {
		in.Extra = []record.Change{{Plant: 1, View: record.Root, Quantity: record.RootNew, FromDate: "2025-06-01", ToDate: "2025-07-01", Change: 90, U95: 12, Unit: "mm"},
			{Plant: 1, View: record.Root, Quantity: record.RootNew, FromDate: "2025-05-01", ToDate: "2025-06-01", Change: 10, U95: 12, Unit: "mm"}}
		in.From = "2025-07-01"
		in.Rules = []record.WatchRule{{Line: 2, Quantity: record.RootNew, Of: "value", Condition: ">=", Limit: 75}}
	})
	c := a.Changes[len(a.Changes)-1]
	assert.Equal(t, record.Rose, c.Verdict)
	assert.Equal(t, record.BasisLast, c.Basis)
	assert.Less(t, c.Q, 0.01)
	require.NotEmpty(t, a.FirstScreen)
	assert.Equal(t, record.RootNew, a.FirstScreen[0].Quantity)
	require.Len(t, a.Watch, 1)
	assert.Equal(t, "fired", a.Watch[0].State)
}

func TestEffectSaysWhatElseHappened(t *testing.T) {
	var photos []record.Photo
	for p := 1; p <= 5; p++ {
		for m := range 7 {
			v := 10000 * (1 + 0.02*float64(m)) * (1 + 0.0005*float64(p*m%3))
			if p == 1 && m > 3 {
				v *= 1.2
			}
			x := leaf(p, day("2025-01-05").AddDate(0, m, 0).Format(time.DateOnly), v)
			x.Camera = "Phone A"
			if m > 4 {
				x.Camera = "Phone B"
			}
			photos = append(photos, x)
		}
	}
	a := analyse(photos, func(in *Input) {
		in.Events = []record.Event{{Date: "2025-04-20", Plant: 1, Kind: "repot"}, {Date: "2025-05-20", Plant: 1, Kind: "feed"}, {Date: "2025-03-01", Plant: 5, Kind: "repot"}}
		in.NewCards = []string{"2025-06-01"}
	})
	require.NotEmpty(t, a.Effects)
	e := a.Effects[0]
	assert.Equal(t, []int{2, 3, 4}, e.ComparisonPlants, "number 5 was repotted within three months before")
	assert.Equal(t, "2025-05-20 feed; 2025-06-05 another camera; 2025-06-01 a new card", e.OtherEvents)
	assert.InDelta(t, 0.25, e.P, 1e-12)
	assert.InDelta(t, 0.25, e.PSmallest, 1e-12)
	assert.Greater(t, e.Low, 1500.0)
	assert.Contains(t, e.Sure, "p cannot be smaller than 0.25")
	assert.Contains(t, e.Sentence, "association")
}

func TestPlantsTreatedTogetherReachSmallerP(t *testing.T) {
	var photos []record.Photo
	for p := 1; p <= 8; p++ {
		for m := range 6 {
			v := 10000 * (1 + 0.02*float64(m)) * (1 + 0.0005*float64(p*m%5))
			if p <= 4 && m > 2 {
				v *= 1.1
			}
			photos = append(photos, leaf(p, day("2025-01-05").AddDate(0, m, 0).Format(time.DateOnly), v))
		}
	}
	a := analyse(photos, func(in *Input) {
		for p := 1; p <= 4; p++ {
			in.Events = append(in.Events, record.Event{Date: "2025-03-2" + string(rune('0'+p)), Plant: p, Kind: "medium"})
		}
	})
	require.Len(t, a.Effects, 4)
	for _, e := range a.Effects {
		assert.Equal(t, 4, e.Together)
		assert.InDelta(t, 1.0/5, e.PSmallest, 1e-12)
		assert.InDelta(t, 2.0/70, e.PTogether, 1e-12, "2 of C(8,4) arrangements are as far apart")
		assert.InDelta(t, 2.0/70, e.PTogetherMin, 1e-12)
		assert.Contains(t, e.Sure, "The 4 plants that had it then")
	}
}

func TestSecondPhotoOfASession(t *testing.T) {
	var photos []record.Photo
	for m := range 6 {
		d := day("2025-01-05").AddDate(0, m, 0).Format(time.DateOnly)
		photos = append(photos, leaf(1, d, 10000), leaf(1, d, 10100))
	}
	photos = append(photos, leaf(1, "2025-07-05", 10050))
	a := analyse(photos, func(in *Input) { in.From = "2025-07-01" })
	assert.InDelta(t, 100/math.Sqrt2/10050, a.Noise[0].Repeatability, 1e-4)
	require.NotEmpty(t, a.Missing)
	assert.Contains(t, a.Missing[0].Note, "with two")
}

func TestEmptyInput(t *testing.T) {
	a := Analyze(Input{})
	assert.Empty(t, a.Sessions)
	assert.Empty(t, a.Changes)
	_, _, err := Month("2025-13")
	assert.Error(t, err)
}

// What was left out by hand on one photo only is no fall of the plant: it is said, not reported.
func TestAreasDrawnOnOneSideOnlyAreNoChange(t *testing.T) {
	a, b, c := leaf(12, "2026-03-07", 30000), leaf(12, "2026-04-11", 20000), leaf(12, "2026-05-09", 20100)
	b.Extra, c.Extra = map[string]string{record.ExtraAreas: "leave_out"}, map[string]string{record.ExtraAreas: "leave_out"}
	an := analyse([]record.Photo{a, b, c}, nil)
	k := find(t, an, record.BasisLast, "2026-04-11")
	assert.Equal(t, record.TooFew, k.Verdict)
	assert.Contains(t, k.Sentence, "cannot be compared: areas were drawn by hand on the photo of 11 April 2026")
	assert.Equal(t, record.NoChange, find(t, an, record.BasisLast, "2026-05-09").Verdict, "both have them")
	for _, s := range an.FirstScreen {
		assert.NotEqual(t, record.Fell, s.Verdict, s.Sentence)
	}
}

// Nor is it a slope or an effect: sessions with other areas than most are left out of both, and an effect says so.
func TestAreasDrawnOnSomePhotosOnlyMakeNoSlopeAndNoEffect(t *testing.T) {
	var photos []record.Photo
	for m := range 8 {
		p := leaf(12, day("2025-01-05").AddDate(0, m, 0).Format(time.DateOnly), 30000+10*float64(m%2))
		if m == 4 || m == 6 { // a third was cut away by hand
			p.Extra = map[string]string{record.ExtraAreas: "leave_out"}
			for i := range p.Quantities {
				p.Quantities[i].Value *= 0.67
			}
		}
		photos = append(photos, p)
	}
	an := analyse(photos, func(in *Input) {
		in.Events = []record.Event{{Plant: 12, Date: "2025-04-10", Kind: "repot"}}
		in.From, in.To = "2025-05-01", "2025-08-31"
	})
	trends := 0
	for _, tr := range an.Trends {
		if tr.Quantity == record.LeafArea && tr.Phase == "after 2025-04-10 repot" {
			assert.Equal(t, 2, tr.Sessions)
			assert.Less(t, math.Abs(tr.SlopePerMonth), 20.0)
			trends++
		}
	}
	assert.Equal(t, 1, trends)
	effects := 0
	for _, e := range an.Effects {
		if e.Quantity == record.LeafArea {
			assert.Contains(t, e.OtherEvents, "2025-05-05 other areas drawn by hand: left out; 2025-07-05")
			effects++
		}
	}
	assert.Equal(t, 1, effects)
}
