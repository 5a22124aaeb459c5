package report

import (
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/performance"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"

	"phototrack/internal/browsertest"
)

// scrollJS scrolls through the page a window's height at a time, two frames each, and says how many steps that were.
const scrollJS = `(async()=>{
document.documentElement.style.scrollBehavior="auto";
const frame=()=>new Promise(requestAnimationFrame);
let n=0;
for(let y=0;y<document.documentElement.scrollHeight;y+=innerHeight){scrollTo(0,y);await frame();await frame();n++}
scrollTo(0,0);return n})()`

// busy is what the page's main thread has worked so far, in all and on layout and style: processor time, which a
// machine that is busy with other things does not stretch.
func (b *browser) busy(t *testing.T) (all, layout time.Duration) {
	t.Helper()
	for _, m := range browsertest.Call(t, b.Browser, performance.GetMetrics, cdp.Empty{}).Metrics {
		d := time.Duration(m.Value * float64(time.Second))
		switch m.Name {
		case "TaskDuration":
			all = d
		case "LayoutDuration", "RecalcStyleDuration":
			layout += d
		}
	}
	return all, layout
}

// scrollsSmoothly opens the page of 70 plants: first paint within two seconds of work, and no window's height of scrolling
// costs more than three frames of a 60 Hz screen.
func scrollsSmoothly(t *testing.T, path string) {
	for _, w := range []int64{390, 1280} {
		b := openBrowser(t)
		browsertest.Call(t, b.Browser, performance.Enable, performance.EnableParams{TimeDomain: "threadTicks"})
		b.Size(t, w, 844, false)
		before, _ := b.busy(t)
		b.Do(t, chromedp.Navigate("file://"+path))
		b.Until(t, `performance.getEntriesByName("first-contentful-paint").length===1`)
		loaded, layout := b.busy(t)
		b.NoSideways(t, "70 plants")
		n := eval[int](t, b, scrollJS)
		after, afterLayout := b.busy(t)
		step := (after - loaded) / time.Duration(n)
		t.Logf("%d px: first paint after %.0f ms, %s of work; %d windows of scrolling, %s of work each, %s of it layout and style", w,
			eval[float64](t, b, `performance.getEntriesByName("first-contentful-paint")[0].startTime`), (loaded - before).Round(time.Millisecond),
			n, step.Round(100*time.Microsecond), ((afterLayout - layout) / time.Duration(n)).Round(100*time.Microsecond))
		assert.Less(t, loaded-before, 2*time.Second, "work until the page is there")
		assert.Less(t, step, 50*time.Millisecond)
		b.Quiet(t)
	}
}
