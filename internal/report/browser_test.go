package report

import (
	"bytes"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/input"
	cdpage "github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/browsertest"
	"phototrack/internal/fsx"
)

// browser is one headless Chromium that opens files.
type browser struct{ *browsertest.Browser }

func openBrowser(t *testing.T) *browser {
	t.Helper()
	return &browser{browsertest.Open(t, "file:", os.Getenv("REPORT_OUT"))}
}

func get[T any](t *testing.T, b *browser, a chromedp.Action[T]) T {
	t.Helper()
	return browsertest.Get(t, b.Browser, a)
}

func eval[T any](t *testing.T, b *browser, js string) T {
	t.Helper()
	return browsertest.Eval[T](t, b.Browser, js)
}

// open loads a file in a window of a size.
func (b *browser) open(t *testing.T, path string, w, h int64, dark bool) {
	t.Helper()
	b.Size(t, w, h, dark)
	b.Do(t, chromedp.Navigate("file://"+path))
}

// unfold opens everything that is folded or not laid out yet.
const unfold = `document.querySelectorAll("details").forEach(d=>d.open=true); document.querySelectorAll(".closeup").forEach(p=>p.style.contentVisibility="visible"); `

func TestInTheBrowser(t *testing.T) {
	axe := browsertest.Axe(t)
	index := write(t, "bench", benchData(t, "2026-07"))
	others := filepath.Dir(index)
	for name, f := range map[string]func(io.Writer) error{
		"months.html": func(w io.Writer) error {
			return WriteMonths(w, "Bench", []Link{{Text: "July 2026", Href: "2026-07/index.html"}})
		},
		"dictionary.html": func(w io.Writer) error { return WriteDictionaryPage(w, "Bench", time.Now()) },
	} {
		var b bytes.Buffer
		require.NoError(t, f(&b))
		require.NoError(t, os.WriteFile(filepath.Join(others, name), b.Bytes(), 0o644))
	}
	b := openBrowser(t)
	for _, c := range []struct {
		name string
		w, h int64
		dark bool
	}{{"desktop", 1280, 900, false}, {"desktop-dark", 1280, 900, true}, {"phone", 390, 844, false}, {"phone-dark", 390, 844, true}, {"narrow", 320, 640, false}} {
		t.Run(c.name, func(t *testing.T) {
			for page, path := range map[string]string{"index": index, "leaves": pageOf(index, 12), "roots": pageOf(index, 31), "months": filepath.Join(others, "months.html"), "dictionary": filepath.Join(others, "dictionary.html")} {
				what := c.name + " " + page
				b.open(t, path, c.w, c.h, c.dark)
				eval[int](t, b, unfold+"0")
				b.NoSideways(t, what)
				b.NothingSerious(t, axe, what)
				dead := eval[int](t, b, `Array.from(document.querySelectorAll('a[href^="#"]')).filter(a=>!document.getElementById(a.getAttribute("href").slice(1))).length`)
				assert.Zero(t, dead, "%s: links within the page that lead nowhere", what)
				eval[int](t, b, `document.querySelectorAll("details").forEach(d=>d.open=false); 0`)
				b.Shoot(t, strings.ReplaceAll(what, " ", "-"), true)
			}
		})
	}
	b.Quiet(t)
}

// TestPairsStandAtOneScale: the two pictures of a pair are as high on the page as they are in the plane of the card, and
// neither is wider than its place.
func TestPairsStandAtOneScale(t *testing.T) {
	index := write(t, "bench", benchData(t, "2026-07"))
	b := openBrowser(t)
	b.open(t, index, 1280, 900, false)
	assert.Equal(t, 10, eval[int](t, b, `document.querySelectorAll(".changes .cropbox img").length`), "then and now of five plants")
	assert.Empty(t, eval[[]string](t, b, `Array.from(document.querySelectorAll(".twin")).filter(w=>{const [a,c]=Array.from(w.querySelectorAll("img")).map(i=>i.getBoundingClientRect().width/i.naturalWidth);return Math.abs(a/c-1)>.03}).map(w=>w.textContent)`), "pairs of two scales")
}

// TestChartsAnswer drives a chart by keyboard and by pointer: date, value, interval and photo must stand below it.
func TestChartsAnswer(t *testing.T) {
	path := write(t, "bench", benchData(t, "2026-07"))
	b := openBrowser(t)
	b.open(t, pageOf(path, 12), 1280, 900, false)
	const box = `#c12l-leafarea`
	svg, readout := chromedp.CSS(box+" svg"), chromedp.CSS(box+" .readout")
	press := func(key string) string {
		b.Do(t, chromedp.SendKeys(svg, key))
		return get(t, b, chromedp.Text(readout))
	}
	b.Do(t, chromedp.ScrollIntoView(chromedp.CSS(box)), chromedp.Focus(svg))
	first, next, end := press(kb.Home), press(kb.ArrowRight), press(kb.End)
	assert.Contains(t, first, "7 March 2026: 214 ± 7")
	assert.Contains(t, first, "012_2026-03_L.jpg")
	assert.Contains(t, next, "11 April 2026")
	assert.Contains(t, end, "11 July 2026: 289")
	assert.Equal(t, end, get(t, b, chromedp.AttributeValue(svg, "aria-valuetext")).Value, "a screen reader hears the same")
	assert.Equal(t, 1, eval[int](t, b, `document.querySelectorAll("`+box+` .peek").length`), "the session's photo is shown")
	at := eval[[]float64](t, b, `document.activeElement.blur(); (()=>{const q=document.querySelectorAll("`+box+` .pt")[2].getBoundingClientRect(); return [q.x+q.width/2,q.y+q.height/2]})()`)
	b.Do(t, chromedp.MouseEvent(input.DispatchMouseEventTypeMouseMoved, at[0]+3, at[1]-4))
	b.Shoot(t, "hover", false)
	assert.Contains(t, get(t, b, chromedp.Text(readout)), "9 May 2026: 241")
	b.Do(t, chromedp.MouseEvent(input.DispatchMouseEventTypeMouseMoved, 5, 5))
	assert.Contains(t, get(t, b, chromedp.Text(readout)), "11 July 2026", "the latest value comes back")
}

// TestLinksLead follows a link from the first screen: the plant's section must come into view although sections that
// are not in view are not laid out yet.
func TestLinksLead(t *testing.T) {
	path := write(t, "bench", benchData(t, "2026-07"))
	b := openBrowser(t)
	for _, w := range []int64{390, 1280} {
		b.open(t, path, w, 844, false)
		for _, id := range []string{"p23", "p12", "method", "p31"} {
			eval[int](t, b, "document.documentElement.style.scrollBehavior='auto'; location.hash='"+id+"'; 0")
			b.Do(t, chromedp.Sleep(150*time.Millisecond))
			top := eval[float64](t, b, `(()=>{const top=document.getElementById("`+id+`").getBoundingClientRect().top; return top<innerHeight && scrollY+innerHeight>=document.documentElement.scrollHeight-2 ? 0 : top})()`) // at its end a page goes no further
			assert.InDelta(t, 0, top, 200, "%s at %d px", id, w)
		}
	}
}

// TestWithoutScripts: what a chart says to the pointer stands in the page itself.
func TestWithoutScripts(t *testing.T) {
	path := write(t, "bench", benchData(t, "2026-07"))
	b := openBrowser(t)
	b.Scripts(t, false)
	b.open(t, pageOf(path, 12), 1280, 900, false)
	b.Scripts(t, true)
	n := func(selector string) int { return eval[int](t, b, "document.querySelectorAll(`"+selector+"`).length") }
	charts := n(`.chart[role="img"]`)
	assert.Positive(t, charts)
	assert.Zero(t, n(".chart[tabindex]"), "the script did not run")
	assert.GreaterOrEqual(t, n(".chart .pt title"), 5*charts, "each point says date, value, interval and photo")
	assert.Equal(t, 5, n(".sessions tbody tr"), "every day with photos is in a table")
}

// contrastJS finds texts whose colour stands out from their ground by less than WCAG 2.2 asks (1.4.3: 4.5, large text 3).
const contrastJS = `(()=>{
const lum=c=>{const f=c.map(v=>{v/=255;return v<=.04045?v/12.92:((v+.055)/1.055)**2.4});return .2126*f[0]+.7152*f[1]+.0722*f[2]};
const rgb=s=>(s.match(/[\d.]+/g)||[]).map(Number);
const out=new Set();
document.querySelectorAll("body *").forEach(e=>{
 if(!Array.from(e.childNodes).some(n=>n.nodeType==3&&n.textContent.trim()))return;
 if(e.closest("script,style,title,desc,.sr,.skip,template"))return;
 const cs=getComputedStyle(e);const svg=e.namespaceURI.endsWith("svg");
 const fg=rgb(svg?cs.fill:cs.color);let b=e,bg=null;
 while(b){const c=rgb(getComputedStyle(b).backgroundColor);if(c.length==3||c[3]>0){bg=c;break}b=b.parentElement}
 if(!bg)bg=[255,255,255];
 const a=lum(fg),z=lum(bg);const r=(Math.max(a,z)+.05)/(Math.min(a,z)+.05);
 const px=parseFloat(cs.fontSize),big=px>=24||(px>=18.66&&cs.fontWeight>=700);
 if(r<(big?3:4.5))out.add(e.tagName+"."+(e.getAttribute("class")||"")+" "+r.toFixed(2));
});return Array.from(out)})()`

func TestAccessible(t *testing.T) {
	path := write(t, "bench", benchData(t, "2026-07"))
	b := openBrowser(t)
	for _, dark := range []bool{false, true} {
		t.Run(fmt.Sprintf("dark %v", dark), func(t *testing.T) {
			for _, p := range []string{path, pageOf(path, 12)} {
				b.open(t, p, 1280, 900, dark)
				assert.Empty(t, eval[[]string](t, b, unfold+contrastJS), "texts too faint for their ground")
			}
		})
	}
	for what, js := range map[string]string{
		"pictures without words":           `Array.from(document.images).filter(i=>!i.hasAttribute("alt")||!i.alt).length`,
		"tables without heads":             `Array.from(document.querySelectorAll("table")).filter(t=>!t.querySelector("thead th[scope=col]")||!t.querySelector("tbody th[scope=row]")).length`,
		"ids used twice":                   `(()=>{const s={};let n=0;document.querySelectorAll("[id]").forEach(e=>{n+=s[e.id]?1:0;s[e.id]=1});return n})()`,
		"labels that name nothing":         `Array.from(document.querySelectorAll("[aria-labelledby]")).filter(e=>e.getAttribute("aria-labelledby").split(" ").some(i=>!document.getElementById(i))).length`,
		"headings that skip a level":       `(()=>{let last=0,n=0;document.querySelectorAll("h1,h2,h3,h4").forEach(h=>{const l=+h.tagName[1];if(l>last+1)n++;last=l});return n})()`,
		"targets of less than 24 px (nav)": `Array.from(document.querySelectorAll("nav a, summary, .tag")).filter(a=>{const r=a.getBoundingClientRect();return r.height>0&&(r.height<24||r.width<24)}).length`,
	} {
		for _, p := range []string{path, pageOf(path, 12)} {
			b.open(t, p, 1280, 900, false)
			assert.Zero(t, eval[int](t, b, js), "%s: %s", what, filepath.Base(p))
		}
	}
}

func TestPrint(t *testing.T) {
	path := write(t, "bench", benchData(t, "2026-07"))
	b := openBrowser(t)
	b.open(t, path, 1280, 900, true)
	yes := true
	pdf := browsertest.Call(t, b.Browser, cdpage.PrintToPDF, cdpage.PrintToPDFParams{PreferCSSPageSize: &yes}).Data
	if dir := os.Getenv("REPORT_OUT"); dir != "" {
		require.NoError(t, os.WriteFile(filepath.Join(dir, "print.pdf"), pdf, 0o644))
	}
	pages := strings.Count(string(pdf), "/Type /Page\n") + strings.Count(string(pdf), "/Type /Page ")
	assert.GreaterOrEqual(t, pages, 4, "front, plants that changed two a page, events")
	assert.LessOrEqual(t, pages, 7, "nothing is unfolded that need not be printed")
}

func TestRoundSheetInTheBrowser(t *testing.T) {
	d := benchData(t, "2026-07")
	dir := t.TempDir()
	if out := os.Getenv("REPORT_OUT"); out != "" {
		dir = out
	}
	html, pdf := filepath.Join(dir, "round.html"), filepath.Join(dir, "round.pdf")
	require.NoError(t, writeRoundFile(html, d))
	require.NoError(t, writeRoundPDFFile(pdf, d))
	b := openBrowser(t)
	for _, w := range []int64{390, 1280} {
		b.open(t, html, w, 844, false)
		b.NoSideways(t, "round sheet")
		assert.Equal(t, 6, eval[int](t, b, `document.querySelectorAll("input[type=checkbox]").length`), "five leaf views and one root view")
		b.Shoot(t, fmt.Sprintf("round-%d", w), true)
	}
	b.Quiet(t)
}

// writeRoundFile writes the sheet's page beside its final name and moves it there when it is whole.
func writeRoundFile(path string, d Data) error {
	return fsx.WriteAtomic(path, 0o644, func(w io.Writer) error { return WriteRound(w, d) })
}

// writeRoundPDFFile does the same with the printable sheet.
func writeRoundPDFFile(path string, d Data) error {
	return fsx.WriteAtomic(path, 0o644, func(w io.Writer) error { return WriteRoundPDF(w, d) })
}
