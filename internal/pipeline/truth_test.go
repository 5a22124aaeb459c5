package pipeline_test

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/collection"
	"phototrack/internal/pipeline"
	"phototrack/internal/record"
	"phototrack/internal/reftest"
	"phototrack/internal/uncert"
)

// truth is what truth.json says of a photo (../shared/scenes, rendered, exact).
type truth struct {
	File   string
	Expect string
	Tag    int
	Leaf   *struct {
		Area   float64            `json:"visible_area_total_mm2"`
		Shares map[string]float64 `json:"visible_share"`
		Lab    *[3]float64        `json:"mean_lab_all"` // of the leaves' own colours, without light and gloss
	}
	Root *struct {
		By10 []float64 `json:"visible_length_by_azimuth_10deg_mm"`
		Tips float64   `json:"visible_tips"`
	}
	Pot struct {
		Top    float64 `json:"inner_diameter_top_mm"`
		Bottom float64 `json:"inner_diameter_bottom_mm"`
		Height float64 `json:"height_mm"`
	}
}

// sceneSet is a set's collection as its grower would keep it, and its photos' truth.
func sceneSet(t *testing.T, set string) (*collection.Collection, []truth) {
	t.Helper()
	var all struct{ Files []truth }
	reftest.JSON(t, &all, "scenes", set, "truth.json")
	dir := filepath.Join(t.TempDir(), "bench")
	_, err := collection.Init(dir)
	require.NoError(t, err)
	write := func(name string, data []byte) {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), data, 0o600))
	}
	write("cards.csv", []byte("from_date,across_mm,down_mm,colour_from,note\n2020-01-01,100.0,90.0,nominal,exact\n"))
	own := reftest.Path(t, "scenes", set)
	if plants, err := os.ReadFile(filepath.Join(own, "plants.csv")); err == nil {
		write("plants.csv", plants)
		events, err := os.ReadFile(filepath.Join(own, "events.csv"))
		require.NoError(t, err)
		write("events.csv", events)
	} else {
		var b strings.Builder
		b.WriteString("number,name,group,pot_top_mm,pot_bottom_mm,pot_height_mm,from,until,note\n")
		seen := map[int]bool{}
		for _, f := range all.Files {
			if seen[f.Tag] {
				continue
			}
			seen[f.Tag] = true
			sizes := ",,"
			if f.Pot.Top > 0 {
				sizes = fmt.Sprintf("%g,%g,%g", f.Pot.Top, f.Pot.Bottom, f.Pot.Height)
			}
			fmt.Fprintf(&b, "%d,scene %d,scenes,%s,,,\n", f.Tag, f.Tag, sizes)
		}
		write("plants.csv", []byte(b.String()))
	}
	c, err := collection.Open(dir)
	require.NoError(t, err)
	return c, all.Files
}

// errorsOf is how far the numbers of one set are from the truth.
type errorsOf struct {
	area, share, root  []float64 // relative; the worst class of a photo; relative
	held, asked        int       // intervals of area and shares
	rootHeld, tipsNear int
	labHeld, labAsked  int       // intervals of L*, a* and b*
	replicates         []float64 // areas of one plant, photographed anew
}

func (e *errorsOf) leaf(t *testing.T, p *record.Photo, f *truth) {
	area, ok := p.Find(record.LeafArea)
	require.True(t, ok, "%s has no leaf area", f.File)
	rel := area.Value/f.Leaf.Area - 1
	e.area = append(e.area, math.Abs(rel))
	e.hold(area, f.Leaf.Area)
	if strings.Contains(f.File, "replicate") {
		e.replicates = append(e.replicates, area.Value)
	}
	worst := 0.0
	for name, class := range map[record.QuantityName]string{record.GreenShare: "green", record.YellowShare: "yellow", record.PurpleShare: "purple", record.BrownShare: "brown"} {
		q, ok := p.Find(name)
		require.True(t, ok, "%s of %s", name, f.File)
		is := f.Leaf.Shares[class]
		worst = max(worst, 100*math.Abs(q.Value-is))
		if is > 0.001 || math.Abs(q.Value-is) > 0.001 { // nought against nought says nothing of an interval
			e.hold(q, is)
		}
	}
	e.share = append(e.share, worst)
	e.colours(t, p, f)
	if p.Status == record.Accepted {
		assert.Less(t, math.Abs(rel), 0.04, "%s is accepted without a flag", f.File)
	}
	t.Logf("%-32s %-9s area %+.2f %%, u95 %.1f %%; worst share %.2f points", f.File, p.Status, 100*rel, 100*area.U95/area.Value, worst)
}

// nearlyAll is the share of one class from which the median of the leaves' colours, which is measured, is near the mean, which the truth tells.
const nearlyAll = 0.9

func (e *errorsOf) colours(t *testing.T, p *record.Photo, f *truth) {
	oneColour := false
	for _, s := range f.Leaf.Shares {
		oneColour = oneColour || s > nearlyAll
	}
	if f.Leaf.Lab == nil || !oneColour {
		return
	}
	for i, name := range []record.QuantityName{record.LeafLightness, record.LeafA, record.LeafB} {
		q, ok := p.Find(name)
		require.True(t, ok, "%s of %s", name, f.File)
		e.labAsked++
		if math.Abs(q.Value-f.Leaf.Lab[i]) <= q.U95 {
			e.labHeld++
		}
	}
}

func (e *errorsOf) hold(q record.Quantity, is float64) {
	e.asked++
	if math.Abs(q.Value-is) <= q.U95 {
		e.held++
	}
}

func (e *errorsOf) roots(t *testing.T, p *record.Photo, f *truth) {
	q, ok := p.Find(record.RootLength)
	require.True(t, ok, "%s has no root length", f.File)
	var is float64
	for _, l := range f.Root.By10[:6] { // what is counted: within 60 degrees of the camera's direction
		is += l
	}
	if is == 0 {
		assert.Less(t, q.Value, 10.0, "%s shows no root", f.File)
		return
	}
	rel := q.Value/is - 1
	e.root = append(e.root, math.Abs(rel))
	if math.Abs(q.Value-is) <= q.U95 {
		e.rootHeld++
	}
	if tips, ok := p.Find(record.RootTips); ok && math.Abs(tips.Value-f.Root.Tips) <= 2 {
		e.tipsNear++
	}
	if p.Status == record.Accepted {
		assert.Less(t, math.Abs(rel), 0.12, "%s is accepted without a flag", f.File)
	}
	t.Logf("%-32s %-9s roots %+.2f %%, u95 %.1f %%", f.File, p.Status, 100*rel, 100*q.U95/q.Value)
}

// The whole way of a photo, from the file's bytes to the numbers that a report shows, held against the truth of rendered scenes.
func TestScenesThroughTheProgram(t *testing.T) {
	if reftest.RaceDetector {
		t.Skip("one photo after another: nothing to race")
	}
	var m pipeline.Measurer
	defer m.Close()
	all := &errorsOf{}
	for _, c := range []struct {
		set                          string
		areaMedian, areaWorst, share float64 // relative, points
		rootMedian, rootWorst        float64
	}{
		{"single", 0.008, 0.01, 0.5, 0.025, 0.05},
		{"series", 0.0105, 0.02, 1.5, 0.025, 0.04},
		{"hard", 0.015, 0.05, 4, 0.05, 0.08},
		{"wild-leaves", 0.012, 0.035, 6, 0, 0},
		{"wild-roots", 0, 0, 0, 0.03, 0.05},
	} {
		bench, files := sceneSet(t, c.set)
		e := &errorsOf{}
		for i := range files {
			f := &files[i]
			data, err := os.ReadFile(reftest.Path(t, "scenes", c.set, f.File))
			require.NoError(t, err)
			p := m.Measure(data, pipeline.Job{Name: f.File}, bench)
			switch {
			case strings.HasPrefix(f.Expect, "refuse"):
				assert.NotEqual(t, record.Accepted, p.Status, "%s: %s", f.File, f.Expect)
			case p.View == record.Leaf && f.Leaf != nil:
				e.leaf(t, &p, f)
			case p.View == record.Root && f.Root != nil:
				e.roots(t, &p, f)
			default:
				t.Errorf("%s has the view %q", f.File, p.View)
			}
			if !strings.HasPrefix(f.Expect, "refuse") {
				assert.Equal(t, f.Tag, p.Plant, f.File)
			}
		}
		if len(e.area) > 0 {
			t.Logf("%s: area median %.2f %%, worst %.2f %%; worst share %.2f points", c.set, 100*uncert.Median(e.area), 100*slices.Max(e.area), slices.Max(e.share))
			assert.LessOrEqual(t, uncert.Median(e.area), c.areaMedian, c.set)
			assert.LessOrEqual(t, slices.Max(e.area), c.areaWorst, c.set)
			assert.LessOrEqual(t, slices.Max(e.share), c.share, c.set)
			if len(e.replicates) > 0 {
				assert.Less(t, slices.Max(e.replicates)/slices.Min(e.replicates)-1, 0.01, "replicates of one plant")
			}
		}
		if len(e.root) > 0 {
			t.Logf("%s: root length median %.2f %%, worst %.2f %%", c.set, 100*uncert.Median(e.root), 100*slices.Max(e.root))
			assert.LessOrEqual(t, uncert.Median(e.root), c.rootMedian, c.set)
			assert.LessOrEqual(t, slices.Max(e.root), c.rootWorst, c.set)
		}
		all.add(e)
	}
	t.Logf("intervals hold %d of %d for area and shares, %d of %d for root length; tips within two in %d", all.held, all.asked, all.rootHeld, len(all.root), all.tipsNear)
	assert.GreaterOrEqual(t, float64(all.held), 0.92*float64(all.asked))
	t.Logf("of L*, a* and b* of leaves of one colour %d of %d", all.labHeld, all.labAsked)
	assert.GreaterOrEqual(t, float64(all.labHeld), 0.92*float64(all.labAsked))
	assert.Greater(t, all.labAsked, 60)
	assert.GreaterOrEqual(t, float64(all.rootHeld), 0.9*float64(len(all.root)))
	assert.GreaterOrEqual(t, float64(all.tipsNear), 0.8*float64(len(all.root)))
	assert.Greater(t, len(all.area), 40)
	assert.Greater(t, len(all.root), 10)
}

func (e *errorsOf) add(o *errorsOf) {
	e.area, e.root = append(e.area, o.area...), append(e.root, o.root...)
	e.held, e.asked, e.rootHeld, e.tipsNear = e.held+o.held, e.asked+o.asked, e.rootHeld+o.rootHeld, e.tipsNear+o.tipsNear
	e.labHeld, e.labAsked = e.labHeld+o.labHeld, e.labAsked+o.labAsked
}
