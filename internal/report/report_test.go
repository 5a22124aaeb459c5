package report

import (
	"bytes"
	"encoding/base64"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"runtime"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/gate"
	"phototrack/internal/record"
	"phototrack/internal/reftest"
)

func render(t testing.TB, d Data) string {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, Write(&b, d))
	return b.String()
}

// plantPageOf is the page of one plant.
func plantPageOf(t testing.TB, d Data, plant int) string {
	t.Helper()
	dir := t.TempDir()
	names, err := WriteFiles(dir, d)
	require.NoError(t, err)
	require.Contains(t, names, plantFile(plant))
	page, err := os.ReadFile(filepath.Join(dir, filepath.FromSlash(plantFile(plant))))
	require.NoError(t, err)
	return string(page)
}

// part cuts a section of the page out, by its id.
func part(t testing.TB, page, id string) string {
	t.Helper()
	i := strings.Index(page, `id="`+id+`"`)
	require.Positive(t, i, id)
	j := strings.Index(page[i:], "</section>")
	require.Positive(t, j)
	return page[i : i+j]
}

func TestFirstScreenListsWhatSurvivesRankedByNoise(t *testing.T) {
	change := func(plant int, q record.QuantityName, delta, u, fdr float64, v record.Verdict) record.Change {
		return record.Change{Plant: plant, View: record.Leaf, Quantity: q, Unit: "mm2", FromDate: "2026-06-07", ToDate: "2026-07-07", FromValue: 20000, ToValue: 20000 + delta,
			Change: delta, U95: u, Verdict: v, Basis: record.BasisLast, Q: fdr}
	}
	d := Data{From: "2026-07-01", To: "2026-07-31", Plants: []record.Plant{{Number: 1, Name: "Weak"}, {Number: 2, Name: "Strong"}, {Number: 3, Name: "Chance"}, {Number: 4, Name: "Steady"}},
		Changes: []record.Change{
			change(1, record.LeafArea, 900, 600, 0.04, record.Rose),
			change(2, record.LeafArea, -1800, 300, 0.001, record.Fell),
			change(3, record.LeafArea, 700, 600, 0.30, record.Rose),
			change(4, record.LeafArea, 100, 600, 0.9, record.NoChange),
		}}
	s := part(t, render(t, d), "changed")
	strong, weak := strings.Index(s, "Strong"), strings.Index(s, "Weak")
	require.Positive(t, strong)
	assert.Greater(t, weak, strong, "six times its interval stands above one and a half times")
	assert.NotContains(t, s, "Chance", "q of 0.30 does not survive a rate of 10 %")
	assert.NotContains(t, s, "Steady")
	assert.Contains(t, s, "−9.0 ± 1.5")
}

func TestTrendsThatSayNothingAreLeftOut(t *testing.T) {
	nan := math.NaN()
	tr := func(sessions int, slope, low, high float64) record.Trend {
		return record.Trend{Quantity: record.YellowShare, Unit: "1", Phase: "after 2026-04-18 repot", Sessions: sessions, SlopePerMonth: slope, SlopeLow: low, SlopeHigh: high, MKp: nan, RelGrowthPerMonth: nan}
	}
	for _, c := range []struct {
		name string
		t    record.Trend
		kept bool
	}{
		{"two sessions are a difference", tr(2, 0.05, nan, nan), false},
		{"too small to tell, no interval", tr(3, 0.002, nan, nan), false},
		{"large enough, no interval", tr(3, 0.02, nan, nan), true},
		{"nothing at all, with an interval", tr(5, 0, -0.0002, 0.0003), false},
		{"an interval about zero that is not nothing", tr(5, 0.001, -0.004, 0.006), true},
		{"no slope", tr(5, nan, nan, nan), false},
	} {
		row, ok := trendRowOf(c.t, 0.012)
		assert.Equal(t, c.kept, ok, c.name)
		if ok {
			assert.Equal(t, "after the repot of 18\u00a0Apr\u00a02026", row.Phase)
		}
	}
}

func TestFirstMonthSaysSo(t *testing.T) {
	d := Data{From: "2026-03-01", To: "2026-03-31", Plants: []record.Plant{{Number: 7, Name: "Hoya"}},
		Sessions: []record.Session{{Plant: 7, View: record.Leaf, Date: "2026-03-07", Quantity: record.LeafArea, Unit: "mm2", Value: 21371, U95: 412, Photos: 1}},
		Missing:  []record.Missing{{Plant: 7, View: record.Leaf, Kind: "one photo only", LastDay: "2026-03-07"}}, Next: []string{"Next round about 7 April."}}
	page := render(t, d)
	assert.Contains(t, part(t, page, "changed"), "first round")
	pictured := gardenData(t, 3, 1)
	changed := part(t, render(t, pictured), "changed")
	assert.Contains(t, changed, "first round")
	assert.Equal(t, 3, strings.Count(changed, "<img "), "each plant's picture")
	assert.Contains(t, part(t, page, "plants"), "214 ± 4")
	assert.Contains(t, part(t, page, "again"), "There is only one photo of")
	assert.Contains(t, page, "Next round about 7 April.")
	assert.Contains(t, page, "March 2026")
	assert.Contains(t, part(t, page, "plants"), "first photos")
}

func TestSameFaultIsToldOnce(t *testing.T) {
	d := Data{From: "2026-03-01", To: "2026-03-31", Plants: []record.Plant{{Number: 7, Name: "Hoya"}},
		Missing: []record.Missing{{Plant: 7, Name: "Hoya", Kind: "no photo"}}}
	for i := range 7 {
		d.Missing = append(d.Missing, record.Missing{Kind: "rejected", Photo: "IMG_" + strconv.Itoa(i) + ".jpg", Reasons: []record.Reason{{Code: gate.NoCard}}})
	}
	d.Missing = append(d.Missing, record.Missing{Kind: "rejected", Photo: "IMG_9.jpg", Reasons: []record.Reason{{Code: gate.Blurred, Detail: "1.4 mm"}}})
	s := part(t, render(t, d), "again")
	assert.Equal(t, 1, strings.Count(s, "No scale card was found"))
	assert.Contains(t, s, "IMG_3.jpg and 3 more")
	assert.Contains(t, s, "IMG_9.jpg")
}

func TestEverythingFromOutsideIsEscaped(t *testing.T) {
	bad := `<script>alert(1)</script>"'&`
	d := Data{Collection: bad, Title: bad, From: "2026-03-01", To: "2026-03-31", Plants: []record.Plant{{Number: 7, Name: bad, Group: bad, Note: bad}},
		Events:   []record.Event{{Date: "2026-03-02", Plant: 7, Kind: bad, Note: bad}},
		Sessions: []record.Session{{Plant: 7, View: record.Leaf, Date: "2026-03-07", Quantity: record.LeafArea, Unit: "mm2", Value: 21371, U95: 412, Photos: 1, Names: []string{bad}}},
		Photos:   []record.Photo{{Name: bad, Plant: 7, View: record.Leaf, Status: record.Rejected, Reasons: []record.Reason{{Code: record.GateCode(bad), Detail: bad}}, Taken: record.Stamp{Time: time.Date(2026, 3, 7, 0, 0, 0, 0, time.UTC), Source: "exif"}, Notes: []string{bad}}},
		Missing:  []record.Missing{{Plant: 7, View: record.Leaf, Kind: "rejected", Photo: bad, Reasons: []record.Reason{{Code: gate.Blurred, Detail: bad}}}},
		Watch:    []record.WatchHit{{Rule: record.WatchRule{Quantity: record.LeafArea, Message: bad}, Plant: 7, State: "fired", Evidence: bad}},
		Faults:   []string{bad}, Next: []string{bad}, Links: []Link{{Text: bad, Href: "javascript:alert(1)"}}, ColourMode: bad,
		PhotoLink: func(record.Photo) string { return `javascript:alert(1)` }}
	for _, page := range []string{render(t, d), plantPageOf(t, d, 7)} {
		assert.Equal(t, 1, strings.Count(page, "<script>"), "the page's own script and no other")
		assert.NotContains(t, page, `href="javascript:`)
	}
	var b bytes.Buffer
	require.NoError(t, WriteRound(&b, d))
	assert.NotContains(t, b.String(), "<script>alert")
	b.Reset()
	d.Plants[0].Name = "Fern \U0001F33F of the long north bench with a name that does not end before the page does " + bad
	require.NoError(t, WriteRoundPDF(&b, d))
	assert.Equal(t, "%PDF", b.String()[:4])
}

func TestNumbersThatAreNotNumbersSpoilNothing(t *testing.T) {
	nan := math.NaN()
	d := Data{From: "2026-03-01", To: "2026-03-31", Plants: []record.Plant{{Number: 7}},
		Sessions: []record.Session{
			{Plant: 7, View: record.Leaf, Date: "2026-03-07", Quantity: record.LeafArea, Unit: "mm2", Value: nan, U95: nan},
			{Plant: 7, View: record.Leaf, Date: "2026-03-09", Quantity: record.LeafArea, Unit: "mm2", Value: 20000, U95: math.Inf(1)},
			{Plant: 7, View: record.Leaf, Date: "no day", Quantity: record.LeafHue, Unit: "deg", Value: 120, U95: 2}},
		Trends:  []record.Trend{{Plant: 7, View: record.Leaf, Quantity: record.LeafArea, Unit: "mm2", SlopePerMonth: nan, SlopeLow: nan, SlopeHigh: nan, RelGrowthPerMonth: nan, MKp: nan}},
		Effects: []record.EventEffect{{Plant: 7, View: record.Leaf, Quantity: record.LeafArea, SlopeBefore: nan, SlopeAfter: nan, LevelChange: nan, Difference: nan, P: nan, Q: nan}},
		Picture: func(string, string) []byte { return []byte("no picture") }}
	for _, page := range []string{render(t, d), plantPageOf(t, d, 7)} {
		page, _, _ = strings.Cut(page, "<script>")
		assert.NotContains(t, page, "NaN")
		assert.NotContains(t, page, "Inf")
	}
}

// TestPicturesCarryNoEXIF looks into every picture of the page: a position in EXIF must not leave the house.
func TestPicturesCarryNoEXIF(t *testing.T) {
	d := gardenData(t, 2, 2)
	inner := d.Picture
	d.Picture = func(sha, kind string) []byte { // the stored picture has an EXIF segment with a position
		b := inner(sha, kind)
		seg := append([]byte{0xff, 0xe1, 0, 24}, "Exif\x00\x00GPSLatitude=52.1"[:22]...)
		return append(append(append([]byte{}, b[:2]...), seg...), b[2:]...)
	}
	found := regexp.MustCompile(`data:image/jpeg;base64,([A-Za-z0-9+/=]+)`).FindAllStringSubmatch(render(t, d), -1)
	require.NotEmpty(t, found)
	for _, f := range found {
		b, err := base64.StdEncoding.DecodeString(f[1])
		require.NoError(t, err)
		assert.NotContains(t, string(b), "Exif")
	}
}

// cpuTime is what this process has used of the processor.
func cpuTime(t testing.TB) time.Duration {
	t.Helper()
	var u syscall.Rusage
	require.NoError(t, syscall.Getrusage(syscall.RUSAGE_SELF, &u))
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// TestFullGarden: the index of 100 plants stays under 3 MB, each plant's page under 500 kB; 70 plants over 36 months take
// no more of the processor than when they stood on one page.
func TestFullGarden(t *testing.T) {
	reftest.Slow(t)
	d := gardenData(t, 70, 36)
	before := cpuTime(t)
	index := write(t, "garden", d)
	worked := cpuTime(t) - before
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	st, err := os.Stat(index)
	require.NoError(t, err)
	largest := int64(0)
	for _, p := range d.Plants {
		st, err := os.Stat(filepath.Join(filepath.Dir(index), plantFile(p.Number)))
		require.NoError(t, err)
		largest = max(largest, st.Size())
	}
	t.Logf("70 plants: index %.2f MB, largest page %.2f MB, %.1f s of processor, %.0f MB of memory from the system", float64(st.Size())/1e6, float64(largest)/1e6, worked.Seconds(), float64(m.Sys)/1e6)
	assert.Less(t, largest, int64(500_000))
	assert.Less(t, worked, 10*time.Second, "processor time, which a busy machine does not stretch")
	assert.Less(t, m.Sys, uint64(500_000_000))
	hundred := gardenData(t, 100, 12)
	hundred.defaults()
	page := render(t, hundred)
	t.Logf("100 plants, %d of them changed: index %.2f MB", len(hundred.Digest.Plants), float64(len(page))/1e6)
	assert.Less(t, len(page), 3_000_000)
	t.Run("in the browser", func(t *testing.T) { scrollsSmoothly(t, index) })
}
