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

// way is a photo that goes the whole way: by a worker, over the pipe, into the store and out of it again.
type way struct {
	name string
	data func() []byte
	want []record.GateCode // of which at least one must hold; none: it is accepted
}

// wholeWay is a bench to send photos through.
type wholeWay struct {
	dir         string
	leaf, other *image.NRGBA // sample photos
	root, later *image.NRGBA
	raw         []byte // the file of leaf
	pots        map[record.GateCode][]byte
}

// newWholeWay makes the bench: two plants of the samples, and one for each drawn pot.
func newWholeWay(t *testing.T) *wholeWay {
	t.Helper()
	w := &wholeWay{dir: filepath.Join(t.TempDir(), "bench"), leaf: sample(t, "012_2026-03_L.jpg"), other: sample(t, "023_2026-03_L.jpg"),
		root: sample(t, "031_2026-03_R.jpg"), later: sample(t, "031_2026-05_R.jpg"), pots: map[record.GateCode][]byte{}}
	_, err := collection.Init(w.dir)
	require.NoError(t, err)
	w.raw, err = os.ReadFile(filepath.Join("..", "..", "samples", "photos", "012_2026-03_L.jpg"))
	require.NoError(t, err)
	plants := "number,name,from,pot_top_mm,pot_bottom_mm,pot_height_mm\n12,Clivia,2026-01-01,,,\n31,Phalaenopsis,2026-01-01,100,84,100\n"
	if slow() {
		for i, d := range drawnPots {
			data, mm := d.pot.photo(t, firstDrawn+i)
			w.pots[d.want] = data
			plants += fmt.Sprintf("%d,Drawn,2026-01-01,%.1f,%.1f,%.1f\n", firstDrawn+i, mm[0], mm[1], mm[2])
		}
	}
	w.write(t, "plants.csv", plants)
	w.write(t, "cards.csv", "from_date,across_mm,down_mm,colour_from,note\n2020-01-01,100,90,nominal,\n2026-06-01,100,90,card.txt,\n")
	w.write(t, "card.txt", "no readings\n")
	w.write(t, "corrections.csv", "time,photo,field,old,new,reason\n2026-05-02,left out.jpg,exclude,,yes,moved\n")
	return w
}

func (w *wholeWay) write(t *testing.T, name, text string) {
	t.Helper()
	require.NoError(t, os.WriteFile(filepath.Join(w.dir, name), []byte(text), 0o644))
}

// drawnPots are the photos of drawn pots and what each of them meets: the pot's foot just under the photo's edge; roots on roots, which
// two ways to measure take for more and for fewer; a line of water; roots that are hard to tell from what they lie in.
var drawnPots = []struct {
	want record.GateCode
	pot  drawnPot
}{
	{gate.PotCut, drawnPot{wall: 900012, narrow: 0.84, cut: 0.075}},
	{gate.RootCheck, drawnPot{wall: 900083, narrow: 1}},
	{gate.Water, drawnPot{wall: 900355, narrow: 1}},
	{gate.Unsure, drawnPot{wall: 900012, narrow: 0.84}},
	{gate.TooUnsure, drawnPot{wall: 900049, narrow: 1}},
}

// firstDrawn is the number on the first drawn pot's tag.
const firstDrawn = 61

func slow() bool { return os.Getenv("PHOTOTRACK_SLOW") != "" || os.Getenv("PHOTOTRACK_TORTURE") != "" }

// quick are the photos that each run of the tests sends.
func (w *wholeWay) quick(t *testing.T) []way {
	width, h := w.leaf.Bounds().Dx(), w.leaf.Bounds().Dy()
	beside := imaging.Paste(imaging.New(2*width, h, color.NRGBA{200, 200, 200, 255}), w.leaf, image.Pt(0, 0))
	tag := imaging.Crop(w.leaf, image.Rect(width*27/100, h*76/100, width*35/100, h*88/100))
	made := func(f func() image.Image) func() []byte { return func() []byte { return asJPEG(t, f()) } }
	times := func(f float64) func() []byte {
		return made(func() image.Image { return shade(w.leaf, func(v float64) float64 { return v * f }) })
	}
	is := func(img image.Image) func() []byte { return made(func() image.Image { return img }) }
	return []way{
		{"2026-03-07 good.jpg", is(w.leaf), nil},
		{"dark 4.jpg", times(0.04), []record.GateCode{gate.Dark, gate.NoCard, gate.FewMarkers}},
		{"dark 6.jpg", times(0.06), []record.GateCode{gate.Dark, gate.NoCard, gate.FewMarkers}},
		{"dark 8.jpg", times(0.08), []record.GateCode{gate.Dark, gate.FewMarkers}},
		{"dark 10.jpg", times(0.10), []record.GateCode{gate.Dark}},
		{"black.jpg", times(0), []record.GateCode{gate.Dark}},
		{"clipped.jpg", times(1.35), []record.GateCode{gate.Clipped, gate.ClippedHard}},
		{"clipped hard.jpg", times(3), []record.GateCode{gate.ClippedHard, gate.NoCard, gate.FewMarkers}},
		{"blurred.jpg", is(imaging.Blur(w.leaf, 5)), []record.GateCode{gate.Blurred}},
		{"small.jpg", is(imaging.Resize(w.leaf, width/3, 0, imaging.Box)), []record.GateCode{gate.CardSmall, gate.NoCard, gate.FewMarkers}},
		{"not listed.jpg", is(w.other), []record.GateCode{gate.UnknownTag}},
		{"grey.jpg", is(imaging.Grayscale(w.leaf)), []record.GateCode{gate.ColourLost, gate.ColourCast}},
		{"two cards.jpg", is(imaging.Paste(beside, w.leaf, image.Pt(width, 0))), []record.GateCode{gate.TwoCards}},
		{"one tag twice.jpg", is(imaging.Paste(w.leaf, tag, image.Pt(width*75/100, h*85/100))), []record.GateCode{gate.TwoTags}},
		{"two plants.jpg", is(imaging.Paste(beside, w.other, image.Pt(width, 0))), []record.GateCode{gate.TwoTags}},
		{"1976-03-07 early.jpg", times(0.99), []record.GateCode{gate.DateEarly}},
		{"2019-03-07 before the first plant.jpg", times(0.98), []record.GateCode{gate.DateEarly}},
		{"2062-03-07 future.jpg", times(0.97), []record.GateCode{gate.DateFuture}},
	}
}

// rest are the photos that take a minute (make slow).
func (w *wholeWay) rest(t *testing.T) []way {
	leaf, root := w.leaf, w.root
	width, h := leaf.Bounds().Dx(), leaf.Bounds().Dy()
	ofUnknownSize := imaging.Paste(root, imaging.Resize(imaging.Crop(leaf, image.Rect(440, 915, 545, 1055)), 118, 0, imaging.Lanczos), image.Pt(172, 660)) // the tag of 12
	is := func(img image.Image) func() []byte { return func() []byte { return asJPEG(t, img) } }
	file := func(data []byte) func() []byte { return func() []byte { return data } }
	var bomb bytes.Buffer
	require.NoError(t, png.Encode(&bomb, imaging.New(3, 3, color.White)))
	packed := func() []byte {
		lossless, err := gocv.IMDecode(asJPEG(t, leaf), gocv.IMReadColor)
		require.NoError(t, err)
		defer lossless.Close()
		tif, err := gocv.IMEncodeWithParams(".tiff", lossless, []int{259, 5}) // IMWRITE_TIFF_COMPRESSION, LZW
		require.NoError(t, err)
		defer tif.Close()
		return bytes.Clone(tif.GetBytes())
	}
	// A part of the pot's wall is left out by hand.
	hidden := func(name string, x0, x1 float64) func() []byte {
		return func() []byte {
			c, err := collection.Open(w.dir)
			require.NoError(t, err)
			data := asJPEG(t, root)
			mark := collection.Mark{What: collection.MarkLeaveOut, Rings: [][][2]float64{{{x0, 0.37}, {x1, 0.37}, {x1, 0.69}, {x0, 0.69}, {x0, 0.37}}}}
			require.NoError(t, c.SaveMarks(collection.Hash(data), name, []collection.Mark{mark}))
			return data
		}
	}
	ways := []way{
		{"no picture.jpg", file([]byte("words")), []record.GateCode{gate.UnknownFormat}},
		{"cut short.jpg", file(asJPEG(t, leaf)[:50_000]), []record.GateCode{gate.Unreadable}},
		{"claims too much.png", file(withPNGSize(bomb.Bytes(), 60_000, 60_000)), []record.GateCode{gate.TooLarge}},
		{undated, is(leaf), []record.GateCode{gate.NoDate}},
		{"packed by LZW.tiff", packed, []record.GateCode{gate.Unchecked}},
		{"no card.jpg", is(onCard(leaf, -2, -2, 150, 102)), []record.GateCode{gate.NoCard}},
		{"one marker.jpg", is(onCard(onCard(leaf, 31, -2, 150, 102), -2, 60, 40, 102)), []record.GateCode{gate.FewMarkers}},
		{"three markers.jpg", is(onCard(leaf, -2, 3, 150, 31)), []record.GateCode{gate.SomeMarkers}},
		{"leaf over the card.jpg", is(onCard(leaf, -5, 29, 27, 102)), []record.GateCode{gate.CardCovered}},
		{"card hidden.jpg", is(onCard(leaf, -5, 29, 88, 102)), []record.GateCode{gate.CardHidden}},
		{"bent card.jpg", file(withExif(asJPEG(t, bent(leaf, 5)), w.raw)), []record.GateCode{gate.BentCard}},
		{"tilted.jpg", is(tilted(leaf, 43)), []record.GateCode{gate.Tilted}},
		{"oblique.jpg", is(tilted(leaf, 52)), []record.GateCode{gate.Oblique}},
		{"soft.jpg", is(imaging.Blur(root, 1.1)), []record.GateCode{gate.Soft}},
		{"uneven light.jpg", is(lit(leaf, func(mm float64) [3]float64 { g := math.Exp(-0.009 * mm); return [3]float64{g, g, g} })), []record.GateCode{gate.Gradient}},
		{"two lights.jpg", is(lit(leaf, func(mm float64) [3]float64 { // a lamp from the left, daylight from the right
			g := math.Exp(0.0015 * (mm - 74))
			return [3]float64{0.7 * g, 0.7, 0.7 / g}
		})), []record.GateCode{gate.ColourCast}},
		{"2026-06-07 a card of unknown colours.jpg", is(leaf), []record.GateCode{gate.CardColours}},
		{"left out.jpg", is(imaging.AdjustBrightness(leaf, 1)), []record.GateCode{gate.Excluded}},
		{"no tag.jpg", is(painted(leaf, image.Rect(440, 915, 545, 1055), color.NRGBA{225, 222, 215, 255})), []record.GateCode{gate.NoTag}},
		{"no plant.jpg", is(painted(leaf, image.Rect(0, 0, 960, 905), color.NRGBA{150, 150, 148, 255})), []record.GateCode{gate.NoPlant}},
		{"cut off.jpg", is(imaging.Crop(leaf, image.Rect(220, 0, width, h))), []record.GateCode{gate.CutOff}},
		{"pot of unknown size.jpg", is(ofUnknownSize), []record.GateCode{gate.PotGuess}},
		{"no pot.jpg", is(painted(ofUnknownSize, image.Rect(330, 430, 740, 860), color.NRGBA{150, 150, 148, 255})), []record.GateCode{gate.NoPot}},
		{"pot cut off at its side.jpg", is(imaging.Crop(imaging.Paste(root, imaging.Crop(root, image.Rect(180, 640, 320, 830)), image.Pt(1300, 900)), image.Rect(390, 0, width, h))), []record.GateCode{gate.NoPot}},
		{"pot cut off at its foot.jpg", is(imaging.Crop(root, image.Rect(0, 0, width, 770))), []record.GateCode{gate.NoPot}},
		{"pot of one colour.jpg", is(painted(root, image.Rect(372, 470, 700, 805), color.NRGBA{170, 95, 60, 255})), []record.GateCode{gate.PotOpaque}},
		{"pot with a flat front.jpg", is(flattened(w.later, 0.2)), []record.GateCode{gate.PotShape}},
		{"half of the wall.jpg", hidden("half of the wall.jpg", 0.22, 0.335), []record.GateCode{gate.WallHidden}},
		{"nearly all of the wall.jpg", hidden("nearly all of the wall.jpg", 0.22, 0.44), []record.GateCode{gate.WallBlind}},
	}
	for _, d := range drawnPots {
		ways = append(ways, way{fmt.Sprintf("drawn pot, %s.jpg", d.want), file(w.pots[d.want]), []record.GateCode{d.want}})
	}
	return ways
}

// worked are the gates of the worker itself, which TestWorkersThatFail sends the whole way.
var worked = []record.GateCode{gate.Timeout, gate.Memory, gate.Crashed}

// Every gate is met on the whole way, with its reason and never as "measuring failed"; a gate without a photo that is sent through it
// fails the test in each run, one that its photo does not meet in the slow ones.
func TestGatesHoldOnTheWholeWay(t *testing.T) {
	w := newWholeWay(t)
	quick, rest := w.quick(t), w.rest(t)
	wanted := slices.Clone(worked)
	for _, f := range slices.Concat(quick, rest) {
		wanted = append(wanted, f.want...)
	}
	for _, g := range gate.All() {
		assert.Contains(t, wanted, g.Code, "no photo is sent through this gate")
	}
	pool := Pool{Command: []string{os.Args[0], partCollection, w.dir}, Workers: 1, Limit: 10 * time.Minute}
	c, err := collection.Open(w.dir)
	require.NoError(t, err)
	require.Empty(t, c.Problems)
	st, err := series.Open(c.StorePath())
	require.NoError(t, err)
	defer st.Close()
	met := slices.Clone(worked)
	send := func(f way) {
		p := throughWorker(t, pool, st, f.name, f.data())
		codes := gate.Codes(p.Reasons)
		t.Logf("%-40s %s", f.name, codes)
		assert.NotContains(t, codes, "crashed", f.name)
		for _, r := range p.Reasons {
			met = append(met, r.Code)
		}
		if f.want == nil {
			assert.Equal(t, record.Accepted, p.Status, "%s: %s", f.name, codes)
			return
		}
		assert.True(t, slices.ContainsFunc(f.want, p.HasReason), "%s: %q has none of %v", f.name, codes, f.want)
		assert.NotEqual(t, record.Accepted, p.Status, f.name)
	}
	for _, f := range quick {
		send(f)
	}
	if !slow() {
		return
	}
	for _, f := range rest {
		send(f)
	}
	for _, g := range gate.All() {
		assert.Contains(t, met, g.Code, "no photo meets this gate")
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
