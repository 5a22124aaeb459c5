package plate

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/gif"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/caption"
	"phototrack/internal/record"
)

func areaWords(mm2 float64) string { return fmt.Sprintf("%.0f ± %.0f cm²", mm2/100, mm2*0.035/100) }

// keep writes a picture to where it can be looked at, if PLATE_OUT is set.
func keep(t testing.TB, name string, b []byte) {
	if dir := os.Getenv("PLATE_OUT"); dir != "" {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), b, 0o644))
	}
}

// squareFrame renders a black square of a known size in mm on white as a camera sees it that is tilted and turned: each
// pixel is the mean of 4 x 4 rays through the exact inverse homography.
func squareFrame(t testing.TB, sideMM, tiltDeg, turnDeg, pxPerMM float64) Frame {
	t.Helper()
	const w, h, dist = 900, 700, 600.0
	f := pxPerMM * dist
	st, ct := math.Sincos(tiltDeg * math.Pi / 180)
	ss, cs := math.Sincos(turnDeg * math.Pi / 180)
	// plane axes in the camera: turned in the plane, then tilted about the picture's vertical
	e1, e2 := [3]float64{cs * ct, ss, cs * st}, [3]float64{-ss * ct, cs, -ss * st}
	var hm [9]float64
	for j, v := range [3][3]float64{e1, e2, {0, 0, dist}} {
		hm[j] = f*v[0] + (w/2)*v[2]
		hm[3+j] = f*v[1] + (h/2)*v[2]
		hm[6+j] = v[2]
	}
	inv, ok := invert(hm)
	require.True(t, ok)
	m := image.NewNRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			in := 0
			for s := range 16 {
				p := apply(inv, Point{float64(x) + (float64(s%4)-1.5)/4, float64(y) + (float64(s/4)-1.5)/4})
				if math.Abs(p.X) < sideMM/2 && math.Abs(p.Y) < sideMM/2 {
					in++
				}
			}
			v := uint8(255 - 255*in/16)
			m.SetNRGBA(x, y, color.NRGBA{v, v, v, 255})
		}
	}
	return Frame{Plant: 1, Date: "2026-03-07", Image: m, ToPx: hm, Extent: Box{-55, -45, 55, 45}}
}

// darkness sums how black a region is: the area of a black shape in px, its edge pixels by their share.
func darkness(m image.Image, r image.Rectangle) float64 {
	sum := 0.0
	for y := r.Min.Y; y < r.Max.Y; y++ {
		for x := r.Min.X; x < r.Max.X; x++ {
			v, _, _, _ := m.At(x, y).RGBA()
			sum += 1 - float64(v)/0xffff
		}
	}
	return sum
}

// TestSizeOnThePlateIsWhatItsBarSays reads the written file back: the square's area in px against the bar's length in
// px. The limit is half a per cent of length.
func TestSizeOnThePlateIsWhatItsBarSays(t *testing.T) {
	const side = 60.0
	for _, c := range []struct {
		name           string
		tilt, turn, px float64
		preset         string
		exact          bool
	}{
		{"square on, screen", 0, 0, 3, "screen", false},
		{"tilted and turned, screen", 25, 12, 3, "screen", false},
		{"small picture enlarged, a4", 10, -8, 1.8, "a4", false},
		{"large picture reduced, square", 15, 5, 6, "square", false},
		{"round scale, a4", 5, 3, 3, "a4", true},
		{"wide", 30, 0, 4, "wide", false},
		{"three px for each of the panel's", 5, 2, 7, "six panels", false},
	} {
		t.Run(c.name, func(t *testing.T) {
			preset, ok := PresetNamed(c.preset)
			f := squareFrame(t, side, c.tilt, c.turn, c.px)
			f.photo = 0.75 // a photo's working picture: cropped, reduced and evened out on its way
			s := Spec{Preset: preset, Rows: []Row{{Frames: []Frame{f}}}, Exact: c.exact}
			if !ok {
				s.Rows[0].Frames = []Frame{f, f, f, f, f, f}
			}
			var b bytes.Buffer
			require.NoError(t, WritePNG(&b, s))
			m, err := png.Decode(&b)
			require.NoError(t, err)
			l, err := plan(&s)
			require.NoError(t, err)
			bar := barPx(t, m, l)
			px := math.Sqrt(darkness(m, middle(l)))
			assert.InDelta(t, side, px/bar*l.barMM, side*0.005, "a square of %g mm by the bar of %g mm", side, l.barMM)
			if c.exact {
				ratio := preset.DPI / 25.4 / l.scale
				assert.Contains(t, ratios, math.Round(ratio*10)/10, "paper to plant is a round scale")
			}
		})
	}
}

// middle is the first panel.
func middle(l layout) image.Rectangle {
	x, y := int(l.margin), int(l.top)
	return image.Rect(x, y, x+l.panelW, y+l.panelH)
}

// barPx finds the bar's length in the picture: the sum of darkness along its middle row, against the bar's own ink.
func barPx(t testing.TB, m image.Image, l layout) float64 {
	t.Helper()
	y := int(math.Floor(l.top) + float64(l.panelH) + l.lineH - 0.5*l.unit)
	x1 := int(l.margin) + l.panelW + 2
	x0 := x1 - 2 - int(l.barMM*l.scale+0.5*l.unit)
	paper := float64(paperInk.R)
	sum := 0.0
	for x := x0; x < x1; x++ {
		v, _, _, _ := m.At(x, y).RGBA()
		sum += (paper - float64(v>>8)) / (paper - float64(darkInk.R))
	}
	require.Greater(t, sum, 40.0, "a bar was found")
	return sum
}

func TestEventsStandBetweenTheirDates(t *testing.T) {
	r := Row{Frames: []Frame{{Date: "2026-03-07"}, {Date: "2026-04-18"}, {Date: "2026-05-09"}},
		Events: []record.Event{{Date: "2026-04-18", Kind: "repot"}, {Date: "2026-03-20", Kind: "feed"}}}
	assert.Equal(t, []string{"since: feed, 20 March 2026"}, between(r, 1))
	assert.Equal(t, []string{"since: repot, 18 April 2026"}, between(r, 2), "a photo on the event's own day counts as before it")
}

func TestPlatesOfTheBench(t *testing.T) {
	a := sceneFrames(t, 12)
	b := sceneFrames(t, 44)
	events := []record.Event{{Date: "2026-04-18", Plant: 12, Kind: "repot", Note: "fresh mix and one size up"}}
	w := caption.Words{Plant: 12, Name: "Clivia A", Collection: "Greenhouse club, north bench"}
	for _, c := range []struct {
		name string
		spec Spec
	}{
		{"five-screen", Spec{Rows: []Row{{Label: "12 Clivia A", Frames: a, Events: events}}, Words: w}},
		{"five-square", Spec{Rows: []Row{{Label: "12 Clivia A", Frames: a, Events: events}}, Words: w}},
		{"pair-wide", Spec{Rows: []Row{{Label: "12 Clivia A", Frames: []Frame{a[0], a[4]}, Events: events}}, Words: w}},
		{"two-a4", Spec{Rows: []Row{{Label: "12  Clivia A, repotted", Frames: []Frame{a[0], a[2], a[4]}, Events: events}, {Label: "44  Clivia B, comparison", Frames: []Frame{b[0], b[2], b[4]}}}, Words: w, Texts: &caption.Texts{Title: "Repotted and comparison", Caption: caption.Defaults().Caption}, Exact: true}},
	} {
		t.Run(c.name, func(t *testing.T) {
			var ok bool
			_, preset, _ := cutLast(c.name)
			c.spec.Preset, ok = PresetNamed(preset)
			require.True(t, ok)
			var img, pdf bytes.Buffer
			require.NoError(t, WritePNG(&img, c.spec))
			require.NoError(t, WritePDF(&pdf, c.spec))
			keep(t, c.name+".png", img.Bytes())
			keep(t, c.name+".pdf", pdf.Bytes())
			m, err := png.Decode(&img)
			require.NoError(t, err)
			assert.Equal(t, image.Rect(0, 0, c.spec.Preset.W, c.spec.Preset.H), m.Bounds())
		})
	}
}

func TestMovingPicture(t *testing.T) {
	var b bytes.Buffer
	frames := sceneFrames(t, 12)
	require.NoError(t, Animate(&b, []Row{{Label: "12 Clivia A", Frames: frames}}, Motion{}))
	keep(t, "moving.gif", b.Bytes())
	g, err := gif.DecodeAll(bytes.NewReader(b.Bytes()))
	require.NoError(t, err)
	require.Len(t, g.Image, len(frames))
	assert.Zero(t, g.LoopCount, "it plays for ever")
	for _, d := range g.Delay {
		assert.GreaterOrEqual(t, d, 100, "each session is held for a second or more")
	}
	assert.Less(t, b.Len(), 3_000_000, "chat programs take it")
	require.ErrorIs(t, Animate(&b, nil, Motion{}), ErrNothing)
}

// Two plants move side by side and in step: a round's photos together, and a plant without a photo in it as it was before.
func TestMovingPictureOfTwoPlants(t *testing.T) {
	one, two := sceneFrames(t, 12), sceneFrames(t, 44)
	two = append(two[:1:1], two[2:]...) // the second round has no photo of it
	rows := []Row{{Label: "12 Clivia A", Frames: one}, {Label: "44 Clivia B", Frames: two}}
	got := steps(rows)
	require.Len(t, got, len(one))
	for i, step := range got {
		require.Len(t, step, 2)
		assert.Equal(t, one[i].Date, step[0].Date)
		assert.Equal(t, two[max(0, i-1)].Date, step[1].Date, "step %d", i)
	}
	assert.Len(t, steps([]Row{{Frames: []Frame{{Date: "2026-03-01"}, {Date: "2026-04-01"}}}, {Frames: []Frame{{Date: "2026-03-08"}}}}), 2, "a week apart is one round")

	var b bytes.Buffer
	require.NoError(t, Animate(&b, rows, Motion{}))
	keep(t, "moving-two.gif", b.Bytes())
	g, err := gif.DecodeAll(bytes.NewReader(b.Bytes()))
	require.NoError(t, err)
	require.Len(t, g.Image, len(one))
	assert.Greater(t, float64(g.Config.Width), 1.2*float64(g.Config.Height), "both stand in it: each is higher than wide")
	assert.Less(t, b.Len(), 6_000_000, "chat programs take it")
}

func TestSheetOfTheCollection(t *testing.T) {
	var frames []Frame
	for _, n := range []int{12, 17, 23, 44, 45} {
		f := sceneFrames(t, n)[4]
		f.Head = fmt.Sprintf("%d  plant of the bench", n)
		frames = append(frames, f)
	}
	preset, _ := PresetNamed("a4")
	pages, err := Sheets(Spec{Preset: preset, Rows: []Row{{Frames: frames}}, Words: caption.Words{Name: "North bench", Collection: "North bench"}}, 4)
	require.NoError(t, err)
	require.Len(t, pages, 2)
	var scales []float64
	for i := range pages {
		m, s, err := Render(pages[i])
		require.NoError(t, err)
		scales = append(scales, s)
		var b bytes.Buffer
		require.NoError(t, encodePNG(&b, m, 300))
		keep(t, fmt.Sprintf("sheet-%d.png", i), b.Bytes())
	}
	assert.InDelta(t, scales[0], scales[1], 1e-9, "all pages have one scale")
	var b bytes.Buffer
	require.NoError(t, WriteSheetsPDF(&b, pages))
	keep(t, "sheet.pdf", b.Bytes())
}

func TestNewRootIsToldFromOld(t *testing.T) {
	straight := func(x, y0, y1 float64) []record.Point {
		var out []record.Point
		for y := y0; y <= y1; y++ {
			out = append(out, record.Point{X: x, Y: y})
		}
		return out
	}
	frames := make([]Frame, 2)
	drawRoots(frames, [][][]record.Point{{straight(0, 0, 40)}, {straight(1.5, 0, 70), straight(30, 10, 20)}})
	require.Len(t, frames[0].Lines, 1)
	assert.False(t, frames[0].Lines[0].New, "the first month has nothing to be new against")
	length := map[bool]float64{}
	for _, l := range frames[1].Lines {
		for i := 1; i < len(l.Points); i++ {
			length[l.New] += math.Hypot(l.Points[i].X-l.Points[i-1].X, l.Points[i].Y-l.Points[i-1].Y)
		}
	}
	// the old root went on from 40 to 70 mm (less the 4 mm that still touch it), a second one of 10 mm is new
	assert.InDelta(t, 30+10, length[true], 4.5)
	assert.InDelta(t, 40, length[false], 4.5)
}

func TestBlackSidesOfAWallAreGround(t *testing.T) {
	m := image.NewNRGBA(image.Rect(0, 0, 12, 3))
	for i := 0; i < len(m.Pix); i += 4 {
		m.Pix[i+3] = 255
		if x := i / 4 % 12; i/48 == 1 && x > 2 && x < 9 && x != 5 {
			m.Pix[i], m.Pix[i+1], m.Pix[i+2] = 90, 60, 40
		}
	}
	out := withoutBlackSides(m)
	assert.Equal(t, ground, out.NRGBAAt(2, 1))
	assert.Equal(t, ground, out.NRGBAAt(11, 1))
	assert.Equal(t, uint8(90), out.NRGBAAt(3, 1).R)
	assert.Zero(t, out.NRGBAAt(5, 1).R, "a dark spot within the wall stays")
	assert.Equal(t, ground, out.NRGBAAt(6, 0), "a row of which nothing was seen")
	assert.Zero(t, m.NRGBAAt(0, 0).R, "the picture given is left alone")
}

func TestRootPlate(t *testing.T) {
	var frames []Frame
	var roots [][][]record.Point
	for i, day := range []string{"2026-05-08", "2026-06-13", "2026-07-11"} {
		wall := image.NewNRGBA(image.Rect(0, 0, 500, 500))
		for j := range wall.Pix {
			wall.Pix[j] = []uint8{96, 70, 52, 255}[j%4]
		}
		p := &record.Photo{Plant: 31}
		f, ok := FromWall(p, wall, 4, -62.5, 0)
		require.True(t, ok)
		f.Date, f.Values = day, []string{"visible root length 380 ± 30 mm"}
		frames = append(frames, f)
		var month [][]record.Point
		for r := range 4 {
			var pts []record.Point
			for y := 8.0; y < 30+25*float64(i)+8*float64(r); y += 2 {
				pts = append(pts, record.Point{X: -45 + 28*float64(r) + 6*math.Sin(y/18+float64(r)), Y: y})
			}
			month = append(month, pts)
		}
		roots = append(roots, month)
	}
	drawRoots(frames, roots)
	preset, _ := PresetNamed("wide")
	var b bytes.Buffer
	require.NoError(t, WritePNG(&b, Spec{Preset: preset, Rows: []Row{{Frames: frames}}, Words: caption.Words{Plant: 31, Name: "Vanda seedling, the wall unrolled"}}))
	keep(t, "roots.png", b.Bytes())
	m, err := png.Decode(&b)
	require.NoError(t, err)
	fresh := 0
	for y := range m.Bounds().Dy() {
		for x := range m.Bounds().Dx() {
			if c, ok := color.NRGBAModel.Convert(m.At(x, y)).(color.NRGBA); ok && c == accentInk {
				fresh++
			}
		}
	}
	assert.Greater(t, fresh, 500, "new growth is drawn")
}

func cutLast(s string) (string, string, bool) {
	for i := len(s) - 1; i >= 0; i-- {
		if s[i] == '-' {
			return s[:i], s[i+1:], true
		}
	}
	return s, "", false
}
