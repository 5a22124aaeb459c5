package pipeline

import (
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/calib"
	"phototrack/internal/collection"
	"phototrack/internal/colour"
	"phototrack/internal/leafnet"
	"phototrack/internal/photo"
	"phototrack/internal/record"
	"phototrack/internal/reftest"
)

// uncorrected is the camera's own colour, read as sRGB.
func uncorrected() (f calib.ColourFit) {
	for c := range 3 {
		f.Tone[c] = colour.LinearOf8
		f.M[c][c] = 1
	}
	f.Used = 24
	return
}

func measureLeafWith(t *testing.T, file string, change func(*calib.Calibration)) record.Photo {
	t.Helper()
	data, err := os.ReadFile(file)
	require.NoError(t, err)
	frame, err := photo.Read(data, photo.Limits{})
	require.NoError(t, err)
	p := record.Photo{Name: filepath.Base(file)}
	m := measuring{job: Job{Name: p.Name}, p: &p, settings: collection.DefaultSettings(), frame: frame, net: new(leafnet.Net)}
	require.True(t, m.calibrate())
	change(m.cal)
	m.leaf()
	return p
}

// Plant 45 of the series does not change; five photos of it in five lights must give the same colour.
func TestUnchangedPlantKeepsItsColour(t *testing.T) {
	files, err := filepath.Glob(filepath.Join(reftest.Path(t, "scenes", "series"), "045_*_L.jpg"))
	require.NoError(t, err)
	require.Len(t, files, 5)
	spread := func(change func(*calib.Calibration)) (ab, hue, area float64) {
		var a, b, h, s []float64
		for _, f := range files {
			p := measureLeafWith(t, f, change)
			for name, to := range map[record.QuantityName]*[]float64{record.LeafA: &a, record.LeafB: &b, record.LeafHue: &h, record.LeafArea: &s} {
				q, ok := p.Find(name)
				require.True(t, ok, "%s of %s", name, p.Name)
				*to = append(*to, q.Value)
			}
		}
		t.Logf("a* %.2f  b* %.2f  hue %.2f  area %.0f", a, b, h, s)
		sd := func(v []float64) float64 { // root mean square distance to the mean
			var m, q float64
			for _, x := range v {
				m += x / float64(len(v))
			}
			for _, x := range v {
				q += (x - m) * (x - m) / float64(len(v))
			}
			return math.Sqrt(q)
		}
		lo, hi, mean := math.Inf(1), 0.0, 0.0
		for _, x := range s {
			lo, hi, mean = math.Min(lo, x), math.Max(hi, x), mean+x/5
		}
		var hr float64
		for _, x := range h {
			hr = math.Max(hr, math.Abs(math.Remainder(x-h[0], 360)))
		}
		return math.Hypot(sd(a), sd(b)), hr, (hi - lo) / mean
	}
	ab, hue, area := spread(func(*calib.Calibration) {})
	rawAB, rawHue, _ := spread(func(c *calib.Calibration) { c.Colour = uncorrected() })
	t.Logf("a*, b* %.2f rms, hue %.2f deg, area %.2f %%; without correction a*, b* %.2f rms, hue %.2f deg", ab, hue, 100*area, rawAB, rawHue)
	assert.LessOrEqual(t, ab, 1.0, "a*, b*: root mean square distance to their mean")
	assert.LessOrEqual(t, hue, 2.0, "hue: largest difference to the first photo, degrees")
	assert.LessOrEqual(t, area, 0.03, "area: largest less smallest over the mean")
	assert.Greater(t, rawAB, ab, "the correction must help")
}
