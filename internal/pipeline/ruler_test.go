package pipeline

import (
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"sort"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/card"
	"phototrack/internal/collection"
	"phototrack/internal/gate"
	"phototrack/internal/geom"
	"phototrack/internal/measure/part"
	"phototrack/internal/photo"
	"phototrack/internal/record"
	"phototrack/internal/reftest"
)

// rulerPx are the ends of the card's printed ruler in the photo by the scene's own camera, which knows nothing of ours.
func rulerPx(f *reftest.Truth) (ends [2]geom.PX) {
	h := geom.Homography(f.CardToPx())
	for i, x := range []float64{card.RulerX0MM, card.RulerX0MM + card.RulerLengthMM} {
		ends[i] = h.Px(geom.MM{X: x, Y: card.RulerYMM})
	}
	return
}

// The printed ruler must read 100 mm in every photo that has a card: that is what proves calibration and drawing. Its ends
// are taken at their exact places, and as a hand would click them, off by a pixel or so.
func TestTheRulerReadsHundredMillimetres(t *testing.T) {
	rng := rand.New(rand.NewPCG(19, 66))
	var exact, clicked []float64
	hold, n := 0, 0
	for _, set := range []string{"single", "series", "hard", "wild-leaves", "wild-roots"} {
		dir := reftest.Path(t, "scenes", set)
		var all struct{ Files []reftest.Truth }
		reftest.JSON(t, &all, "scenes", set, "truth.json")
		for _, f := range all.Files {
			data, err := os.ReadFile(filepath.Join(dir, f.File))
			require.NoError(t, err)
			frame, err := photo.Read(data, photo.Limits{})
			if err != nil {
				continue // a photo that is refused
			}
			s := collection.DefaultSettings()
			s.Measurement.UnmeasuredPrint = 0 // the scenes' cards are exact
			m := measuring{job: Job{Name: f.File}, p: &record.Photo{Name: f.File}, settings: s, frame: frame}
			if !m.calibrate() || gate.StatusOf(withoutTag(m.p.Reasons)) == record.Rejected {
				t.Logf("%s is refused: %v", f.File, m.p.Reasons)
				continue
			}
			ends := rulerPx(&f)
			in := m.partInput()
			in.Surface, err = part.NewPlane(m.cal.Camera.Plane(0))
			require.NoError(t, err)
			in.Card = nil // this line lies on the card for once
			read := func(a, b geom.PX) record.Quantity {
				r, err := part.Measure(in, part.Line{Points: []geom.PX{a, b}, NoSnap: true, Zoom: 2.5, Length: true}, part.Settings{})
				require.NoError(t, err, f.File)
				require.Len(t, r.Quantities, 1)
				return r.Quantities[0]
			}
			q := read(ends[0], ends[1])
			exact = append(exact, q.Value-100)
			if math.Abs(q.Value-100) > 0.2 {
				t.Logf("%s: %.3f mm", f.File, q.Value)
			}
			// Clicked at 2.5 screen pixels per photo pixel, off by 2.5 screen pixels (standard deviation).
			off := func(p geom.PX) geom.PX { return geom.PX{X: p.X + rng.NormFloat64(), Y: p.Y + rng.NormFloat64()} }
			for range 40 {
				q := read(off(ends[0]), off(ends[1]))
				clicked = append(clicked, q.Value-100)
				n++
				if math.Abs(q.Value-100) <= q.U95 {
					hold++
				}
			}
		}
	}
	bias, sd, worst := spread(exact)
	cb, csd, cw := spread(clicked)
	t.Logf("exact ends, %d photos: bias %+.3f mm, standard deviation %.3f mm, worst %.3f mm; clicked: bias %+.3f, standard deviation %.3f, worst %.3f mm; the interval holds in %.1f %% of %d",
		len(exact), bias, sd, worst, cb, csd, cw, 100*float64(hold)/float64(n), n)
	assert.Greater(t, len(exact), 50)
	assert.Less(t, math.Abs(bias), 0.05, "bias, mm")
	assert.Less(t, quantileOfAbs(exact, 0.95), 0.2, "19 of 20 photos within 0.2 mm")
	assert.GreaterOrEqual(t, float64(hold)/float64(n), 0.92)
	assert.LessOrEqual(t, float64(hold)/float64(n), 0.98)
}

// withoutTag leaves out what is no fault of the card.
func withoutTag(list []record.Reason) (out []record.Reason) {
	for _, r := range list {
		if r.Code != gate.NoTag && r.Code != gate.TwoTags && r.Code != gate.NoDate {
			out = append(out, r)
		}
	}
	return
}

func spread(v []float64) (mean, sd, worst float64) {
	for _, x := range v {
		mean += x / float64(len(v))
		worst = math.Max(worst, math.Abs(x))
	}
	for _, x := range v {
		sd += (x - mean) * (x - mean) / float64(len(v)-1)
	}
	return mean, math.Sqrt(sd), worst
}

func quantileOfAbs(v []float64, q float64) float64 {
	a := make([]float64, len(v))
	for i, x := range v {
		a[i] = math.Abs(x)
	}
	sort.Float64s(a)
	return a[int(q*float64(len(a)-1))]
}
