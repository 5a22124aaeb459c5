package pipeline

import (
	"bytes"
	"context"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/disintegration/imaging"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gocv.io/x/gocv"

	"phototrack/internal/collection"
	"phototrack/internal/gate"
	"phototrack/internal/plate"
	"phototrack/internal/record"
	"phototrack/internal/series"
)

// sample is a sample photo.
func sample(t testing.TB, name string) *image.NRGBA {
	t.Helper()
	img, err := imaging.Open(filepath.Join("..", "..", "samples", "photos", name))
	require.NoError(t, err)
	return imaging.Clone(img)
}

// undated is the name of the photo that nobody gives a date.
const undated = "undated.jpg"

// throughWorker measures a photo the whole way: a worker process, the pipe, the store, and back from the store.
func throughWorker(t *testing.T, pool Pool, st *series.Store, name string, data []byte) record.Photo {
	t.Helper()
	given := record.Stamp{Time: time.Date(2026, 3, 7, 12, 0, 0, 0, time.UTC), Source: "given"}
	if name == undated {
		given = record.Stamp{}
	}
	path := filepath.Join(t.TempDir(), name)
	require.NoError(t, os.WriteFile(path, data, 0o644))
	var out record.Photo
	require.NoError(t, pool.Measure(context.Background(), []Job{{Path: path, Name: name, Today: "2026-08-01", GivenDate: given}}, func(o Outcome) error {
		require.NoError(t, o.Err)
		return st.Put(context.Background(), &o.Photo)
	}))
	p, ok, err := st.Get(context.Background(), collection.Hash(data))
	require.NoError(t, err)
	require.True(t, ok)
	out = p
	for _, q := range out.Quantities {
		assert.True(t, finite(q.Value) && finite(q.U95), "%s: %s is %g", name, q.Name, q.Value)
	}
	return out
}

func asJPEG(t testing.TB, img image.Image) []byte {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, jpeg.Encode(&b, img, &jpeg.Options{Quality: 93}))
	return b.Bytes()
}

// Every gate that a photo's own look can fail is met on the whole way: by a worker, over the pipe, into the store and out
// of it again, with its reason and never as "measuring failed".
func TestGatesHoldOnTheWholeWay(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "bench")
	_, err := collection.Init(dir)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(filepath.Join(dir, "plants.csv"), []byte("number,name,from,pot_top_mm,pot_bottom_mm,pot_height_mm\n12,Clivia,2026-01-01,,,\n31,Phalaenopsis,2026-01-01,100,84,100\n"), 0o644))
	c, err := collection.Open(dir)
	require.NoError(t, err)
	pool := Pool{Command: []string{os.Args[0], partCollection, c.Dir}, Workers: 1, Limit: 10 * time.Minute}
	st, err := series.Open(c.StorePath())
	require.NoError(t, err)
	defer st.Close()
	leaf := sample(t, "012_2026-03_L.jpg")
	other := sample(t, "023_2026-03_L.jpg")
	w, h := leaf.Bounds().Dx(), leaf.Bounds().Dy()
	beside := imaging.Paste(imaging.New(2*w, h, color.NRGBA{200, 200, 200, 255}), leaf, image.Pt(0, 0))
	tag := imaging.Crop(leaf, image.Rect(w*27/100, h*76/100, w*35/100, h*88/100))
	times := func(f float64) image.Image { return shade(leaf, func(v float64) float64 { return v * f }) }
	root := sample(t, "031_2026-03_R.jpg")
	ofUnknownSize := imaging.Paste(root, imaging.Resize(imaging.Crop(leaf, image.Rect(440, 915, 545, 1055)), 118, 0, imaging.Lanczos), image.Pt(172, 660)) // the tag of 12
	met := map[record.GateCode]bool{}
	file := func(name string, data []byte, want ...record.GateCode) {
		p := throughWorker(t, pool, st, name, data)
		codes := gate.Codes(p.Reasons)
		t.Logf("%-40s %s", name, codes)
		assert.NotContains(t, codes, "crashed", name)
		for _, r := range p.Reasons {
			met[r.Code] = true
		}
		if want == nil {
			assert.Equal(t, record.Accepted, p.Status, "%s: %s", name, codes)
			return
		}
		assert.True(t, slices.ContainsFunc(want, p.HasReason), "%s: %q has none of %v", name, codes, want)
		assert.False(t, p.Status == record.Accepted, name)
	}
	type altered struct {
		name string
		img  image.Image
		want []record.GateCode // of which at least one must hold
	}
	for _, tt := range []altered{
		{"2026-03-07 good.jpg", leaf, nil},
		{"dark 4.jpg", times(0.04), []record.GateCode{gate.Dark, gate.NoCard, gate.FewMarkers}},
		{"dark 6.jpg", times(0.06), []record.GateCode{gate.Dark, gate.NoCard, gate.FewMarkers}},
		{"dark 8.jpg", times(0.08), []record.GateCode{gate.Dark, gate.FewMarkers}},
		{"dark 10.jpg", times(0.10), []record.GateCode{gate.Dark}},
		{"black.jpg", times(0), []record.GateCode{gate.Dark}},
		{"clipped.jpg", times(1.35), []record.GateCode{gate.Clipped, gate.ClippedHard}},
		{"clipped hard.jpg", times(3), []record.GateCode{gate.ClippedHard, gate.NoCard, gate.FewMarkers}},
		{"blurred.jpg", imaging.Blur(leaf, 5), []record.GateCode{gate.Blurred}},
		{"small.jpg", imaging.Resize(leaf, w/3, 0, imaging.Box), []record.GateCode{gate.CardSmall, gate.NoCard, gate.FewMarkers}},
		{"not listed.jpg", other, []record.GateCode{gate.UnknownTag}},
		{"grey.jpg", imaging.Grayscale(leaf), []record.GateCode{gate.ColourLost, gate.ColourCast}},
		{"two cards.jpg", imaging.Paste(beside, leaf, image.Pt(w, 0)), []record.GateCode{gate.TwoCards}},
		{"one tag twice.jpg", imaging.Paste(leaf, tag, image.Pt(w*75/100, h*85/100)), []record.GateCode{gate.TwoTags}},
		{"two plants.jpg", imaging.Paste(beside, other, image.Pt(w, 0)), []record.GateCode{gate.TwoTags}},
		{"1976-03-07 early.jpg", times(0.99), []record.GateCode{gate.DateEarly}},
		{"2019-03-07 before the first plant.jpg", times(0.98), []record.GateCode{gate.DateEarly}},
		{"2062-03-07 future.jpg", times(0.97), []record.GateCode{gate.DateFuture}},
	} {
		file(tt.name, asJPEG(t, tt.img), tt.want...)
	}
	if os.Getenv("PHOTOTRACK_SLOW") == "" && os.Getenv("PHOTOTRACK_TORTURE") == "" {
		return // the rest takes half a minute: make slow
	}
	var bomb bytes.Buffer
	require.NoError(t, png.Encode(&bomb, imaging.New(3, 3, color.White)))
	file("no picture.jpg", []byte("words"), gate.UnknownFormat)
	file("cut short.jpg", asJPEG(t, leaf)[:50_000], gate.Unreadable)
	file("claims too much.png", withPNGSize(bomb.Bytes(), 60_000, 60_000), gate.TooLarge)
	file(undated, asJPEG(t, leaf), gate.NoDate)
	lossless, err := gocv.IMDecode(asJPEG(t, leaf), gocv.IMReadColor)
	require.NoError(t, err)
	defer lossless.Close()
	tif, err := gocv.IMEncodeWithParams(".tiff", lossless, []int{259, 5}) // IMWRITE_TIFF_COMPRESSION, LZW
	require.NoError(t, err)
	file("packed by LZW.tiff", bytes.Clone(tif.GetBytes()), gate.Unchecked)
	tif.Close()
	for _, tt := range []altered{
		{"no card.jpg", onCard(leaf, -2, -2, 150, 102), []record.GateCode{gate.NoCard}},
		{"one marker.jpg", onCard(onCard(leaf, 31, -2, 150, 102), -2, 60, 40, 102), []record.GateCode{gate.FewMarkers}},
		{"three markers.jpg", onCard(leaf, -2, 3, 150, 31), []record.GateCode{gate.SomeMarkers}},
		{"leaf over the card.jpg", onCard(leaf, -5, 29, 27, 102), []record.GateCode{gate.CardCovered}},
		{"card hidden.jpg", onCard(leaf, -5, 29, 88, 102), []record.GateCode{gate.CardHidden}},
		{"tilted.jpg", tilted(leaf, 46), []record.GateCode{gate.Tilted}},
		{"oblique.jpg", tilted(leaf, 52), []record.GateCode{gate.Oblique}},
		{"soft.jpg", imaging.Blur(root, 1.1), []record.GateCode{gate.Soft}},
		{"uneven light.jpg", lit(leaf, func(mm float64) [3]float64 { g := math.Exp(-0.009 * mm); return [3]float64{g, g, g} }), []record.GateCode{gate.Gradient}},
		{"two lights.jpg", lit(leaf, func(mm float64) [3]float64 { // a lamp from the left, daylight from the right
			g := math.Exp(0.0015 * (mm - 74))
			return [3]float64{0.7 * g, 0.7, 0.7 / g}
		}), []record.GateCode{gate.ColourCast}},
		{"no tag.jpg", painted(leaf, image.Rect(440, 915, 545, 1055), color.NRGBA{225, 222, 215, 255}), []record.GateCode{gate.NoTag}},
		{"no plant.jpg", painted(leaf, image.Rect(0, 0, 960, 905), color.NRGBA{150, 150, 148, 255}), []record.GateCode{gate.NoPlant}},
		{"cut off.jpg", imaging.Crop(leaf, image.Rect(220, 0, w, h)), []record.GateCode{gate.CutOff}},
		{"pot of unknown size.jpg", ofUnknownSize, []record.GateCode{gate.PotGuess}},
		{"no pot.jpg", painted(ofUnknownSize, image.Rect(330, 430, 740, 860), color.NRGBA{150, 150, 148, 255}), []record.GateCode{gate.NoPot}},
		{"pot cut off at its side.jpg", imaging.Crop(imaging.Paste(root, imaging.Crop(root, image.Rect(180, 640, 320, 830)), image.Pt(1300, 900)), image.Rect(390, 0, w, h)), []record.GateCode{gate.NoPot}},
		{"pot cut off at its foot.jpg", imaging.Crop(root, image.Rect(0, 0, w, 770)), []record.GateCode{gate.NoPot}},
		{"pot of one colour.jpg", painted(root, image.Rect(372, 470, 700, 805), color.NRGBA{170, 95, 60, 255}), []record.GateCode{gate.PotOpaque}},
	} {
		file(tt.name, asJPEG(t, tt.img), tt.want...)
	}
	wall := func(name string, x0, x1 float64, want ...record.GateCode) { // a part of the pot's wall is left out by hand
		data := asJPEG(t, root)
		mark := collection.Mark{What: collection.MarkLeaveOut, Rings: [][][2]float64{{{x0, 0.37}, {x1, 0.37}, {x1, 0.69}, {x0, 0.69}, {x0, 0.37}}}}
		require.NoError(t, c.SaveMarks(collection.Hash(data), name, []collection.Mark{mark}))
		file(name, data, want...)
	}
	wall("half of the wall.jpg", 0.22, 0.335, gate.WallHidden)
	wall("nearly all of the wall.jpg", 0.22, 0.44, gate.WallBlind)

	elsewhere := map[record.GateCode]string{ // and where
		gate.Timeout: "TestWorkersThatFail", gate.Memory: "TestWorkersThatFail", gate.Crashed: "TestWorkersThatFail",
		gate.CardColours: "TestColoursOfTheCardInUse", gate.Excluded: "set by a line of corrections.csv, not by a look",
		gate.Unsure: "met by the samples", gate.TooUnsure: "package desk, TestAPlaceInDoubtIsDecided",
		gate.Water: "package root, TestBadWallsEndInAReason", gate.BentCard: "package calib, TestEveryGateOfTheCardHasAPhoto: it needs the focal length, which these files lack",
		gate.PotShape:  "package root, TestShapesOfPots",
		gate.PotCut:    "by no photo: a pot that an edge cuts off is seen to be none before its wall is laid out (the two above), so that this is a second net",
		gate.RootCheck: "package root, TestBadWallsEndInAReason: by no photo, for the network takes no sheet for root, and of what it takes for root the interval of the length is the wider one",
	}
	for _, g := range gate.All() {
		assert.True(t, met[g.Code] || elsewhere[g.Code] != "", "no photo meets %s", g.Code)
	}
}

// Numbers that could not be worked out are taken out wherever they stand, and the photo can be written down.
func TestWhatIsNoNumberIsNeverRecorded(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	p := record.Photo{SHA256: collection.Hash(nil), Status: record.Flagged,
		Quantities: []record.Quantity{{Name: "sound", Value: 1, U95: 0.1}, {Name: "value", Value: nan}, {Name: "u95", Value: 1, U95: inf},
			{Name: "term", Value: 1, Terms: []record.Term{{U: nan}}}},
		Calibration: &record.Calibration{EdgeSpreadPx: nan, TiltDeg: inf, CardToPx: []float64{1, 2}},
		Outlines:    []record.Outline{{Points: []record.Point{{X: nan}}}, {Points: []record.Point{{X: 1}}}},
		WallRoots:   [][]record.Point{{{Y: inf}}}}
	require.Error(t, storable(&p))
	keepFinite(&p)
	require.NoError(t, storable(&p))
	require.Len(t, p.Quantities, 1)
	assert.Equal(t, record.QuantityName("sound"), p.Quantities[0].Name)
	assert.Len(t, p.Outlines, 1)
	assert.Nil(t, p.WallRoots)
	assert.Zero(t, p.Calibration.EdgeSpreadPx)
	assert.Contains(t, fmt.Sprint(p.Notes), "value, u95, term")
	p.Calibration.CardToPx[1] = nan
	keepFinite(&p)
	assert.Nil(t, p.Calibration)
}

// An area with a hole leaves what lies in the hole alone. Outside sources are not needed: the hole holds the whole plant.
func TestHolesOfAreasCount(t *testing.T) {
	data, err := os.ReadFile(filepath.Join("..", "..", "samples", "photos", "012_2026-03_L.jpg"))
	require.NoError(t, err)
	dir := filepath.Join(t.TempDir(), "bench")
	_, err = collection.Init(dir)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(filepath.Join(dir, "plants.csv"), []byte("number\n12\n"), 0o644))
	c, err := collection.Open(dir)
	require.NoError(t, err)
	area := func() float64 {
		p := Measure(data, Job{Name: "012_2026-03_L.jpg"}, c)
		q, _ := p.Find(record.LeafArea)
		return q.Value
	}
	square := func(lo, hi float64) [][2]float64 {
		return [][2]float64{{lo, lo}, {hi, lo}, {hi, hi}, {lo, hi}, {lo, lo}}
	}
	whole := area()
	require.Positive(t, whole)
	mark := func(rings ...[][2]float64) {
		require.NoError(t, c.SaveMarks(collection.Hash(data), "012_2026-03_L.jpg", []collection.Mark{{What: collection.MarkLeaveOut, Rings: rings}}))
	}
	mark(square(0, 1), square(0.001, 0.999))
	assert.InEpsilon(t, whole, area(), 0.002, "all but a narrow frame lies in the hole")
	mark(square(0, 1))
	assert.Zero(t, area(), "the same area without its hole leaves nothing")
}

func TestDatesInDoubt(t *testing.T) {
	c := &collection.Collection{Plants: []record.Plant{{Number: 12, From: "2025-06-01"}, {Number: 13, From: "2026-01-01"}, {Number: 14}}}
	at := func(day, source string, plant int, name string) *record.Photo {
		d, err := time.Parse(time.DateOnly, day)
		require.NoError(t, err)
		return &record.Photo{Name: name, Plant: plant, Taken: record.Stamp{Time: d, Source: source}}
	}
	for _, tt := range []struct {
		day, source, today string
		code               record.GateCode
		detail             string
	}{
		{"2026-07-11", "exif", "2026-07-11", "", ""},
		{"2026-07-12", "exif", "2026-07-11", "", ""}, // another time zone
		{"2026-07-13", "exif", "2026-07-11", gate.DateFuture, "likely 2025-07-13"},
		{"2062-07-11", "exif", "2026-08-01", gate.DateFuture, "likely 2026-07-11"},
		{"9999-12-31", "exif", "2026-08-01", gate.DateFuture, "likely 2025-12-31"},
		{"2062-07-11", "given", "2026-08-01", gate.DateFuture, ""},
		{"2062-07-11", "exif", "", "", ""},
		{"1980-01-01", "exif", "2026-08-01", gate.DateEarly, "likely 2026-01-01"},
		{"1980-01-01", "given", "2026-08-01", "", ""},
		{"2025-05-31", "exif", "2026-08-01", gate.DateEarly, "2025-06-01"},
		{"2025-06-01", "exif", "2026-08-01", "", ""},
	} {
		code, detail := dateDoubt(c, at(tt.day, tt.source, 13, "a.jpg"), tt.today)
		assert.Equal(t, tt.code, code, tt)
		assert.Contains(t, detail, tt.detail, tt)
	}
	code, _ := dateDoubt(c, at("2000-01-01", "exif", 14, "a.jpg"), "2026-08-01")
	assert.Empty(t, code, "a plant without a date may always have been there")
	_, detail := dateDoubt(c, at("2062-07-11", "exif", 13, "IMG_20260514_101530.jpg"), "2026-08-01")
	assert.Contains(t, detail, "likely 2026-05-14", "the name knows it")
	_, detail = dateDoubt(c, at("2096-02-29", "exif", 13, "a.jpg"), "2026-08-01")
	assert.NotEmpty(t, detail)
}

// Leaving out the lower part of a plant does not move its foot, on which photos are laid over each other.
func TestTheFootIsThatOfTheWholePlant(t *testing.T) {
	data, err := os.ReadFile(filepath.Join("..", "..", "samples", "photos", "012_2026-03_L.jpg"))
	require.NoError(t, err)
	dir := filepath.Join(t.TempDir(), "bench")
	_, err = collection.Init(dir)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(filepath.Join(dir, "plants.csv"), []byte("number\n12\n"), 0o644))
	c, err := collection.Open(dir)
	require.NoError(t, err)
	frame := func() (plate.Frame, record.Photo) {
		p := Measure(data, Job{Name: "012_2026-03_L.jpg"}, c)
		f, ok := plate.FromPhoto(&p, image.NewGray(image.Rect(0, 0, p.WidthPx/2, p.HeightPx/2)))
		require.True(t, ok)
		return f, p
	}
	whole, p := frame()
	assert.Empty(t, p.Extra[record.ExtraAreas])
	low := 0.0
	for _, o := range p.Outlines {
		for _, q := range o.Points {
			if o.Kind == "leaf" {
				low = max(low, q.Y/float64(p.HeightPx))
			}
		}
	}
	y := low - 0.12
	require.NoError(t, c.SaveMarks(collection.Hash(data), "012_2026-03_L.jpg", []collection.Mark{{What: collection.MarkLeaveOut, Rings: [][][2]float64{{{0, y}, {1, y}, {1, 1}, {0, 1}, {0, y}}}}}))
	cut, p := frame()
	assert.Equal(t, "leave_out", p.Extra[record.ExtraAreas])
	assert.InDelta(t, whole.Anchor.X, cut.Anchor.X, 0.3, "mm")
	assert.InDelta(t, whole.Anchor.Y, cut.Anchor.Y, 0.3, "mm")
	assert.Greater(t, whole.Extent.Y1-cut.Extent.Y1, 5.0, "the area does cut the plant")
}
