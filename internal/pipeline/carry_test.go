package pipeline

import (
	"crypto/sha256"
	"encoding/csv"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/collection"
	"phototrack/internal/geom"
	"phototrack/internal/photo"
	"phototrack/internal/record"
	"phototrack/internal/scenemaker"
)

// monthScene is the same plant of the same grower in another month: card, plant, camera and light set up anew.
func monthScene(seed uint64, month int, m scenemaker.Month) *scenemaker.Scene {
	r := rand.New(rand.NewPCG(seed, 1))
	p := scenemaker.PartsPlant(r, 52, m)
	h := scenemaker.NewHabit(rand.New(rand.NewPCG(seed, 8)))
	h.Print = scenemaker.Print{Across: 1, Down: 1}
	s := scenemaker.SetUp(rand.New(rand.NewPCG(seed, 100+uint64(month))), p, h, time.Date(2026, time.Month(3+month), 5, 10, 0, 0, 0, time.UTC))
	return scenemaker.Shoot(rand.New(rand.NewPCG(seed, 200+uint64(month))), s)
}

// tableOf lays a rendered scene open.
func tableOf(t testing.TB, sc *scenemaker.Scene) *LineTable {
	m := calibrated(t, sc)
	m.p.View = record.Leaf
	return &LineTable{m, m.partInput(), m.partSettings()}
}

// lineOn is a line as a hand draws it on a part of a scene.
func lineOn(sc *scenemaker.Scene, leaf int, name string, across bool, w, h int) collection.Line {
	l := collection.Line{Part: name, Drawn: collection.DrawnByHand, Zoom: 1.5, Measure: []string{collection.MeasureLength}}
	var px []geom.PX
	if across {
		l.Measure = []string{collection.MeasureWidth}
		a, _ := sc.On(leaf, 0.5, -1)
		b, _ := sc.On(leaf, 0.5, 1)
		px = []geom.PX{a, b}
	} else {
		px = along(rand.New(rand.NewPCG(1, 1)), sc, leaf, 5, 1)
	}
	for _, p := range px {
		l.Points = append(l.Points, [2]float64{(p.X + 0.5) / float64(w), (p.Y + 0.5) / float64(h)})
	}
	return l
}

// A month later the spike has grown and the organ is fuller: the proposals must be right, or not be made.
func TestLinesAreCarriedToTheNextMonth(t *testing.T) {
	right, held, wrong := 0, 0, 0
	seeds := uint64(2)
	if s := os.Getenv("PARTS_SEEDS"); s != "" {
		fmt.Sscan(s, &seeds)
	}
	for seed := range seeds {
		m := scenemaker.Month{Spike: 80 + 10*float64(seed%5), SpikeBend: 0.3, Bulb: 19, LeafBend: 0.3}
		before := monthScene(seed, 0, m)
		m.Spike, m.Bulb = m.Spike+8*float64(seed%4), m.Bulb+1.2
		now := monthScene(seed, 1, m)
		a, b := tableOf(t, before), tableOf(t, now)
		w, h := before.WidthPx, before.HeightPx
		for _, k := range []struct {
			leaf   int
			name   string
			across bool
			truth  float64
		}{
			{scenemaker.PartSpike, "spike 1", false, m.Spike}, {scenemaker.PartBulb, "bulb 2", true, m.Bulb}, {scenemaker.PartLeaf, "leaf 1", false, before.Leaves[scenemaker.PartLeaf].LengthMM},
		} {
			p := b.Carry(a, []collection.Line{lineOn(before, k.leaf, k.name, k.across, w, h)})[0]
			if !p.Sure {
				held++
				t.Logf("seed %d %s: not proposed: %s", seed, k.name, p.Why)
				continue
			}
			v := p.Is.Quantities[0].Value
			// The ends or the whole line must lie on the part: judged by where it is, not by its length alone.
			off := offPart(now, k.leaf, p.Is.Curve, w, h)
			off = math.Max(off, math.Abs(v-k.truth)-0.035*k.truth)
			if off > 3 {
				wrong++
				t.Logf("seed %d %s: WRONG, %.1f of %.1f mm, off by %.1f mm, grown %.1f", seed, k.name, v, k.truth, off, p.Grown)
			} else {
				right++
			}
		}
	}
	t.Logf("%d proposed and right, %d held back, %d wrong and unmarked", right, held, wrong)
	assert.Zero(t, wrong)
	assert.Greater(t, right, held)
}

// offPart is the largest distance of a path from the part that it should lie on, mm about.
func offPart(sc *scenemaker.Scene, leaf int, curve [][2]float64, w, h int) float64 {
	var mid []geom.PX
	for i := range 101 {
		for _, s := range []float64{-1, 0, 1} {
			p, _ := sc.On(leaf, float64(i)/100, s)
			mid = append(mid, p)
		}
	}
	worst := 0.0
	for _, c := range curve {
		x, y := c[0]*float64(w)-0.5, c[1]*float64(h)-0.5
		best := math.Inf(1)
		for _, p := range mid {
			best = math.Min(best, math.Hypot(p.X-x, p.Y-y))
		}
		worst = math.Max(worst, best)
	}
	return (worst) / 3.2 // about 3.2 px a mm
}

// Over the sample series, whose lines were drawn month by month and whose sizes are known: each month's lines are carried to the
// next month's photo. What is proposed must read the true size within its interval, or nearly; nothing may be proposed wrong.
func TestSampleLinesAreCarried(t *testing.T) {
	const samples = "../../samples/parts/"
	dir := t.TempDir()
	_, err := collection.Init(dir)
	require.NoError(t, err)
	marks, err := filepath.Glob(samples + "marks/*.json")
	require.NoError(t, err)
	for _, m := range marks {
		data, err := os.ReadFile(m)
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(filepath.Join(dir, "marks", filepath.Base(m)), data, 0o644))
	}
	c, err := collection.Open(dir)
	require.NoError(t, err)
	truth := map[string]float64{}
	f, err := os.Open(samples + "truth.csv")
	require.NoError(t, err)
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	rows, err := r.ReadAll()
	require.NoError(t, err)
	for _, row := range rows[1:] {
		v, err := strconv.ParseFloat(row[5], 64)
		require.NoError(t, err)
		truth[row[0]+row[3]+row[4]] = v
	}
	right, held, wrong := 0, 0, 0
	worst := 0.0
	for _, plant := range []string{"052", "053"} {
		var before *LineTable
		var lines []collection.Line
		for month := 3; month <= 7; month++ {
			name := fmt.Sprintf("%s_2026-%02d_L.jpg", plant, month)
			data, err := os.ReadFile(samples + "photos/" + name)
			require.NoError(t, err)
			frame, err := photo.Read(data, photo.Limits{})
			require.NoError(t, err)
			sha := fmt.Sprintf("%x", sha256.Sum256(data))
			m := &measuring{job: Job{Name: name}, p: &record.Photo{Name: name, View: record.Leaf, WidthPx: frame.WidthPx, HeightPx: frame.HeightPx, SHA256: sha}, settings: collection.DefaultSettings(), frame: frame}
			require.True(t, m.calibrate(), name)
			now := &LineTable{m, m.partInput(), m.partSettings()}
			if before != nil {
				for _, p := range now.Carry(before, lines) {
					if !p.Sure {
						held++
						t.Logf("%s %s: not proposed: %s", name, p.Line.Part, p.Why)
						continue
					}
					bad := false
					for _, q := range p.Is.Quantities {
						want, ok := truth[name+p.Line.Part+string(q.Name)]
						require.True(t, ok, name+p.Line.Part+string(q.Name))
						off := math.Abs(q.Value-want) / q.U95
						worst = math.Max(worst, off)
						if off > 1.5 {
							bad = true
							t.Logf("%s %s: %s %.1f ± %.1f, in truth %.1f", name, p.Line.Part, q.Name, q.Value, q.U95, want)
						}
					}
					if bad {
						wrong++
					} else {
						right++
					}
				}
			}
			before, lines = now, nil
			for _, l := range collection.Lines(c.MarksFor(sha)) {
				lines = append(lines, *l.Line)
			}
		}
	}
	t.Logf("%d proposed and right, %d held back, %d wrong and unmarked; worst %.2f times its interval", right, held, wrong, worst)
	assert.Zero(t, wrong)
	assert.Greater(t, right, 4*held)
}
