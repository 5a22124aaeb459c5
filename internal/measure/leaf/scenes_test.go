package leaf

import (
	"image"
	"image/png"
	"math"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/calib"
	"phototrack/internal/geom"
	"phototrack/internal/photo"
	"phototrack/internal/raster"
	"phototrack/internal/record"
	"phototrack/internal/reftest"
	"phototrack/internal/regions"
)

// Rendered photos with exact truth, one in the shape of truth.json.
type scene struct {
	File   string `json:"file"`
	Side   string `json:"side"`
	Expect string `json:"expect"`
	Camera struct {
		FX float64 `json:"fx"`
		FY float64 `json:"fy"`
		CX float64 `json:"cx"`
		CY float64 `json:"cy"`
	} `json:"camera"`
	Card struct {
		R [3][3]float64 `json:"R"`
		T [3]float64    `json:"t_mm"`
	} `json:"card"`
	Leaf struct {
		Area         float64            `json:"visible_area_total_mm2"`
		Share        map[string]float64 `json:"visible_share"`
		OutsideBloom float64            `json:"visible_area_outside_bloom_outlines_total_mm2"`
	} `json:"leaf"`
	Bloom []struct {
		Points [][2]float64 `json:"points"`
	} `json:"bloom_outlines_px"`
}

func scenesOf(t testing.TB, set string) (out []scene) {
	var doc struct {
		Files []scene `json:"files"`
	}
	reftest.JSON(t, &doc, "scenes", set, "truth.json")
	for _, s := range doc.Files {
		if s.Side == "L" && (strings.HasPrefix(s.Expect, "ok") || strings.HasPrefix(s.Expect, "hard")) {
			out = append(out, s)
		}
	}
	require.NotEmpty(t, out)
	return
}

// truePlane is the homography of the card's plane by the scene's own camera and card.
func (s *scene) truePlane() geom.Homography {
	k := geom.Mat3{s.Camera.FX, 0, s.Camera.CX, 0, s.Camera.FY, s.Camera.CY, 0, 0, 1}
	r, c := s.Card.R, s.Card.T
	h := k.Mul(geom.Mat3{r[0][0], r[0][1], c[0], r[1][0], r[1][1], c[1], r[2][0], r[2][1], c[2]})
	for i := range h {
		h[i] /= c[2]
	}
	return geom.Homography(h)
}

func readScene(t testing.TB, set string, s scene) (*photo.Frame, *image.Gray) {
	data, err := os.ReadFile(reftest.Path(t, "scenes", set, s.File))
	require.NoError(t, err)
	f, err := photo.Read(data, photo.Limits{})
	require.NoError(t, err)
	return f, readMask(t, reftest.Path(t, "scenes", set, "masks", strings.TrimSuffix(s.File, ".jpg")+".png"))
}

func readMask(t testing.TB, path string) *image.Gray {
	f, err := os.Open(path)
	require.NoError(t, err)
	defer f.Close()
	img, err := png.Decode(f)
	require.NoError(t, err)
	g, ok := img.(*image.Gray)
	require.True(t, ok, path)
	return g
}

// inputOf calibrates a photo by its card and hands it to the leaf measurement, as the pipeline does.
func inputOf(t testing.TB, img raster.BGR, f35 float64) Input {
	c, _, err := calib.Calibrate(img, f35, calib.Settings{Print: calib.TruePrint(0.0005)})
	require.NoError(t, err)
	require.Positive(t, c.ScalePxPerMM)
	in := Input{Img: img, CardToPx: c.Plane, DistanceMM: c.DistanceMM, ScalePxPerMM: c.ScalePxPerMM, EdgeSpreadPx: c.EdgeSpreadPx,
		Eye: c.Camera.Centre(), AreaRelU: c.AreaRelU(geom.MM{X: 0, Y: 100}), PrintRelU: c.PrintRelU,
		LU: c.Colour.LU, AU: c.Colour.AU, BU: c.Colour.BU, HueDegU: c.Colour.HueU}
	for i := range 3 {
		for v := range 256 {
			in.Colour.Tone[i][v] = float32(c.Colour.Tone[i][v])
		}
		for k := range 6 {
			in.Colour.Mix[i][k] = float32(c.Colour.M[i][k])
		}
	}
	in.Colour.Root = c.Colour.Root
	pts := func(q []geom.PX) (out []record.Point) {
		for _, p := range q {
			out = append(out, record.Point(p))
		}
		return
	}
	in.Card = pts(c.Outline(2))
	for _, q := range c.TagOutlines(1) {
		in.Tags = append(in.Tags, pts(q))
	}
	return in
}

func valueOf(t testing.TB, r Result, name record.QuantityName) record.Quantity {
	for _, q := range r.Quantities {
		if q.Name == name {
			return q
		}
	}
	require.Fail(t, "no quantity", name)
	return record.Quantity{}
}

func median(v []float64) float64 {
	s := slices.Clone(v)
	slices.Sort(s)
	return (s[(len(s)-1)/2] + s[len(s)/2]) / 2
}

// score compares one photo with its truth.
type score struct {
	maskErr, areaErr, worstShare float64 // relative, relative, absolute
	iou                          float64
	area                         record.Quantity
	areaHeld, sharesHeld         int // intervals that hold the truth: of 1, of 4
	codes                        []string
}

func scoreScene(t testing.TB, set string, s scene, net func(truth *image.Gray) regions.Seer) (sc score) {
	f, truth := readScene(t, set, s)
	in := inputOf(t, f.Img, f.F35MM)
	in.Net = net(truth)
	res, why, err := Measure(in, DefaultSettings())
	require.NoError(t, err, s.File)
	require.NotEmpty(t, res.Quantities, s.File)
	g, err := s.truePlane().Inverse()
	require.NoError(t, err)
	var own, want, both, either float64
	m := res.Mask
	for y := range f.Img.H {
		for x := range f.Img.W {
			v := truth.Pix[y*truth.Stride+x]
			inTruth := v >= 1 && v <= 4
			inOwn := y/m.Scale < m.H && x/m.Scale < m.W && m.Pix[y/m.Scale*m.W+x/m.Scale] != 0
			if !inTruth && !inOwn {
				continue
			}
			a := g.AreaMM2(geom.PX{X: float64(x), Y: float64(y)})
			either += a
			if inTruth {
				want += a
			}
			if inOwn {
				own += a
			}
			if inTruth && inOwn {
				both += a
			}
		}
	}
	sc.maskErr, sc.iou = own/want-1, both/either
	sc.area = valueOf(t, res, record.LeafArea)
	sc.areaErr = sc.area.Value/s.Leaf.Area - 1
	if math.Abs(sc.area.Value-s.Leaf.Area) <= sc.area.U95 {
		sc.areaHeld = 1
	}
	for n, v := range s.Leaf.Share {
		q := valueOf(t, res, record.QuantityName(n+"_share"))
		sc.worstShare = max(sc.worstShare, math.Abs(q.Value-v))
		if math.Abs(q.Value-v) <= q.U95 {
			sc.sharesHeld++
		}
	}
	for _, r := range why {
		sc.codes = append(sc.codes, string(r.Code))
	}
	t.Logf("%-26s area %+.2f %% (+-%.1f), mask alone %+.2f %%, IoU %.4f, worst share %.2f points %v",
		s.File, 100*sc.areaErr, 100*sc.area.U95/sc.area.Value, 100*sc.maskErr, sc.iou, 100*sc.worstShare, sc.codes)
	return
}

// byTruth says what is leaf as the scene's own mask has it: what is measured then is the outline, the colours and the budget.
func byTruth(truth *image.Gray) regions.Seer { return toldByMask(truth) }

// With the regions known, the good photos of all sets. The area's worst case is the leaves' depth before the card, up to 4 mm at
// 65 cm, which lies in the declared uncertainty: through the true pose even the true mask is up to 1.4 % off there.
func TestOutlineAndColoursWithTrueRegions(t *testing.T) {
	held, shares, photos := 0, 0, 0
	for _, c := range []struct {
		set                                                    string
		areaMedian, areaWorst, maskMedian, maskWorst, shareMed float64
		shareWorst, iou                                        float64
	}{
		{"single", 0.003, 0.009, 0.003, 0.01, 0.004, 0.010, 0.985},
		{"series", 0.009, 0.018, 0.003, 0.01, 0.004, 0.012, 0.985},
	} {
		t.Run(c.set, func(t *testing.T) {
			var area, mask, share []float64
			for _, s := range scenesOf(t, c.set) {
				sc := scoreScene(t, c.set, s, byTruth)
				area, mask, share = append(area, math.Abs(sc.areaErr)), append(mask, math.Abs(sc.maskErr)), append(share, sc.worstShare)
				assert.Greater(t, sc.iou, c.iou, s.File)
				assert.Empty(t, sc.codes, s.File)
				assert.Less(t, sc.area.U95/sc.area.Value, 0.15, s.File)
				held, shares, photos = held+sc.areaHeld, shares+sc.sharesHeld, photos+1
			}
			t.Logf("area: median %.2f %%, worst %.2f %%; mask alone: %.2f, %.2f; worst class share: %.2f, %.2f points",
				100*median(area), 100*slices.Max(area), 100*median(mask), 100*slices.Max(mask), 100*median(share), 100*slices.Max(share))
			assert.LessOrEqual(t, median(area), c.areaMedian)
			assert.LessOrEqual(t, slices.Max(area), c.areaWorst)
			assert.LessOrEqual(t, median(mask), c.maskMedian)
			assert.LessOrEqual(t, slices.Max(mask), c.maskWorst)
			assert.LessOrEqual(t, median(share), c.shareMed)
			assert.LessOrEqual(t, slices.Max(share), c.shareWorst)
		})
	}
	t.Logf("intervals that hold the truth: area %d of %d, shares %d of %d", held, photos, shares, 4*photos)
	assert.GreaterOrEqual(t, float64(held), 0.9*float64(photos))
	assert.GreaterOrEqual(t, float64(shares), 0.9*float64(4*photos))
}

// With the flowers drawn round, what is left is the leaf area outside the drawing.
func TestMarkedBloom(t *testing.T) {
	for _, s := range scenesOf(t, "hard") {
		if len(s.Bloom) == 0 {
			continue
		}
		f, truth := readScene(t, "hard", s)
		in := inputOf(t, f.Img, f.F35MM)
		in.Net = toldByMask(truth)
		for _, b := range s.Bloom {
			m := Mark{}
			for _, p := range b.Points {
				m.Points = append(m.Points, record.Point{X: p[0], Y: p[1]})
			}
			in.Marks = append(in.Marks, m)
		}
		res, why, err := Measure(in, DefaultSettings())
		require.NoError(t, err)
		got := valueOf(t, res, record.LeafArea).Value
		t.Logf("%s: %.0f mm2 outside the marks, %.0f in truth (%+.2f %%)", s.File, got, s.Leaf.OutsideBloom, 100*(got/s.Leaf.OutsideBloom-1))
		assert.InEpsilon(t, s.Leaf.OutsideBloom, got, 0.015)
		assert.Empty(t, why, "what was drawn round needs no flag")
		return
	}
	t.Fatal("no scene with a bloom")
}
