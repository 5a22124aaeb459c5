package desk

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/browsertest"
	"phototrack/internal/record"
)

// browser is one headless Chromium that has let itself in with the desk's key.
type browser struct {
	*browsertest.Browser
	base string
}

func openBrowser(t *testing.T, b *bench) *browser {
	t.Helper()
	w := &browser{browsertest.Open(t, b.base, os.Getenv("DESK_OUT")), b.base}
	w.Size(t, 1280, 900, false)
	w.Do(t, chromedp.Navigate(b.key))
	return w
}

func eval[T any](t *testing.T, w *browser, js string) T {
	t.Helper()
	return browsertest.Eval[T](t, w.Browser, js)
}

func (w *browser) open(t *testing.T, path string) {
	t.Helper()
	w.Do(t, chromedp.Navigate(w.base+path))
}

// shoot keeps a screenshot of the whole page where it can be looked at, if DESK_OUT is set.
func (w *browser) shoot(t *testing.T, name string) {
	t.Helper()
	w.Shoot(t, name, true)
}

// click clicks on what the selector finds, once the page is there and what is found has come to rest. A page that is
// being replaced at that moment takes the node away, and a browser with too little processor time can lose a click of
// the DevTools protocol; the click is then made again.
func (w *browser) click(t *testing.T, selector string) {
	t.Helper()
	w.Until(t, fmt.Sprintf(`document.readyState==="complete" && document.querySelector(%q)!==null`, selector))
	watch := fmt.Sprintf(`(async () => {
		const e = document.querySelector(%q), at = () => JSON.stringify(e.getBoundingClientRect()), frame = () => new Promise(f => setTimeout(f, 30));
		e.scrollIntoView({block: "nearest"});
		for (let was = "", k = 0; was !== at() && k < 100; k++) { was = at(); await frame(); }
		window.clicked = false;
		e.addEventListener("click", () => { window.clicked = true; }, {once: true, capture: true});
		return 0;
	})()`, selector)
	var err error
	for range 5 {
		eval[int](t, w, watch)
		err = w.Try(chromedp.Click(chromedp.CSS(selector)))
		if err == nil && w.arrived(t) || err != nil && !strings.Contains(err.Error(), "node with given id") {
			break
		}
		time.Sleep(100 * time.Millisecond)
	}
	require.NoError(t, err, selector)
}

// arrived says whether the click that was just made has reached the page, or led to another.
func (w *browser) arrived(t *testing.T) bool {
	t.Helper()
	for range 50 {
		if w.Holds(`window.clicked !== false`) {
			return true
		}
		time.Sleep(40 * time.Millisecond)
	}
	return false
}

// drag draws with the mouse through places of the pane, given as shares of its width and height.
func (w *browser) drag(t *testing.T, at [][2]float64) {
	t.Helper()
	eval[int](t, w, `document.getElementById("pane").scrollIntoView({block:"center"}); 0`)
	r := eval[[]float64](t, w, `(()=>{const r=document.getElementById("pane").getBoundingClientRect(); return [r.left,r.top,r.width,r.height]})()`)
	mouse := func(kind input.DispatchMouseEventType, p [2]float64) {
		params := input.DispatchMouseEventParams{Type: kind, X: r[0] + p[0]*r[2], Y: r[1] + p[1]*r[3], Button: input.MouseButtonLeft, ClickCount: 1}
		if kind != input.DispatchMouseEventTypeMouseReleased {
			params.Buttons = 1
		}
		browsertest.Call(t, w.Browser, input.DispatchMouseEvent, params)
	}
	mouse(input.DispatchMouseEventTypeMousePressed, at[0])
	for _, p := range at[1:] {
		mouse(input.DispatchMouseEventTypeMouseMoved, p)
	}
	mouse(input.DispatchMouseEventTypeMouseReleased, at[len(at)-1])
}

// areaShown is the leaf area that stands on a photo's page.
const areaShown = `document.querySelector("#numbers tr td").textContent`

// measured waits until the numbers on the page are another text, and says how long that took.
func (w *browser) measured(t *testing.T, before string) time.Duration {
	t.Helper()
	start := time.Now()
	w.Until(t, fmt.Sprintf(`document.getElementById("busy").textContent==="" && %s!==%q`, areaShown, before))
	return time.Since(start)
}

// The main flows, one after another, as a grower goes through them.
func TestInTheBrowser(t *testing.T) {
	b := serve(t, "012_2026-03_L.jpg", "012_2026-04_L.jpg", "012_2026-05_L.jpg", "017_2026-06_L.jpg", "017_2026-07_L.jpg", "031_2026-06_R.jpg", "031_2026-07_R.jpg")
	w := openBrowser(t, b)
	sha := b.sha(t, "012_2026-04_L.jpg")

	t.Run("month at a glance", func(t *testing.T) {
		w.Until(t, `document.querySelectorAll(".cards > li").length===6`)
		w.open(t, "/?find=vanda")
		assert.Equal(t, 1, eval[int](t, w, `document.querySelectorAll(".cards > li").length`))
		w.open(t, "/?show=missing&month=2026-07")
		assert.Equal(t, []string{"12", "23", "44", "45"}, eval[[]string](t, w, `Array.from(document.querySelectorAll(".cards .tag")).map(e=>e.textContent)`))
		w.open(t, "/?sort=moved&month=2026-07")
		assert.Equal(t, []bool{true, true, false, false, false, false}, eval[[]bool](t, w, `Array.from(document.querySelectorAll(".cards > li")).map(l=>!!l.querySelector(".spans .surer"))`), "those that changed come first: the roots of 31, the purple of 17")
		assert.Equal(t, 2, eval[int](t, w, `document.querySelectorAll(".cards > li:first-child .twin img").length`), "then and now")
		w.click(t, `.cardlink[href^="/plant/17"]`)
		w.Until(t, `location.pathname==="/plant/17" && document.readyState==="complete"`)
		assert.Equal(t, 3, eval[int](t, w, `document.querySelectorAll("section > .charts svg.chart").length`))
	})

	t.Run("draw, undo, redo, by mouse and by keys", func(t *testing.T) {
		w.open(t, "/photo/"+sha)
		before := eval[string](t, w, areaShown)
		require.Contains(t, before, "cm²")
		full := b.value(t, "012_2026-04_L.jpg", record.LeafArea)
		w.click(t, `[data-tool=leave_out]`)
		w.drag(t, [][2]float64{{0.02, 0.02}, {0.3, 0.02}, {0.45, 0.02}, {0.45, 0.5}, {0.45, 0.98}, {0.02, 0.98}, {0.02, 0.5}, {0.02, 0.1}})
		took := w.measured(t, before)
		t.Logf("numbers followed after %s", took.Round(time.Millisecond))
		assert.Less(t, took, 15*time.Second, "on a machine that may be busy with other tests")
		drawn := eval[string](t, w, areaShown)
		assert.Less(t, b.value(t, "012_2026-04_L.jpg", record.LeafArea), 0.98*full)
		assert.Contains(t, b.file(t, "marks/"+collectionRef(sha, "012_2026-04_L.jpg")+".json"), `"leave_out"`)
		w.shoot(t, "photo-marked")
		w.click(t, `#undo`)
		w.measured(t, drawn)
		assert.Equal(t, before, eval[string](t, w, areaShown))
		assert.Equal(t, full, b.value(t, "012_2026-04_L.jpg", record.LeafArea), "undone is undone to the last digit")
		w.click(t, `#redo`)
		w.measured(t, before)
		assert.Equal(t, drawn, eval[string](t, w, areaShown))
		w.click(t, `#marklist button`)
		w.measured(t, drawn)

		// The same without a mouse: the cross starts in the middle, where the leaves are.
		w.Do(t, chromedp.Focus(chromedp.CSS(`[data-tool=leave_out]`)), chromedp.SendKeys(chromedp.CSS(`[data-tool=leave_out]`), kb.Enter))
		for _, k := range []string{kb.Enter, kb.ArrowLeft, kb.Enter, kb.ArrowUp, kb.Enter} {
			n := 1
			if k != kb.Enter {
				n = 20
			}
			w.Do(t, chromedp.SendKeys(chromedp.CSS("#pane"), strings.Repeat(k, n)))
		}
		w.Do(t, chromedp.SendKeys(chromedp.CSS("#pane"), "c"))
		w.Until(t, `document.querySelectorAll("#marklist button").length===1 && document.getElementById("busy").textContent===""`)
		assert.Equal(t, 1, strings.Count(b.file(t, "marks/"+collectionRef(sha, "012_2026-04_L.jpg")+".json"), `"leave_out"`))
	})

	t.Run("draw on the wall of a pot", func(t *testing.T) {
		const name = "031_2026-07_R.jpg"
		w.open(t, "/photo/"+b.sha(t, name))
		before, full, seen := eval[string](t, w, areaShown), b.value(t, name, record.RootLength), b.value(t, name, record.WallSeenShare)
		wall := eval[string](t, w, `document.getElementById("wallshown").src`)
		require.Contains(t, before, "mm")
		box := eval[[]float64](t, w, `(()=>{const d=JSON.parse(document.getElementById("drawing").textContent),p=d.outlines.find(o=>o.kind==="pot").points,x=p.map(q=>q.x/d.width),y=p.map(q=>q.y/d.height);return [Math.min(...x),Math.min(...y),Math.max(...x),Math.max(...y)]})()`)
		mid := (box[0] + box[2]) / 2
		w.click(t, `[data-tool=leave_out]`)
		w.drag(t, [][2]float64{{mid, box[1]}, {mid, box[3]}, {box[2], box[3]}, {box[2], box[1]}, {mid + 0.01, box[1]}})
		t.Logf("numbers followed after %s", w.measured(t, before).Round(time.Millisecond))
		assert.Less(t, b.value(t, name, record.RootLength), 0.75*full)
		assert.InDelta(t, seen-0.5, b.value(t, name, record.WallSeenShare), 0.08)
		assert.Contains(t, eval[string](t, w, `document.getElementById("reasons").textContent`), "wall")
		assert.NotEqual(t, wall, eval[string](t, w, `document.getElementById("wallshown").src`))
		w.shoot(t, "root-marked")
		half := eval[string](t, w, areaShown)
		w.click(t, `#undo`)
		w.measured(t, half)
		assert.Equal(t, full, b.value(t, name, record.RootLength))
	})

	t.Run("draw by finger, pinch to zoom", func(t *testing.T) {
		w.open(t, "/photo/"+b.sha(t, "017_2026-07_L.jpg"))
		before := eval[string](t, w, areaShown)
		w.click(t, `[data-tool=leave_out]`)
		eval[int](t, w, `document.getElementById("pane").scrollIntoView({block:"center"}); 0`)
		r := eval[[]float64](t, w, `(()=>{const r=document.getElementById("pane").getBoundingClientRect(); return [r.left,r.top,r.width,r.height]})()`)
		touch := func(kind input.DispatchTouchEventType, at ...[2]float64) {
			points := []*input.TouchPoint{}
			for i, p := range at {
				id := float64(i)
				points = append(points, &input.TouchPoint{X: r[0] + p[0]*r[2], Y: r[1] + p[1]*r[3], ID: &id})
			}
			browsertest.Call(t, w.Browser, input.DispatchTouchEvent, input.DispatchTouchEventParams{Type: kind, TouchPoints: points})
		}
		touch(input.DispatchTouchEventTypeTouchStart, [2]float64{0.05, 0.3})
		for _, p := range [][2]float64{{0.3, 0.3}, {0.45, 0.35}, {0.45, 0.95}, {0.2, 0.97}, {0.05, 0.95}, {0.05, 0.5}} {
			touch(input.DispatchTouchEventTypeTouchMove, p)
		}
		touch(input.DispatchTouchEventTypeTouchEnd)
		w.measured(t, before)
		assert.Equal(t, 1, eval[int](t, w, `document.querySelectorAll("#marklist button").length`))
		drawn := eval[string](t, w, areaShown)
		touch(input.DispatchTouchEventTypeTouchStart, [2]float64{0.4, 0.5}, [2]float64{0.6, 0.5})
		touch(input.DispatchTouchEventTypeTouchMove, [2]float64{0.3, 0.5}, [2]float64{0.7, 0.5})
		touch(input.DispatchTouchEventTypeTouchEnd)
		assert.InDelta(t, 2, eval[float64](t, w, `new DOMMatrix(getComputedStyle(document.querySelector(".stage")).transform).a`), 0.1)
		assert.Equal(t, 1, eval[int](t, w, `document.querySelectorAll("#marklist button").length`), "two fingers do not draw")
		w.click(t, `[data-tool=erase]`)
		touch(input.DispatchTouchEventTypeTouchStart, [2]float64{0.4, 0.6})
		touch(input.DispatchTouchEventTypeTouchEnd)
		w.measured(t, drawn)
		assert.Equal(t, before, eval[string](t, w, areaShown))
	})

	t.Run("the same areas on the next photos", func(t *testing.T) {
		w.open(t, "/photo/"+sha)
		w.click(t, `form[action$="copy-marks"] button`)
		w.Until(t, `location.pathname==="/add" && document.querySelectorAll("#done li").length===1`)
		b.settle(t)
		next := b.sha(t, "012_2026-05_L.jpg")
		assert.Contains(t, b.file(t, "marks/"+collectionRef(next, "012_2026-05_L.jpg")+".json"), "as on 012_2026-04_L.jpg")
	})

	t.Run("zoom, layers, colours", func(t *testing.T) {
		w.open(t, "/photo/"+sha)
		w.Until(t, `performance.getEntriesByName("first-contentful-paint").length===1 && document.querySelector(".stage img").complete`)
		t.Logf("first paint of a photo's page after %.0f ms", eval[float64](t, w, `performance.getEntriesByName("first-contentful-paint")[0].startTime`))
		scale := `new DOMMatrix(getComputedStyle(document.querySelector(".stage")).transform).a`
		w.Do(t, chromedp.Click(chromedp.CSS("#zoomin")), chromedp.Click(chromedp.CSS("#zoomin")), chromedp.Sleep(250*time.Millisecond))
		assert.InDelta(t, 2.25, eval[float64](t, w, scale), 0.01)
		w.Do(t, chromedp.SendKeys(chromedp.CSS("#pane"), "0"), chromedp.Sleep(250*time.Millisecond))
		assert.InDelta(t, 1, eval[float64](t, w, scale), 0.01)
		w.click(t, `[data-layer=leaf]`)
		assert.Equal(t, "none", eval[string](t, w, `document.querySelector("[data-kind=leaf]").getAttribute("display")`))
		w.click(t, `[data-colours=both]`)
		w.Until(t, `document.querySelector("#second img").naturalWidth===1600`)
		w.shoot(t, "photo-both")
	})

	t.Run("correct and take back", func(t *testing.T) {
		w.open(t, "/photo/"+sha)
		eval[int](t, w, `document.querySelectorAll("details").forEach(d=>d.open=true); document.querySelector("[name=reason]").value="wind"; document.querySelector("[name=counts][value=no]").click(); 0`)
		w.click(t, `form[action$="correct"] button`)
		w.Until(t, `location.search.includes("corrected") && document.body.textContent.includes("wind")`)
		w.click(t, `form[action="/corrections/undo"] button`)
		w.Until(t, `location.search.includes("undone") && document.readyState==="complete"`)
		assert.Equal(t, 3, strings.Count(b.file(t, "corrections.csv"), "\n"))
	})

	t.Run("drop photos", func(t *testing.T) {
		w.open(t, "/add")
		one, err := filepath.Abs("../../samples/photos/045_2026-03_L.jpg")
		require.NoError(t, err)
		words := filepath.Join(t.TempDir(), "words.jpg")
		require.NoError(t, os.WriteFile(words, []byte("no photo"), 0o644))
		w.Do(t, chromedp.SetUploadFiles(chromedp.CSS("#files"), []string{one, words}))
		w.Until(t, `document.querySelector("#done").textContent.includes("045_2026-03_L.jpg") && document.querySelector("#refused").textContent.includes("words.jpg")`)
		w.Until(t, `document.getElementById("line").textContent.startsWith("Done")`)
		assert.Contains(t, eval[string](t, w, `document.querySelector("#done").textContent`), "leaf area")
		w.shoot(t, "add")
		w.Forgive("/upload") // the browser reports the refusal itself as an error, which it is
	})

	t.Run("events", func(t *testing.T) {
		w.open(t, "/notes?for=clivia")
		eval[int](t, w, `document.querySelector("form[action='/events'] [name=date]").value="2026-05-02"; document.querySelector("form[action='/events'] [name=note]").value="half strength"; 0`)
		w.click(t, `form[action="/events"] button`)
		w.Until(t, `location.search.includes("said=event") && document.querySelector("table").textContent.includes("half strength")`)
	})

	t.Run("answer a watch rule", func(t *testing.T) {
		w.open(t, "/?month=2026-07")
		n := eval[int](t, w, `document.querySelectorAll(".watch li").length`)
		require.Positive(t, n)
		w.click(t, ".watch summary")
		w.click(t, ".watch button")
		w.Until(t, `location.search.includes("answered") && document.readyState==="complete"`)
		w.open(t, "/?month=2026-07")
		assert.Equal(t, n-1, eval[int](t, w, `document.querySelectorAll(".watch li").length`))
	})

	t.Run("compare with a slider", func(t *testing.T) {
		for _, plant := range []string{"12", "31"} {
			w.open(t, "/compare?plant="+plant)
			if plant == "31" {
				assert.Contains(t, eval[string](t, w, `document.querySelector("#main").textContent`), "The pot was turned by", "the walls are registered")
			}
			w.Until(t, `document.querySelector("#slider.laid")!==null && Array.from(document.querySelectorAll("#slider img")).every(i=>i.complete&&i.naturalWidth>0)`)
			w.Do(t, chromedp.SendKeys(chromedp.CSS("#cut"), strings.Repeat(kb.ArrowRight, 10)))
			assert.Equal(t, "inset(0px 0px 0px 60%)", eval[string](t, w, `document.querySelectorAll("#slider .layer")[1].style.clipPath`))
			w.shoot(t, "compare-"+plant)
		}
	})

	t.Run("compose a plate", func(t *testing.T) {
		w.open(t, "/plates?plant=12")
		w.click(t, `form.plates button`)
		w.Until(t, `document.querySelector("img.plate")!==null && document.querySelector("img.plate").naturalWidth>500`)
		w.shoot(t, "plates")
		w.click(t, `#preview form button`)
		w.Until(t, `location.search.includes("saved=yes") && document.readyState==="complete"`)
		saved, err := filepath.Glob(filepath.Join(b.dir, "reports", "plates", "plate_012_leaf*.png"))
		require.NoError(t, err)
		assert.Len(t, saved, 1)
	})

	t.Run("looks", func(t *testing.T) { looks(t, b, w) })
	w.Quiet(t)
}

func collectionRef(sha, name string) string { return sha[:12] + "-" + name }

// looks opens every page at three sizes: nothing scrolls sideways, texts stand out, and axe finds nothing serious.
func looks(t *testing.T, b *bench, w *browser) {
	pages := map[string]string{"month": "/?month=2026-07", "plant": "/plant/17", "roots": "/plant/31", "photo": "/photo/" + b.sha(t, "012_2026-04_L.jpg"),
		"root-photo": "/photo/" + b.sha(t, "031_2026-07_R.jpg"), "add-photos": "/add", "notes": "/notes", "compare": "/compare?plant=17", "plates-form": "/plates", "corrections": "/corrections",
		"edit-event": "/events/edit?line=2&version=" + b.version(t, "events.csv"), "edit-plants": "/plants/edit?number=12&number=17", "edit-plant": "/plants/edit?number=31", "unsorted": "/unsorted", "start": "/start", "fault": "/plant/999",
		"rules": "/rules?line=2", "print": "/print", "reports": "/reports"}
	looksOf(t, w, pages)
	w.Forgive("/plant/999") // a page that is not there, which the browser reports
}

// looksOf looks at pages in the three sizes.
func looksOf(t *testing.T, w *browser, pages map[string]string) {
	axe := browsertest.Axe(t)
	for _, c := range []struct {
		name string
		w, h int64
		dark bool
	}{{"light", 1280, 900, false}, {"dark", 1280, 900, true}, {"phone", 390, 844, false}} {
		w.Size(t, c.w, c.h, c.dark)
		for name, path := range pages {
			w.open(t, path)
			eval[int](t, w, `document.querySelectorAll("details").forEach(d=>d.open=true); 0`)
			w.NoSideways(t, fmt.Sprintf("%s, %s", name, c.name))
			w.NothingSerious(t, axe, name+", "+c.name)
			w.shoot(t, name+"-"+c.name)
		}
	}
}
