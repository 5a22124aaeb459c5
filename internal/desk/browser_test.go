package desk

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// browser is one headless Chromium with a fresh profile, and what it complained about.
type browser struct {
	ctx    context.Context
	mu     sync.Mutex
	errors []string
	away   []string // requests to anybody but the desk
	base   string
}

func openBrowser(t *testing.T, b *bench) *browser {
	t.Helper()
	path := ""
	for _, p := range []string{"/usr/bin/chromium", "/usr/bin/chromium-browser", "/usr/bin/google-chrome"} {
		if _, err := os.Stat(p); err == nil {
			path = p
			break
		}
	}
	if path == "" {
		if os.Getenv("CI") == "true" {
			t.Fatal("chromium is not installed")
		}
		t.Skip("chromium is not installed")
	}
	opts := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(path), chromedp.NoSandbox, chromedp.DisableGPU,
		chromedp.UserDataDir(t.TempDir()), chromedp.Flag("disable-component-update", true), chromedp.Flag("disable-sync", true))
	alloc, stop := chromedp.NewExecAllocator(context.Background(), opts...)
	t.Cleanup(stop)
	ctx, cancel := chromedp.NewContext(alloc)
	t.Cleanup(cancel)
	w := &browser{ctx: ctx, base: b.base}
	require.NoError(t, chromedp.Listen(ctx, w.listen))
	w.size(t, 1280, 900, false)
	w.do(t, chromedp.Navigate(b.key))
	return w
}

func (w *browser) listen(ev any) {
	w.mu.Lock()
	defer w.mu.Unlock()
	switch e := ev.(type) {
	case *runtime.EventExceptionThrown:
		w.errors = append(w.errors, e.ExceptionDetails.Text)
	case *runtime.EventConsoleAPICalled:
		w.errors = append(w.errors, string(e.Type))
	case *log.EventEntryAdded:
		w.errors = append(w.errors, e.Entry.Text+" "+e.Entry.URL)
	case *network.EventRequestWillBeSent:
		if u := e.Request.URL; !strings.HasPrefix(u, "data:") && !strings.HasPrefix(u, w.base) {
			w.away = append(w.away, u)
		}
	}
}

// quiet says that nothing was complained of and nobody else was asked for anything.
func (w *browser) quiet(t *testing.T) {
	t.Helper()
	w.mu.Lock()
	defer w.mu.Unlock()
	assert.Empty(t, w.errors, "console")
	assert.Empty(t, w.away, "requests to others")
}

// patience is how long one step in the browser may take.
const patience = 40 * time.Second

func (w *browser) do(t *testing.T, steps ...chromedp.Action[chromedp.Void]) {
	t.Helper()
	ctx, cancel := context.WithTimeout(w.ctx, patience)
	defer cancel()
	require.NoError(t, chromedp.Do(ctx, steps...))
}

func eval[T any](t *testing.T, w *browser, js string) T {
	t.Helper()
	ctx, cancel := context.WithTimeout(w.ctx, patience)
	defer cancel()
	v, err := chromedp.Run(ctx, chromedp.Evaluate[T](js, chromedp.EvalAwaitPromise))
	require.NoError(t, err, js)
	return v
}

// until waits for a condition of the page.
func (w *browser) until(t *testing.T, js string) {
	t.Helper()
	require.Eventually(t, func() bool {
		ctx, cancel := context.WithTimeout(w.ctx, patience)
		defer cancel()
		ok, err := chromedp.Run(ctx, chromedp.Evaluate[bool](js))
		return err == nil && ok
	}, patience, 40*time.Millisecond, js)
}

func (w *browser) open(t *testing.T, path string) {
	t.Helper()
	w.do(t, chromedp.Navigate(w.base+path))
}

// click clicks on what the selector finds, once the page is there. A page that is being replaced at that moment takes
// the node away; the click is then made on the new one.
func (w *browser) click(t *testing.T, selector string) {
	t.Helper()
	w.until(t, fmt.Sprintf(`document.readyState==="complete" && document.querySelector(%q)!==null`, selector))
	var err error
	for range 5 {
		ctx, cancel := context.WithTimeout(w.ctx, patience)
		err = chromedp.Do(ctx, chromedp.Click(chromedp.CSS(selector)))
		cancel()
		if err == nil || !strings.Contains(err.Error(), "node with given id") {
			break
		}
		time.Sleep(100 * time.Millisecond)
	}
	require.NoError(t, err, selector)
}

func (w *browser) size(t *testing.T, width, height int64, dark bool) {
	t.Helper()
	scheme := "light"
	if dark {
		scheme = "dark"
	}
	w.do(t, chromedp.Func(func(ctx context.Context, tg *chromedp.Target) error {
		if _, err := cdp.Call(ctx, tg, emulation.SetDeviceMetricsOverride, emulation.SetDeviceMetricsOverrideParams{Width: width, Height: height, DeviceScaleFactor: 1, Mobile: width < 600}); err != nil {
			return err
		}
		_, err := cdp.Call(ctx, tg, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}}})
		return err
	}))
}

// shoot keeps a screenshot of the whole page where it can be looked at, if DESK_OUT is set.
func (w *browser) shoot(t *testing.T, name string) {
	t.Helper()
	dir := os.Getenv("DESK_OUT")
	if dir == "" {
		return
	}
	eval[int](t, w, `Promise.all(Array.from(document.images).map(i=>{i.loading="eager"; return i.decode().catch(()=>0)})).then(()=>1)`)
	ctx, cancel := context.WithTimeout(w.ctx, patience)
	defer cancel()
	png, err := chromedp.Run(ctx, chromedp.FullScreenshot(100))
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(filepath.Join(dir, name+".png"), png, 0o644))
}

// drag draws with the mouse through places of the pane, given as shares of its width and height.
func (w *browser) drag(t *testing.T, at [][2]float64) {
	t.Helper()
	eval[int](t, w, `document.getElementById("pane").scrollIntoView({block:"center"}); 0`)
	r := eval[[]float64](t, w, `(()=>{const r=document.getElementById("pane").getBoundingClientRect(); return [r.left,r.top,r.width,r.height]})()`)
	mouse := func(kind input.DispatchMouseEventType, p [2]float64) {
		w.do(t, chromedp.Func(func(ctx context.Context, tg *chromedp.Target) error {
			params := input.DispatchMouseEventParams{Type: kind, X: r[0] + p[0]*r[2], Y: r[1] + p[1]*r[3], Button: input.MouseButtonLeft, ClickCount: 1}
			if kind != input.DispatchMouseEventTypeMouseReleased {
				params.Buttons = 1
			}
			_, err := cdp.Call(ctx, tg, input.DispatchMouseEvent, params)
			return err
		}))
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
	w.until(t, fmt.Sprintf(`document.getElementById("busy").textContent==="" && %s!==%q`, areaShown, before))
	return time.Since(start)
}

// The main flows, one after another, as a grower goes through them.
func TestInTheBrowser(t *testing.T) {
	b := serve(t, "012_2026-03_L.jpg", "012_2026-04_L.jpg", "012_2026-05_L.jpg", "017_2026-06_L.jpg", "017_2026-07_L.jpg", "031_2026-06_R.jpg", "031_2026-07_R.jpg")
	w := openBrowser(t, b)
	sha := b.sha(t, "012_2026-04_L.jpg")

	t.Run("month at a glance", func(t *testing.T) {
		w.until(t, `document.querySelectorAll(".cards > li").length===6`)
		w.open(t, "/?find=vanda")
		assert.Equal(t, 1, eval[int](t, w, `document.querySelectorAll(".cards > li").length`))
		w.open(t, "/?show=missing&month=2026-07")
		assert.Equal(t, []string{"12", "23", "44", "45"}, eval[[]string](t, w, `Array.from(document.querySelectorAll(".cards .tag")).map(e=>e.textContent)`))
		w.open(t, "/?sort=moved&month=2026-07")
		assert.Equal(t, "31", eval[string](t, w, `document.querySelector(".cards .tag").textContent`), "its roots grew")
		assert.Contains(t, eval[string](t, w, `document.querySelector(".cards li").textContent`), "rose by")
		w.click(t, `.cardlink[href^="/plant/17"]`)
		w.until(t, `location.pathname==="/plant/17" && document.readyState==="complete"`)
		assert.Equal(t, 3, eval[int](t, w, `document.querySelectorAll("svg.chart").length`))
	})

	t.Run("draw, undo, redo, by mouse and by keys", func(t *testing.T) {
		w.open(t, "/photo/"+sha)
		before := eval[string](t, w, areaShown)
		require.Contains(t, before, "cm²")
		full := b.value(t, "012_2026-04_L.jpg", "leaf_area")
		w.click(t, `[data-tool=leave_out]`)
		w.drag(t, [][2]float64{{0.02, 0.02}, {0.3, 0.02}, {0.45, 0.02}, {0.45, 0.5}, {0.45, 0.98}, {0.02, 0.98}, {0.02, 0.5}, {0.02, 0.1}})
		took := w.measured(t, before)
		t.Logf("numbers followed after %s", took.Round(time.Millisecond))
		assert.Less(t, took, 15*time.Second, "on a machine that may be busy with other tests")
		drawn := eval[string](t, w, areaShown)
		assert.Less(t, b.value(t, "012_2026-04_L.jpg", "leaf_area"), 0.98*full)
		assert.Contains(t, b.file(t, "marks/"+collectionRef(sha, "012_2026-04_L.jpg")+".json"), `"leave_out"`)
		w.shoot(t, "photo-marked")
		w.click(t, `#undo`)
		w.measured(t, drawn)
		assert.Equal(t, before, eval[string](t, w, areaShown))
		assert.Equal(t, full, b.value(t, "012_2026-04_L.jpg", "leaf_area"), "undone is undone to the last digit")
		w.click(t, `#redo`)
		w.measured(t, before)
		assert.Equal(t, drawn, eval[string](t, w, areaShown))
		w.click(t, `#marklist button`)
		w.measured(t, drawn)

		// The same without a mouse: the cross starts in the middle, where the leaves are.
		w.do(t, chromedp.Focus(chromedp.CSS(`[data-tool=leave_out]`)), chromedp.SendKeys(chromedp.CSS(`[data-tool=leave_out]`), kb.Enter))
		for _, k := range []string{kb.Enter, kb.ArrowLeft, kb.Enter, kb.ArrowUp, kb.Enter} {
			n := 1
			if k != kb.Enter {
				n = 20
			}
			w.do(t, chromedp.SendKeys(chromedp.CSS("#pane"), strings.Repeat(k, n)))
		}
		w.do(t, chromedp.SendKeys(chromedp.CSS("#pane"), "c"))
		w.until(t, `document.querySelectorAll("#marklist button").length===1 && document.getElementById("busy").textContent===""`)
		assert.Equal(t, 1, strings.Count(b.file(t, "marks/"+collectionRef(sha, "012_2026-04_L.jpg")+".json"), `"leave_out"`))
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
			w.do(t, chromedp.Func(func(ctx context.Context, tg *chromedp.Target) error {
				_, err := cdp.Call(ctx, tg, input.DispatchTouchEvent, input.DispatchTouchEventParams{Type: kind, TouchPoints: points})
				return err
			}))
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
		w.until(t, `location.pathname==="/add" && document.querySelectorAll("#done li").length===1`)
		b.settle(t)
		next := b.sha(t, "012_2026-05_L.jpg")
		assert.Contains(t, b.file(t, "marks/"+collectionRef(next, "012_2026-05_L.jpg")+".json"), "as on 012_2026-04_L.jpg")
	})

	t.Run("zoom, layers, colours", func(t *testing.T) {
		w.open(t, "/photo/"+sha)
		w.until(t, `performance.getEntriesByName("first-contentful-paint").length===1 && document.querySelector(".stage img").complete`)
		t.Logf("first paint of a photo's page after %.0f ms", eval[float64](t, w, `performance.getEntriesByName("first-contentful-paint")[0].startTime`))
		scale := `new DOMMatrix(getComputedStyle(document.querySelector(".stage")).transform).a`
		w.do(t, chromedp.Click(chromedp.CSS("#zoomin")), chromedp.Click(chromedp.CSS("#zoomin")), chromedp.Sleep(250*time.Millisecond))
		assert.InDelta(t, 2.25, eval[float64](t, w, scale), 0.01)
		w.do(t, chromedp.SendKeys(chromedp.CSS("#pane"), "0"), chromedp.Sleep(250*time.Millisecond))
		assert.InDelta(t, 1, eval[float64](t, w, scale), 0.01)
		w.click(t, `[data-layer=leaf]`)
		assert.Equal(t, "none", eval[string](t, w, `document.querySelector("[data-kind=leaf]").getAttribute("display")`))
		w.click(t, `[data-colours=both]`)
		w.until(t, `document.querySelector("#second img").naturalWidth===1600`)
		w.shoot(t, "photo-both")
	})

	t.Run("correct and take back", func(t *testing.T) {
		w.open(t, "/photo/"+sha)
		eval[int](t, w, `document.querySelectorAll("details").forEach(d=>d.open=true); document.querySelector("[name=reason]").value="wind"; document.querySelector("[name=counts][value=no]").click(); 0`)
		w.click(t, `form[action$="correct"] button`)
		w.until(t, `location.search.includes("corrected") && document.body.textContent.includes("wind")`)
		w.click(t, `form[action="/corrections/undo"] button`)
		w.until(t, `location.search.includes("undone") && document.readyState==="complete"`)
		assert.Equal(t, 3, strings.Count(b.file(t, "corrections.csv"), "\n"))
	})

	t.Run("drop photos", func(t *testing.T) {
		w.open(t, "/add")
		one, err := filepath.Abs("../../samples/photos/045_2026-03_L.jpg")
		require.NoError(t, err)
		words := filepath.Join(t.TempDir(), "words.jpg")
		require.NoError(t, os.WriteFile(words, []byte("no photo"), 0o644))
		w.do(t, chromedp.SetUploadFiles(chromedp.CSS("#files"), []string{one, words}))
		w.until(t, `document.querySelector("#done").textContent.includes("045_2026-03_L.jpg") && document.querySelector("#refused").textContent.includes("words.jpg")`)
		w.until(t, `document.getElementById("line").textContent.startsWith("Done")`)
		assert.Contains(t, eval[string](t, w, `document.querySelector("#done").textContent`), "leaf area")
		w.shoot(t, "add")
		w.mu.Lock() // the browser reports the refusal itself as an error, which it is
		w.errors = nil
		w.mu.Unlock()
	})

	t.Run("events", func(t *testing.T) {
		w.open(t, "/notes?for=clivia")
		eval[int](t, w, `document.querySelector("form[action='/events'] [name=date]").value="2026-05-02"; document.querySelector("form[action='/events'] [name=note]").value="half strength"; 0`)
		w.click(t, `form[action="/events"] button`)
		w.until(t, `location.search.includes("said=event") && document.querySelector("table").textContent.includes("half strength")`)
	})

	t.Run("answer a watch rule", func(t *testing.T) {
		w.open(t, "/?month=2026-07")
		n := eval[int](t, w, `document.querySelectorAll(".watch li").length`)
		require.Positive(t, n)
		w.click(t, ".watch button")
		w.until(t, `location.search.includes("answered") && document.readyState==="complete"`)
		w.open(t, "/?month=2026-07")
		assert.Equal(t, n-1, eval[int](t, w, `document.querySelectorAll(".watch li").length`))
	})

	t.Run("compare with a slider", func(t *testing.T) {
		for _, plant := range []string{"12", "31"} {
			w.open(t, "/compare?plant="+plant)
			w.until(t, `document.querySelector("#slider.laid")!==null && Array.from(document.querySelectorAll("#slider img")).every(i=>i.complete&&i.naturalWidth>0)`)
			w.do(t, chromedp.SendKeys(chromedp.CSS("#cut"), strings.Repeat(kb.ArrowRight, 10)))
			assert.Equal(t, "inset(0px 0px 0px 60%)", eval[string](t, w, `document.querySelectorAll("#slider .layer")[1].style.clipPath`))
			w.shoot(t, "compare-"+plant)
		}
	})

	t.Run("compose a plate", func(t *testing.T) {
		w.open(t, "/plates?plant=12")
		w.click(t, `form.plates button`)
		w.until(t, `document.querySelector("img.plate")!==null && document.querySelector("img.plate").naturalWidth>500`)
		w.shoot(t, "plates")
		w.click(t, `#preview form button`)
		w.until(t, `location.search.includes("saved=yes") && document.readyState==="complete"`)
		saved, err := filepath.Glob(filepath.Join(b.dir, "reports", "plates", "plate_012_leaf*.png"))
		require.NoError(t, err)
		assert.Len(t, saved, 1)
	})

	t.Run("looks", func(t *testing.T) { looks(t, b, w) })
	w.quiet(t)
}

func collectionRef(sha, name string) string { return sha[:12] + "-" + name }

// looks opens every page at three sizes: nothing scrolls sideways, texts stand out, and axe finds nothing serious.
func looks(t *testing.T, b *bench, w *browser) {
	axe := ""
	if path := os.Getenv("AXE_CORE"); path != "" { // axe.min.js of the npm package axe-core
		data, err := os.ReadFile(path)
		require.NoError(t, err)
		axe = string(data)
	}
	pages := map[string]string{"month": "/?month=2026-07", "plant": "/plant/17", "roots": "/plant/31", "photo": "/photo/" + b.sha(t, "012_2026-04_L.jpg"),
		"root-photo": "/photo/" + b.sha(t, "031_2026-07_R.jpg"), "add-photos": "/add", "notes": "/notes", "compare": "/compare?plant=17", "plates-form": "/plates", "corrections": "/corrections", "unsorted": "/unsorted", "fault": "/plant/999"}
	for _, c := range []struct {
		name string
		w, h int64
		dark bool
	}{{"light", 1280, 900, false}, {"dark", 1280, 900, true}, {"phone", 390, 844, false}} {
		w.size(t, c.w, c.h, c.dark)
		for name, path := range pages {
			w.open(t, path)
			over := eval[int](t, w, `document.querySelectorAll("details").forEach(d=>d.open=true); document.documentElement.scrollWidth-document.documentElement.clientWidth`)
			assert.LessOrEqual(t, over, 0, "%s scrolls sideways at %d px: %v", name, c.w, eval[[]string](t, w, tooWide))
			if axe != "" {
				eval[int](t, w, axe+"; 0")
				assert.Empty(t, eval[[]string](t, w, `axe.run({resultTypes:["violations"]}).then(r=>r.violations.filter(v=>v.impact==="serious"||v.impact==="critical").map(v=>v.id+": "+v.nodes.map(n=>n.html.slice(0,90)).slice(0,3).join(" | ")))`), "%s, %s", name, c.name)
			}
			w.shoot(t, name+"-"+c.name)
		}
	}
	w.mu.Lock() // the page of the plant that is not there is a 404, which the browser reports
	defer w.mu.Unlock()
	var rest []string
	for _, e := range w.errors {
		if !strings.Contains(e, "/plant/999") {
			rest = append(rest, e)
		}
	}
	w.errors = rest
}

// tooWide names what stands out at the right and is not in a region that scrolls by itself.
const tooWide = `Array.from(document.querySelectorAll("body *")).filter(e=>!e.closest(".scroll *")&&!e.closest("svg *")&&!e.closest(".pane *")&&!e.closest(".slider *")&&e.getBoundingClientRect().right>document.documentElement.clientWidth+1).slice(0,8).map(e=>e.tagName+"."+e.getAttribute("class")+" "+e.textContent.trim().slice(0,40))`
