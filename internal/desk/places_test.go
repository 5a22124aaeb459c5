package desk

import (
	"context"
	"encoding/json"
	"fmt"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/collection"
	"phototrack/internal/gate"
	"phototrack/internal/pipeline"
	"phototrack/internal/record"
)

// unsureOf lets a stored photo be in doubt about the lower half of its largest leaf outline, and gives that place's
// corners relative to the photo.
func (b *bench) unsureOf(t *testing.T, name string, code record.GateCode) (box [4]float64) {
	t.Helper()
	c, err := collection.Open(b.dir)
	require.NoError(t, err)
	st, err := b.desk.writing.take(c)
	require.NoError(t, err)
	defer b.desk.writing.release()
	p, ok, err := st.Get(context.Background(), b.sha(t, name))
	require.NoError(t, err)
	require.True(t, ok)
	var leaf record.Outline
	var others []record.Outline
	for _, o := range p.Outlines {
		if o.Kind == "leaf" && len(o.Points) > len(leaf.Points) {
			leaf = o
		}
		if o.Kind != pipeline.KindUnsure && o.Kind != pipeline.KindUnsureHole {
			others = append(others, o)
		}
	}
	require.NotEmpty(t, leaf.Points)
	x0, y0, x1, y1 := leaf.Points[0].X, leaf.Points[0].Y, leaf.Points[0].X, leaf.Points[0].Y
	for _, q := range leaf.Points {
		x0, y0, x1, y1 = min(x0, q.X), min(y0, q.Y), max(x1, q.X), max(y1, q.Y)
	}
	y0 = (y0 + y1) / 2
	p.Outlines = append(others, record.Outline{Kind: pipeline.KindUnsure, Closed: true, Points: []record.Point{{X: x0, Y: y0}, {X: x1, Y: y0}, {X: x1, Y: y1}, {X: x0, Y: y1}}})
	p.Pictures, err = st.Pictures(context.Background(), p.SHA256, pipeline.PicturePlain, pipeline.PictureOverlay)
	require.NoError(t, err)
	p.Reasons = []record.Reason{{Code: code, Detail: "up to 9 cm² of 90, mostly in 1 place"}}
	p.Status = gate.StatusOf(p.Reasons)
	require.NoError(t, st.Put(context.Background(), &p))
	b.desk.writing.stored.Add(1)
	w, h := float64(p.WidthPx), float64(p.HeightPx)
	return [4]float64{x0 / w, y0 / h, x1 / w, y1 / h}
}

// drawingOf is the data that a photo's page gives its script.
func (b *bench) drawingOf(t *testing.T, name string) (d drawing) {
	t.Helper()
	_, page := b.get(t, "/photo/"+b.sha(t, name))
	_, rest, ok := strings.Cut(page, `id="drawing">`)
	require.True(t, ok)
	data, _, _ := strings.Cut(rest, "</script>")
	require.NoError(t, json.Unmarshal([]byte(data), &d))
	return d
}

// A photo in doubt is named on its month's page; a word about the place moves its numbers, is offered for the next photo
// and nothing more, and is taken back to the last digit.
func TestAPlaceInDoubtIsDecided(t *testing.T) {
	const first, next = "012_2026-04_L.jpg", "012_2026-05_L.jpg"
	b := serve(t, first, next)
	full := b.value(t, first, record.LeafArea)
	_, page := b.get(t, "/?month=2026-04")
	assert.NotContains(t, page, `id="waitlist"`)
	box := b.unsureOf(t, first, gate.TooUnsure)
	sha := b.sha(t, first)
	_, page = b.get(t, "/?month=2026-04")
	assert.Contains(t, page, `id="waitlist"`)
	assert.Contains(t, page, `href="/photo/`+sha+`#places"`)
	assert.Contains(t, page, "It counts once that is said.")
	_, page = b.get(t, "/?month=2026-05")
	assert.NotContains(t, page, `id="waitlist"`)

	d := b.drawingOf(t, first)
	require.Len(t, d.Places, 1)
	k := d.Places[0]
	assert.Nil(t, k.Was)
	assert.Regexp(t, `^\d+(\.\d)? cm²$`, k.Size)
	assert.True(t, within(k.Rings, k.At))
	for _, at := range [][2]float64{{box[0], box[1]}, {box[2], box[1]}, {box[2], box[3]}, {box[0], box[3]}} {
		assert.True(t, within(k.Rings, at), "the answer covers the place with its corners")
	}

	tell := func(marks ...collection.Mark) (m measured) {
		body, err := json.Marshal(map[string]any{"marks": append([]collection.Mark{}, marks...)})
		require.NoError(t, err)
		code, text := b.send(t, "/photo/"+sha+"/marks", "application/json", strings.NewReader(string(body)))
		require.Equal(t, 200, code, text)
		require.NoError(t, json.Unmarshal([]byte(text), &m))
		return m
	}
	answer := tell(collection.Mark{What: collection.MarkLeaveOut, Note: "asked: not leaf", Rings: k.Rings})
	assert.Contains(t, b.file(t, "marks/"+collectionRef(sha, first)+".json"), "asked: not leaf")
	assert.Less(t, b.value(t, first, record.LeafArea), 0.9*full)
	for _, left := range answer.Places {
		assert.Less(t, shareIn(left.Rings, k.Rings), 0.25, "nothing in the place is asked again; outlines of neighbours are drawn a little larger and may touch")
	}

	b.unsureOf(t, next, gate.Unsure)
	before := b.value(t, next, record.LeafArea)
	d = b.drawingOf(t, next)
	require.Len(t, d.Places, 1)
	require.NotNil(t, d.Places[0].Was, "the plant hardly moved within a month")
	assert.Equal(t, collection.MarkLeaveOut, d.Places[0].Was.What)
	assert.Contains(t, d.Places[0].Was.When, "April 2026")
	assert.Equal(t, "as on "+first, d.Places[0].Was.Note)
	assert.Empty(t, d.Marks, "it is offered, not taken")
	assert.Equal(t, before, b.value(t, next, record.LeafArea))

	tell()
	assert.Equal(t, full, b.value(t, first, record.LeafArea), "taken back to the last digit")
}

func shareIn(rings, of [][][2]float64) float64 {
	n, all := 0, samples(rings)
	for _, at := range all {
		if within(of, at) {
			n++
		}
	}
	return float64(n) / float64(len(all))
}

// What was said nearby is not said of a place; of two answers that which covers more of it counts, and what is left out wins.
func TestWhatIsOfferedForAPlace(t *testing.T) {
	box := func(what string, x0, y0, x1, y1 float64) collection.Mark {
		return collection.Mark{What: what, Rings: [][][2]float64{{{x0, y0}, {x1, y0}, {x1, y1}, {x0, y1}, {x0, y0}}}}
	}
	k := doubtful{Rings: box("", .2, .2, .4, .4).Rings}
	keep, out := collection.MarkKeep, collection.MarkLeaveOut
	for name, c := range map[string]struct {
		marks []collection.Mark
		want  string
	}{
		"none":       {nil, ""},
		"beside":     {[]collection.Mark{box(keep, .5, .2, .9, .4)}, ""},
		"a corner":   {[]collection.Mark{box(keep, .3, .3, .5, .5)}, ""},
		"half of it": {[]collection.Mark{box(keep, .3, .1, .5, .5)}, keep},
		"two":        {[]collection.Mark{box(keep, .2, .2, .28, .4), box(out, .28, .2, .4, .4)}, out},
		"both":       {[]collection.Mark{box(out, .1, .1, .5, .5), box(keep, .1, .1, .5, .5)}, out},
	} {
		assert.Equal(t, c.want, saidOf(&k, c.marks), name)
	}
}

// An answer leaves the sure ground within a place alone.
func TestAPlaceRoundSureGround(t *testing.T) {
	square := func(kind string, a, b float64) record.Outline {
		return record.Outline{Kind: kind, Closed: true, Points: []record.Point{{X: a, Y: a}, {X: b, Y: a}, {X: b, Y: b}, {X: a, Y: b}}}
	}
	p := &record.Photo{WidthPx: 1000, HeightPx: 1000, Outlines: []record.Outline{square("leaf", 0, 900), square(pipeline.KindUnsure, 100, 400),
		square(pipeline.KindUnsureHole, 200, 300), square(pipeline.KindUnsure, 500, 600), square("hole", 540, 560)}}
	list := placesOf(&collection.Collection{}, nil, p)
	require.Len(t, list, 2)
	assert.Len(t, list[0].Rings, 2)
	assert.Len(t, list[1].Rings, 1)
	assert.False(t, within(list[0].Rings, [2]float64{.25, .25}))
	assert.True(t, within(list[0].Rings, [2]float64{.15, .15}))
	assert.True(t, within(list[0].Rings, list[0].At))
	assert.Empty(t, list[0].Size, "without a card there is no size")
}

func TestPlacesInTheBrowser(t *testing.T) {
	const name, next = "012_2026-04_L.jpg", "012_2026-05_L.jpg"
	b := serve(t, name, next)
	box := b.unsureOf(t, name, gate.TooUnsure)
	w := openBrowser(t, b)
	w.open(t, "/?month=2026-04")
	w.shoot(t, "places-month")
	w.click(t, "#waitlist a")
	w.Until(t, `location.pathname.startsWith("/photo/") && document.readyState==="complete" && document.querySelectorAll("#placelist > li").length===1`)
	before := eval[string](t, w, areaShown)
	w.shoot(t, "places-photo")

	// A click on the place chooses it; the button says what it is.
	mid := [2]float64{(box[0] + box[2]) / 2, (box[1] + box[3]) / 2}
	w.drag(t, [][2]float64{mid})
	assert.Equal(t, "Place 1: leaf", eval[string](t, w, `document.activeElement.getAttribute("aria-label")`))
	assert.True(t, eval[bool](t, w, `document.querySelector("#placelist li").classList.contains("now")`))
	w.click(t, `#placelist button[aria-label="Place 1: not leaf"]`)
	w.measured(t, before)
	said := eval[string](t, w, areaShown)
	assert.Contains(t, b.file(t, "marks/"+collectionRef(b.sha(t, name), name)+".json"), "asked: not leaf")
	assert.Contains(t, eval[string](t, w, `document.getElementById("marklist").textContent`), "asked: not leaf")
	w.shoot(t, "places-said")
	w.click(t, "#undo")
	w.measured(t, said)
	assert.Equal(t, before, eval[string](t, w, areaShown))

	// The same by keys, on the next photo, where what was said before is offered.
	w.click(t, "#redo")
	w.measured(t, before)
	b.unsureOf(t, next, gate.Unsure)
	for i, c := range []struct {
		w, h int64
		dark bool
	}{{1280, 900, false}, {390, 844, false}, {1280, 900, true}} {
		w.Size(t, c.w, c.h, c.dark)
		w.open(t, "/photo/"+b.sha(t, next))
		w.Until(t, `document.querySelectorAll("#placelist button").length===3`)
		assert.Contains(t, eval[string](t, w, `document.getElementById("placelist").textContent`), "you said: not leaf")
		w.NoSideways(t, "places")
		w.shoot(t, fmt.Sprintf("places-offered-%d", i))
	}
	before = eval[string](t, w, areaShown)
	w.Do(t, chromedp.Focus(chromedp.CSS("#placelist button")), chromedp.SendKeys(chromedp.CSS("#placelist button"), "n"))
	w.measured(t, before)
	assert.Contains(t, b.file(t, "marks/"+collectionRef(b.sha(t, next), next)+".json"), "leave_out")
	w.Quiet(t)
}
