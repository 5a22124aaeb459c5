package desk

import (
	"context"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/collection"
	"phototrack/internal/record"
)

// version is that of a file as the pages show it now.
func (b *bench) version(t *testing.T, file string) string {
	t.Helper()
	s, done, err := b.desk.now(context.Background())
	require.NoError(t, err)
	defer done()
	return s.c.Version(file)
}

// keys are what each stored photo was measured with.
func (b *bench) keys(t *testing.T) map[string]string {
	t.Helper()
	s, done, err := b.desk.now(context.Background())
	require.NoError(t, err)
	defer done()
	out := map[string]string{}
	for i := range s.photos {
		out[s.photos[i].Name] = s.photos[i].SettingsKey
	}
	return out
}

// A pot that is changed measures again what it concerns, and nothing else; taking it back gives the old numbers.
func TestAChangedPotMeasuresOnlyWhatItTouches(t *testing.T) {
	b := serve(t, "012_2026-03_L.jpg", "031_2026-03_R.jpg", "031_2026-06_R.jpg")
	events := b.file(t, "events.csv")
	length := b.value(t, "031_2026-06_R.jpg", record.RootLength)
	before := b.keys(t)
	serial := b.desk.job.state().Serial
	form := url.Values{"version": {b.version(t, "events.csv")}, "line": {"2"}, "date": {"2026-03-21"}, "plants": {"31"}, "event": {"repot"},
		"note": {"into a larger clear pot with fresh bark"}, "pot_top": {"122"}, "pot_bottom": {"102"}, "pot_height": {"125"}, "reason": {"measured again"}}
	code, page := b.post(t, "/events/edit", form)
	require.Equal(t, 200, code, page)
	assert.Contains(t, page, "measured again in the background")
	s := b.settle(t)
	require.Len(t, s.Photos, 1, "the leaf photo and the photo before the repotting stay")
	assert.Equal(t, "031_2026-06_R.jpg", s.Photos[0].Name)
	assert.Equal(t, serial+1, s.Serial)
	after := b.keys(t)
	for name, key := range before {
		assert.Equal(t, name == "031_2026-06_R.jpg", after[name] != key, name)
	}
	assert.NotEqual(t, length, b.value(t, "031_2026-06_R.jpg", record.RootLength))
	assert.Equal(t, strings.Replace(events, "120,100,125", "122,102,125", 1), b.file(t, "events.csv"))

	_, page = b.get(t, "/corrections")
	assert.Contains(t, page, "pot_top_mm=120")
	assert.Contains(t, page, "measured again")
	k := b.correction(t, 0)
	code, page = b.post(t, "/corrections/undo", url.Values{"line": {itoa(k.Line)}, "time": {k.Time}})
	require.Equal(t, 200, code, page)
	b.settle(t)
	assert.Equal(t, events, b.file(t, "events.csv"))
	assert.Equal(t, length, b.value(t, "031_2026-06_R.jpg", record.RootLength))
}

func (b *bench) correction(t *testing.T, i int) collection.Correction {
	t.Helper()
	s, done, err := b.desk.now(context.Background())
	require.NoError(t, err)
	defer done()
	require.Greater(t, len(s.c.Corrections), i)
	return s.c.Corrections[i]
}

// A file that was changed elsewhere since the page was made is left alone; the page is shown anew and says why.
func TestALineChangedElsewhereIsNeverOverwritten(t *testing.T) {
	b := serve(t)
	for file, form := range map[string]url.Values{
		"events.csv": {"line": {"2"}, "date": {"2026-03-22"}, "plants": {"31"}, "event": {"repot"}},
		"plants.csv": {"number": {"12"}, "name": {"Clivia Z"}},
	} {
		form.Set("version", b.version(t, file))
		elsewhere := b.file(t, file) + "\n"
		require.NoError(t, os.WriteFile(filepath.Join(b.dir, file), []byte(elsewhere), 0o644))
		action := "/" + strings.TrimSuffix(file, ".csv") + "/edit"
		code, page := b.post(t, action, form)
		assert.Equal(t, 200, code)
		assert.Contains(t, page, "Nothing was written: the file was changed elsewhere")
		assert.Equal(t, elsewhere, b.file(t, file))
		code, _ = b.send(t, action, "application/x-www-form-urlencoded", strings.NewReader(form.Encode()))
		assert.Equal(t, 409, code, "a script is told so")
	}
	assert.NoDirExists(t, filepath.Join(b.dir, "former"))
	_, page := b.get(t, "/events/edit?line=2&version=old")
	assert.Contains(t, page, "Nothing was written")
}

func TestEditFormsRefuseWhatIsWrong(t *testing.T) {
	b := serve(t)
	v, p := b.version(t, "events.csv"), b.version(t, "plants.csv")
	events, plants := b.file(t, "events.csv"), b.file(t, "plants.csv")
	for name, c := range map[string]struct {
		path string
		form url.Values
		code int
	}{
		"no line":             {"/events/edit", url.Values{"version": {v}}, 422},
		"no day":              {"/events/edit", url.Values{"version": {v}, "line": {"2"}, "date": {"x"}, "plants": {"31"}, "event": {"repot"}}, 422},
		"half a pot":          {"/events/edit", url.Values{"version": {v}, "line": {"2"}, "pot_top": {"100"}}, 422},
		"one of two lines":    {"/events/edit", url.Values{"version": {v}, "line": {"2", "3"}, "only": {"31"}}, 422},
		"no plant":            {"/plants/edit", url.Values{"version": {p}}, 422},
		"a day that is none":  {"/plants/edit", url.Values{"version": {p}, "number": {"12"}, "from": {"2026-02-30"}}, 422},
		"a pot in cm":         {"/plants/edit", url.Values{"version": {p}, "number": {"12"}, "pot_top": {"12"}, "pot_bottom": {"10"}, "pot_height": {"12"}}, 422},
		"a page without form": {"/plants/edit", url.Values{"version": {p}, "number": {"12"}}, 200},
	} {
		code, page := b.post(t, c.path, c.form)
		assert.Equal(t, c.code, code, "%s: %s", name, page)
	}
	code, _ := b.get(t, "/events/edit?version="+v)
	assert.Equal(t, 422, code)
	code, _ = b.get(t, "/plants/edit?number=999")
	assert.Equal(t, 404, code)
	assert.Equal(t, events, b.file(t, "events.csv"))
	assert.Equal(t, plants, b.file(t, "plants.csv"))
}

// A grower changes a repotting day of several plants, one plant of a line, several lines at once, and names and groups,
// on the pages.
func TestEditingInTheBrowser(t *testing.T) {
	b := serve(t)
	events := "date,plant,event,note\r\n2026-03-21,12-17 23,repot,\"bark, fine\"\r\n2026-04-18,clivia,feed,\r\n2026-04-19,45,water,\r\n"
	require.NoError(t, os.WriteFile(filepath.Join(b.dir, "events.csv"), []byte(events), 0o644))
	require.NoError(t, os.WriteFile(filepath.Join(b.dir, "plants.csv"), []byte("number,name,group\n12,Clivia A,clivia\n13,,\n14,,\n15,,\n16,,\n17,Neo,\n23,Ant,\n44,Clivia B,clivia\n45,Aspi,\n"), 0o644))
	w := openBrowser(t, b)
	done := `location.search.includes("said=lines") && document.readyState==="complete"`

	w.open(t, "/plant/17")
	w.click(t, `a[href^="/events/edit"]`)
	w.Until(t, `location.pathname==="/events/edit" && document.querySelector("[name=only]").value==="17"`)
	w.Do(t, chromedp.SetValue(chromedp.CSS("[name=note]"), "moss"))
	w.shoot(t, "edit-event")
	w.click(t, "main form button")
	w.Until(t, `location.pathname==="/plant/17" && `+done)
	assert.Equal(t, "date,plant,event,note\r\n2026-03-21,12-16 23,repot,\"bark, fine\"\r\n2026-03-21,17,repot,moss\r\n2026-04-18,clivia,feed,\r\n2026-04-19,45,water,\r\n", b.file(t, "events.csv"))

	w.open(t, "/notes")
	w.click(t, `input[name=line][value="2"]`)
	w.click(t, `input[name=line][value="3"]`)
	w.click(t, `form[action="/events/edit"] button`)
	w.Until(t, `location.pathname==="/events/edit" && document.querySelectorAll("[name=line]").length===2`)
	w.Do(t, chromedp.SetValue(chromedp.CSS("[name=date]"), "2026-03-20"), chromedp.SetValue(chromedp.CSS("[name=reason]"), "it was a Friday"))
	w.shoot(t, "edit-events")
	w.click(t, "main form button")
	w.Until(t, done)
	assert.Equal(t, 2, strings.Count(b.file(t, "events.csv"), "\r\n2026-03-20,"))

	w.open(t, "/notes")
	w.click(t, `tr:first-child a[href^="/events/edit"]`)
	w.Until(t, `location.pathname==="/events/edit" && document.querySelector("[name=plants]").value==="45"`)
	w.click(t, "button[value=remove]")
	w.Until(t, done)
	assert.NotContains(t, b.file(t, "events.csv"), "water")

	w.open(t, "/plant/12")
	w.click(t, `a[href^="/plants/edit"]`)
	w.Until(t, `location.pathname==="/plants/edit" && document.querySelector("[name=name]").value==="Clivia A"`)
	w.Do(t, chromedp.SetValue(chromedp.CSS("[name=name]"), "Clivia <b>miniata</b>, old"))
	w.shoot(t, "edit-plant")
	w.click(t, "main form button")
	w.Until(t, `location.pathname==="/plant/12" && document.querySelector("h1").textContent.includes("<b>miniata</b>")`)
	assert.Contains(t, b.file(t, "plants.csv"), "12,\"Clivia <b>miniata</b>, old\",clivia\n13,,\n")

	w.open(t, "/notes")
	w.click(t, `input[name=number][value="13"]`)
	w.click(t, `input[name=number][value="15"]`)
	w.click(t, `form[action="/plants/edit"] button`)
	w.Until(t, `location.pathname==="/plants/edit" && document.querySelectorAll("input[name=number]").length===2`)
	w.Do(t, chromedp.SetValue(chromedp.CSS("[name=group]"), "seedlings"))
	w.click(t, "main form button")
	w.Until(t, done)
	assert.Contains(t, b.file(t, "plants.csv"), "\n13,,seedlings\n14,,\n15,,seedlings\n")

	// All of it can be taken back, the latest first, and then the files are what they were.
	for range 5 {
		w.open(t, "/corrections")
		w.click(t, `tr:not(.back) form[action="/corrections/undo"] button`)
		w.Until(t, `location.search.includes("said=restored") && document.readyState==="complete"`)
	}
	assert.Contains(t, b.file(t, "plants.csv"), "12,Clivia A,clivia\n13,,\n14,,\n15,,\n")
	assert.Regexp(t, regexp.MustCompile(`12-17 23,repot,"bark, fine"`), b.file(t, "events.csv"))
	assert.Contains(t, b.file(t, "events.csv"), "45,water,")
	w.Quiet(t)
}
