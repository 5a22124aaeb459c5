package cv

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/raster"
)

func TestDetectsWhatTheDictionaryDraws(t *testing.T) {
	const cell, margin = 6, 30
	for _, id := range []int{0, 12, 574, 575, 586} {
		m, err := DrawMarker(id, cell)
		require.NoError(t, err)
		w := m.W + 2*margin
		page := make([]uint8, w*w)
		for i := range page {
			page[i] = 255
		}
		for y := range m.H {
			copy(page[(y+margin)*w+margin:], m.Pix[y*m.W:(y+1)*m.W])
		}
		got, err := DetectMarkers(page, w, w)
		require.NoError(t, err)
		require.Len(t, got, 1)
		assert.Equal(t, id, got[0].ID)
		assert.InDelta(t, margin, got[0].Corners[0][0], 1.5, "top left corner first")
		assert.InDelta(t, margin+m.W, got[0].Corners[2][1], 1.5)
	}
}

// turnedAndSoft is a marker as a camera that is a little out of focus sees it: cells of cellPx, turned, edges as wide as a Gaussian of sigmaPx makes
// them, in the middle of a square white page.
func turnedAndSoft(t *testing.T, id int, cellPx, turnRad, sigmaPx float64) (page []uint8, side int) {
	t.Helper()
	m, err := DrawMarker(id, 1)
	require.NoError(t, err)
	side = int(14 * cellPx)
	sharp := make([]float64, side*side)
	sin, cos := math.Sincos(turnRad)
	at := func(x, y float64) float64 {
		x, y = x-float64(side)/2, y-float64(side)/2
		u, v := int(math.Floor((x*cos+y*sin)/cellPx+4)), int(math.Floor((y*cos-x*sin)/cellPx+4))
		if u < 0 || v < 0 || u >= m.W || v >= m.H {
			return 225
		}
		return 20 + 205*float64(m.Pix[v*m.W+u])/255
	}
	const fine = 4
	for i := range sharp {
		for k := range fine * fine {
			sharp[i] += at(float64(i%side)+(float64(k%fine)+0.5)/fine, float64(i/side)+(float64(k/fine)+0.5)/fine) / (fine * fine)
		}
	}
	soft := func(in []float64, step int) []float64 {
		out := make([]float64, len(in))
		for i := range in {
			sum, n := 0.0, i/step%side
			for k := -12; k <= 12; k++ {
				if n+k < 0 || n+k >= side {
					continue
				}
				w := math.Exp(-float64(k*k) / (2 * sigmaPx * sigmaPx))
				sum += w
				out[i] += w * in[i+k*step]
			}
			out[i] /= sum
		}
		return out
	}
	page = make([]uint8, side*side)
	for i, v := range soft(soft(sharp, 1), side) {
		page[i] = uint8(v + 0.5)
	}
	return page, side
}

// Edges, from 10 to 90 %, as wide as most of a cell: a person reads the code at once. With OpenCV's own settings nine are missed.
func TestReadsSoftMarkers(t *testing.T) {
	var missed []int
	for id := 3; id <= 586; id += 11 {
		page, side := turnedAndSoft(t, id, 6.5, float64(id)*0.01, 2)
		got, err := DetectMarkers(page, side, side)
		require.NoError(t, err)
		if len(got) != 1 || got[0].ID != id {
			missed = append(missed, id)
		}
	}
	assert.Empty(t, missed)
}

// The same with smaller cells in hard light: white is half as bright again as the sensor takes, so that it spreads over black cells between white ones. In the
// picture as it is coded a third of these are missed.
func TestReadsSoftMarkersInHardLight(t *testing.T) {
	var asCoded, missed, other int
	const ids, bright = 54, 1.5
	for i := range ids {
		id := 3 + i*10
		page, side := turnedAndSoft(t, id, 5, float64(id)*0.01, 1.7)
		for i, v := range page {
			page[i] = uint8(255*math.Pow(math.Min(1, bright*float64(v)/255), 1/2.2) + 0.5)
		}
		got, err := DetectMarkers(page, side, side)
		require.NoError(t, err)
		if len(got) != 1 || got[0].ID != id {
			asCoded++
		}
		got, err = DetectSoftMarkers(page, side, side)
		require.NoError(t, err)
		switch {
		case len(got) == 0:
			missed++
		case len(got) > 1 || got[0].ID != id:
			other++
		}
	}
	t.Logf("missed as coded %d, sharpened %d of %d", asCoded, missed, ids)
	assert.Greater(t, asCoded, ids/4)
	assert.LessOrEqual(t, missed, ids/10)
	assert.Zero(t, other)
}

func TestDecodeRefusesRubbish(t *testing.T) {
	for name, data := range map[string][]byte{"nothing": nil, "text": []byte("no picture at all"), "start of a JPEG": {0xff, 0xd8, 0xff, 0xe0}} {
		t.Run(name, func(t *testing.T) {
			_, err := Decode(data)
			assert.ErrorIs(t, err, ErrDecode)
			assert.ErrorIs(t, DecodeAlone(data), ErrDecode)
		})
	}
}

// The reference is the formula; one level for rounding.
func TestGrayIsLuma(t *testing.T) {
	img := raster.NewBGR(53, 31)
	for i := range img.Pix {
		img.Pix[i] = uint8(i*i*7 + i*13)
	}
	gray, err := Gray(img)
	require.NoError(t, err)
	require.Len(t, gray, 53*31)
	for i, v := range gray {
		p := img.Pix[3*i:]
		require.InDelta(t, 0.114*float64(p[0])+0.587*float64(p[1])+0.299*float64(p[2]), float64(v), 1)
	}
	_, err = Gray(raster.BGR{W: 4, H: 4})
	assert.ErrorIs(t, err, ErrSize)
}
