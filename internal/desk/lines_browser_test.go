package desk

import (
	"path/filepath"
	"testing"
	"time"

	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/browsertest"
	"phototrack/internal/collection"
)

// serveParts serves the sample plants with parts: June's photo of plant 53 with its lines, July's without.
func serveParts(t *testing.T) *bench {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "bench")
	_, err := collection.Init(dir)
	require.NoError(t, err)
	for _, f := range []string{"plants", "events", "watch", "parts", "counts"} {
		copyFile(t, "../../samples/parts/"+f+".csv", filepath.Join(dir, f+".csv"))
	}
	for _, p := range []string{"053_2026-06_L.jpg", "053_2026-07_L.jpg"} {
		copyFile(t, "../../samples/parts/photos/"+p, filepath.Join(dir, "inbox", p))
	}
	marks, err := filepath.Glob("../../samples/parts/marks/*053_2026-06*")
	require.NoError(t, err)
	require.Len(t, marks, 1)
	copyFile(t, marks[0], filepath.Join(dir, "marks", filepath.Base(marks[0])))
	return serveDir(t, dir, true)
}

// linesOf are the lines on record for a photo.
func linesOf(t *testing.T, b *bench, sha string) []collection.Mark {
	c, err := collection.Open(b.dir)
	require.NoError(t, err)
	return collection.Lines(c.MarksFor(sha))
}

// press clicks with the mouse at a place of the photo, given as a share of its width and height.
func (w *browser) press(t *testing.T, at [2]float64) {
	t.Helper()
	r := eval[[]float64](t, w, `(()=>{const r=document.querySelector("#pane .stage").getBoundingClientRect(); return [r.left,r.top,r.width,r.height]})()`)
	x, y := r[0]+at[0]*r[2], r[1]+at[1]*r[3]
	for _, kind := range []input.DispatchMouseEventType{input.DispatchMouseEventTypeMouseMoved, input.DispatchMouseEventTypeMousePressed, input.DispatchMouseEventTypeMouseReleased} {
		p := input.DispatchMouseEventParams{Type: kind, X: x, Y: y, Button: input.MouseButtonLeft, ClickCount: 1}
		if kind == input.DispatchMouseEventTypeMouseMoved {
			p.Button, p.ClickCount = input.MouseButtonNone, 0
		}
		browsertest.Call(t, w.Browser, input.DispatchMouseEvent, p)
	}
}

// The month's round of parts in a browser: proposals are taken with one key each, a line is drawn with clicks, its value seen
// while drawing, taken back; a count is typed; everything is on record afterwards.
func TestPartsInTheBrowser(t *testing.T) {
	b := serveParts(t)
	w := openBrowser(t, b)
	june, july := b.sha(t, "053_2026-06_L.jpg"), b.sha(t, "053_2026-07_L.jpg")
	require.Len(t, linesOf(t, b, june), 4)
	start := time.Now()
	w.open(t, "/photo/"+july)
	w.Until(t, `document.getElementById("parts").dataset.ready==="yes"`)
	ready := time.Since(start)
	proposed := eval[int](t, w, `document.querySelectorAll(".pl.offer").length`)
	t.Logf("page and proposals after %v; %d proposed; %s", ready, proposed, eval[string](t, w, `document.getElementById("unsure").textContent`))
	w.shoot(t, "parts-proposals")
	require.Positive(t, proposed)
	assert.Equal(t, "1", eval[string](t, w, `getComputedStyle(document.querySelector(".pl.offer.now")).strokeOpacity`), "the line is in sight")
	start = time.Now()
	for i := range proposed {
		w.Do(t, chromedp.KeyEvent("a"))
		w.Until(t, `document.querySelectorAll("#linelist li").length===`+itoa(i+1))
	}
	w.Until(t, `document.getElementById("linestatus").textContent===""`)
	t.Logf("%d proposals taken and saved in %v", proposed, time.Since(start))
	lines := linesOf(t, b, july)
	require.Len(t, lines, proposed)
	for _, l := range lines {
		assert.Equal(t, collection.DrawnAccepted, l.Line.Drawn, l.Line.Part)
	}

	// A line by hand: across the left storage organ, which is a new part.
	eval[int](t, w, `(()=>{const c=document.getElementById("partchoice"); c.value="+"; c.dispatchEvent(new Event("change")); const k=document.getElementById("partkind"); k.value="bulb"; k.dispatchEvent(new Event("change")); return 0})()`)
	assert.Equal(t, "bulb 1", eval[string](t, w, `document.getElementById("partname").value`), "the next free name")
	assert.True(t, eval[bool](t, w, `document.querySelector('[data-measure="width"]').checked`), "an organ is measured across")
	from, to := leftOrgan(t, b, july)
	w.press(t, from)
	w.press(t, to)
	w.Until(t, `/width \d/.test(document.getElementById("linestatus").textContent)`)
	assert.False(t, eval[bool](t, w, `document.getElementById("glass").hidden`), "the magnifier is there")
	w.shoot(t, "parts-drawing")
	eval[int](t, w, `document.getElementById("pane").focus(); 0`)
	w.Do(t, chromedp.KeyEvent(kb.Backspace))
	w.press(t, to)
	eval[int](t, w, `document.getElementById("pane").focus(); 0`)
	w.Do(t, chromedp.KeyEvent(kb.Enter))
	w.Until(t, `document.querySelectorAll("#linelist li").length===`+itoa(proposed+1)+` && /bulb 1 width/.test(document.getElementById("linelist").textContent)`)
	require.Len(t, linesOf(t, b, july), proposed+1)
	w.click(t, "#lineundo")
	w.Until(t, `document.querySelectorAll("#linelist li").length===`+itoa(proposed)+` && document.getElementById("linestatus").textContent===""`)
	require.Len(t, linesOf(t, b, july), proposed, "undone on record, too")

	// Counts: a number is kept, nonsense is named and the number before stays.
	eval[int](t, w, `(()=>{const i=document.querySelector("#counts input"); i.value="-3"; i.dispatchEvent(new Event("change")); return 0})()`)
	w.Until(t, `document.getElementById("linestatus").textContent.includes("below zero")`)
	w.Forgive("422")
	eval[int](t, w, `(()=>{const i=document.querySelector("#counts input"); i.value="11"; i.dispatchEvent(new Event("change")); return 0})()`)
	w.Until(t, `document.getElementById("linestatus").textContent==="buds: 11"`)
	c, err := collection.Open(b.dir)
	require.NoError(t, err)
	k := c.CountsOf(53)
	assert.Equal(t, 11, k[len(k)-1].Count)
	b.settle(t)
	w.open(t, "/photo/"+july)
	w.Until(t, `document.getElementById("parts").dataset.ready==="yes"`)
	assert.Equal(t, proposed, eval[int](t, w, `document.querySelectorAll("#linelist li").length`))
	assert.Contains(t, eval[string](t, w, `document.getElementById("numbers").textContent`), "ength of spike 1")
	w.shoot(t, "parts-done")
	looksOf(t, w, map[string]string{"plant-with-parts": "/plant/53", "photo-with-parts": "/photo/" + july, "edit-part": "/parts/edit?plant=53&part=spike+1", "month-with-parts": "/"})
}

// leftOrgan are two places at the margins of the left storage organ of plant 53 in July: on the right organ's line, moved over by
// where both stand (the scene's own geometry is not at hand here, the page's line for the right one is).
func leftOrgan(t *testing.T, b *bench, sha string) (from, to [2]float64) {
	t.Helper()
	for _, m := range linesOf(t, b, sha) {
		if m.Line.Part == "bulb 2" {
			p := m.Line.Points
			a, z := p[0], p[len(p)-1]
			// Of like size, 42 mm to the left: 42/23 of the right one's width.
			d := [2]float64{(z[0] - a[0]) * 42 / 23, (z[1] - a[1]) * 42 / 23}
			return [2]float64{a[0] - d[0], a[1] - d[1]}, [2]float64{z[0] - d[0], z[1] - d[1]}
		}
	}
	t.Fatal("the right organ's line was not proposed")
	return
}
