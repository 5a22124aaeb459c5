package main

import (
	"context"
	"errors"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"sort"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/reftest"
)

// bin is the built program; collectionOfSamples a collection in which all sample photos were measured.
var bin string

func TestMain(m *testing.M) {
	if len(os.Args) > 1 && os.Args[1] == "worker" { // of a run within a test, see inProcess
		main()
	}
	os.Exit(runTests(m))
}

func runTests(m *testing.M) int {
	dir, err := os.MkdirTemp("", "phototrack-test")
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	defer os.RemoveAll(dir)
	bin = filepath.Join(dir, "phototrack")
	if out, err := exec.Command("go", "build", "-o", bin, ".").CombinedOutput(); err != nil {
		fmt.Fprintf(os.Stderr, "build: %v\n%s", err, out)
		return 1
	}
	return m.Run()
}

// program runs the built program and gives its exit code and what it printed.
func program(t testing.TB, args ...string) (code int, stdout, stderr string) {
	t.Helper()
	cmd := exec.Command(bin, args...)
	cmd.Env = append(os.Environ(), "PHOTOTRACK_COLLECTION=")
	var o, e strings.Builder
	cmd.Stdout, cmd.Stderr = &o, &e
	err := cmd.Run()
	var exit *exec.ExitError
	if err != nil && !errors.As(err, &exit) {
		t.Fatal(err)
	}
	return cmd.ProcessState.ExitCode(), o.String(), e.String()
}

// inProcess is program without a process of its own: loading a few hundred libraries is most of a short command's time.
func inProcess(args ...string) (code int, stdout, stderr string) {
	var o, e strings.Builder
	root := newRoot()
	root.SetArgs(args)
	root.SetOut(&o)
	root.SetErr(&e)
	code = exitCode(root.ExecuteContext(context.Background()), &e)
	return code, o.String(), e.String()
}

// samples makes a collection with the sample lists, and the sample photos for which keep is true in its inbox.
func samples(t testing.TB, keep func(name string) bool) string {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "bench")
	code, _, errs := inProcess("init", dir)
	require.Zero(t, code, errs)
	for _, f := range []string{"plants", "events", "watch", "cards"} {
		copyFile(t, "../../samples/"+f+".csv", filepath.Join(dir, f+".csv"))
	}
	photos, err := filepath.Glob("../../samples/photos/*.jpg")
	require.NoError(t, err)
	for _, p := range photos {
		if keep(filepath.Base(p)) {
			copyFile(t, p, filepath.Join(dir, "inbox", filepath.Base(p)))
		}
	}
	return dir
}

func copyFile(t testing.TB, from, to string) {
	t.Helper()
	data, err := os.ReadFile(from)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(to, data, 0o644))
}

// The whole job on the samples, whose truth is known from the renderer: numbers, dates, plants, verdicts, a report.
func TestSamplesEndToEnd(t *testing.T) {
	dir := samples(t, func(string) bool { return true })
	code, out, errs := program(t, "run", "--collection", dir)
	require.Contains(t, []int{0, 1}, code, out+errs)
	month := filepath.Join(dir, "reports", "2026-07")
	page, err := os.ReadFile(filepath.Join(month, "index.html"))
	require.NoError(t, err)
	assert.Contains(t, string(page), "Neoregelia")

	values := map[string]map[string]string{}
	rows := map[string]map[string]string{}
	u95 := map[string]string{}
	for _, r := range reftest.Table(t, filepath.Join(month, "measurements.csv")) {
		if values[r["photo"]] == nil {
			values[r["photo"]] = map[string]string{}
		}
		values[r["photo"]][r["quantity"]] = r["value"]
		u95[r["photo"]+r["quantity"]] = r["u95"]
		rows[r["photo"]] = r
	}
	var areaErr, rootErr []float64
	unsure := map[string]bool{} // plant and month of photos that say themselves that they may be wrong
	held, doubted := 0, 0
	for _, w := range reftest.Table(t, "testdata/samples_truth.csv") {
		got, row := values[w["photo"]], rows[w["photo"]]
		require.NotNil(t, got, "%s has no row", w["photo"])
		assert.Equal(t, w["plant"], row["plant"], w["photo"])
		assert.Equal(t, w["taken"], row["date"], w["photo"])
		assert.NotEqual(t, "rejected", row["status"], w["photo"])
		if w["view"] == "root" {
			rootErr = append(rootErr, math.Abs(reftest.Num(t, got["root_length"])/reftest.Num(t, w["root_length_mm"])-1))
			continue
		}
		areaErr = append(areaErr, math.Abs(reftest.Num(t, got["leaf_area"])/reftest.Num(t, w["area_mm2"])-1))
		if strings.Contains(row["reasons"], "unsure") {
			unsure[row["plant"]+row["date"][:7]] = true
			doubted++
			if math.Abs(reftest.Num(t, got["leaf_area"])-reftest.Num(t, w["area_mm2"])) <= 1.2*reftest.Num(t, u95[w["photo"]+"leaf_area"]) {
				held++
			}
			continue
		}
		for _, c := range []string{"green", "yellow", "purple", "brown"} {
			assert.InDelta(t, reftest.Num(t, w[c]), reftest.Num(t, got[c+"_share"]), 0.02, "%s %s share", w["photo"], c)
		}
	}
	sort.Float64s(areaErr)
	sort.Float64s(rootErr)
	t.Logf("leaf area: median error %.2f %%, worst %.2f %%; root length: median %.2f %%, worst %.2f %%",
		100*areaErr[len(areaErr)/2], 100*areaErr[len(areaErr)-1], 100*rootErr[len(rootErr)/2], 100*rootErr[len(rootErr)-1])
	assert.LessOrEqual(t, areaErr[len(areaErr)/2], 0.0095) // of all, those that say they are unsure too
	assert.LessOrEqual(t, areaErr[len(areaErr)-1], 0.02)
	assert.LessOrEqual(t, doubted, 3, "photos that say they are unsure")
	assert.GreaterOrEqual(t, held, doubted-1, "intervals of photos that are unsure")
	assert.LessOrEqual(t, rootErr[len(rootErr)/2], 0.04)
	assert.LessOrEqual(t, rootErr[len(rootErr)-1], 0.12)

	checkAgainstKept(t, month)
	checkVerdicts(t, dir, unsure)

	// A second run has nothing to do, and the same photos under other names add nothing.
	start := time.Now()
	code, out, errs = program(t, "run", "--collection", dir)
	require.Contains(t, []int{0, 1}, code, errs)
	assert.Contains(t, out, "0 measured")
	t.Logf("second run: %s", time.Since(start).Round(time.Millisecond))
	again := t.TempDir()
	copyFile(t, "../../samples/photos/012_2026-03_L.jpg", filepath.Join(again, "IMG_0001.jpg"))
	_, out, _ = program(t, "run", again, "--collection", dir)
	assert.Contains(t, out, "1 photo found, 1 known already, 0 measured")
}

// The stories of the samples: every change between two months has the verdict that the truth has ("either" where the
// truth lies at the edge of what can be seen). Where a photo of the two says itself that it is unsure, the verdict must only
// not be the opposite.
func checkVerdicts(t *testing.T, dir string, unsure map[string]bool) {
	got := map[string]string{}
	for _, month := range []string{"2026-04", "2026-05", "2026-06", "2026-07"} {
		code, _, errs := program(t, "report", "--month", month, "--collection", dir)
		require.Zero(t, code, errs)
		for _, r := range reftest.Table(t, filepath.Join(dir, "reports", month, "changes.csv")) {
			if r["basis"] == "baseline" || r["basis"] == "last session" {
				got[r["plant"]+r["quantity"]+r["from_date"][:7]+r["to_date"][:7]] = r["verdict"]
			}
			if r["plant"] == "45" { // nothing is done to it: no quantity at all may be called otherwise
				assert.NotContains(t, []string{"rose", "fell"}, r["verdict"], "plant 45, %s, %s to %s", r["quantity"], r["from_date"], r["to_date"])
			}
		}
	}
	for _, w := range reftest.Table(t, "testdata/verdicts.csv") {
		if w["verdict"] == "either" {
			continue
		}
		if unsure[w["plant"]+w["from"]] || unsure[w["plant"]+w["to"]] {
			opposite := map[string]string{"rose": "fell", "fell": "rose"}[w["verdict"]]
			if opposite != "" {
				assert.NotEqual(t, opposite, got[w["plant"]+w["quantity"]+w["from"]+w["to"]], "plant %s, %s", w["plant"], w["quantity"])
			}
			continue
		}
		assert.Equal(t, w["verdict"], got[w["plant"]+w["quantity"]+w["from"]+w["to"]], "plant %s, %s, %s to %s (%s)", w["plant"], w["quantity"], w["from"], w["to"], w["why"])
	}
}

// Each kind of bad input gets its own message, stops nothing else, and sets the exit code.
func TestBadInput(t *testing.T) {
	code, _, errs := program(t, "run", "--collection", t.TempDir())
	assert.Equal(t, 2, code)
	assert.Contains(t, errs, "holds no collection")
	code, _, errs = program(t, "run", "--collection", filepath.Join(t.TempDir(), "none"))
	assert.Equal(t, 2, code)
	assert.Contains(t, errs, "no folder")
	code, _, _ = program(t, "frobnicate")
	assert.Equal(t, 2, code)

	dir := samples(t, func(n string) bool { return n == "045_2026-03_L.jpg" })
	good, err := os.ReadFile("../../samples/photos/045_2026-04_L.jpg")
	require.NoError(t, err)
	in := func(name string, data []byte) {
		require.NoError(t, os.WriteFile(filepath.Join(dir, "inbox", name), data, 0o644))
	}
	in("cut.jpg", good[:len(good)/2])
	in("empty.jpg", nil)
	in("words.jpg", []byte("this is no photo"))
	in("film.xyz", []byte("what is this"))
	in("no_date.jpg", withoutExif(t, good))
	f, err := os.OpenFile(filepath.Join(dir, "plants.csv"), os.O_APPEND|os.O_WRONLY, 0)
	require.NoError(t, err)
	_, err = f.WriteString("four hundred,Typo,,,,,,,\n")
	require.NoError(t, err)
	require.NoError(t, f.Close())

	code, out, errs := program(t, "run", "--collection", dir)
	assert.Equal(t, 1, code)
	assert.Contains(t, errs, "plants.csv")
	assert.Contains(t, errs, "8", "the line is named")
	for _, want := range []string{"cut.jpg", "empty.jpg", "words.jpg", "film.xyz", "no_date.jpg", "does not say when it was taken"} {
		assert.Contains(t, out, want)
	}
	assert.Contains(t, out, "1 accepted", "the good photo is measured all the same")

	// A folder without a photo, and a folder that is not there.
	code, out, _ = program(t, "run", t.TempDir(), "--collection", dir)
	assert.Equal(t, 1, code)
	assert.Contains(t, out, "There is no photo in")
	code, _, errs = program(t, "run", filepath.Join(dir, "nowhere"), "--collection", dir)
	assert.Equal(t, 2, code)
	assert.Contains(t, errs, "nowhere")

	// A date given by hand settles the photo without one, is written down, and is not asked for again.
	code, out, _ = program(t, "run", "--date", "2026-04-11", "--collection", dir)
	assert.Contains(t, out, "1 accepted", out)
	assert.Equal(t, 1, code, "the damaged files still need attention")
	fixes, err := os.ReadFile(filepath.Join(dir, "corrections.csv"))
	require.NoError(t, err)
	assert.Contains(t, string(fixes), "2026-04-11")
	_, out, _ = program(t, "run", "--collection", dir)
	assert.Contains(t, out, "0 measured")
}

// withoutExif drops the APP1 segments of a JPEG, as chat programs do.
func withoutExif(t testing.TB, data []byte) []byte {
	t.Helper()
	out := append([]byte(nil), data[:2]...)
	for i := 2; i+4 <= len(data) && data[i] == 0xff; {
		if data[i+1] == 0xda {
			return append(out, data[i:]...)
		}
		n := 2 + int(data[i+2])<<8 + int(data[i+3])
		if data[i+1] != 0xe1 {
			out = append(out, data[i:i+n]...)
		}
		i += n
	}
	t.Fatal("no image data in the JPEG")
	return nil
}

// One worker and two give the same numbers to the last digit, and so does a run that was interrupted and taken up again.
func TestSameNumbersHoweverRun(t *testing.T) {
	keep := func(n string) bool { return strings.HasPrefix(n, "017") || strings.HasPrefix(n, "031_2026-0") }
	export := func(dir string) string {
		out := t.TempDir()
		code, _, errs := program(t, "export", "--out", out, "--collection", dir)
		require.Zero(t, code, errs)
		data, err := os.ReadFile(filepath.Join(out, "measurements.csv"))
		require.NoError(t, err)
		return string(data)
	}
	one := samples(t, keep)
	program(t, "run", "--workers", "1", "--no-report", "--collection", one)
	want := export(one)
	require.Greater(t, strings.Count(want, "\n"), 100)

	two := samples(t, keep)
	program(t, "run", "--workers", "2", "--no-report", "--collection", two)
	assert.Equal(t, want, export(two))

	stopped := samples(t, keep)
	for i := range 3 {
		cmd := exec.Command(bin, "run", "--workers", "2", "--no-report", "--collection", stopped)
		require.NoError(t, cmd.Start())
		time.Sleep(time.Duration(300+250*i) * time.Millisecond)
		sig := syscall.SIGINT
		if i == 2 {
			sig = syscall.SIGKILL
		}
		cmd.Process.Signal(sig)
		cmd.Wait()
	}
	program(t, "run", "--no-report", "--collection", stopped)
	assert.Equal(t, want, export(stopped))
	assert.Empty(t, strays(t), "no worker outlives its parent")
}

// strays are worker processes of this test's program that are still there.
func strays(t testing.TB) (out []string) {
	t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), 5*time.Second)
	defer cancel()
	for {
		out = nil
		lines, _ := filepath.Glob("/proc/[0-9]*/cmdline")
		for _, f := range lines {
			data, err := os.ReadFile(f)
			if err == nil && strings.HasPrefix(string(data), bin+"\x00worker") {
				out = append(out, f)
			}
		}
		if len(out) == 0 || ctx.Err() != nil {
			return out
		}
		time.Sleep(50 * time.Millisecond)
	}
}

func TestCheckSpeaksPlainly(t *testing.T) {
	dir := t.TempDir()
	code, out, errs := program(t, "check", "../../samples/photos/012_2026-03_L.jpg", "--overlay", dir, "--budget")
	require.Zero(t, code, errs)
	assert.Contains(t, out, "it would be used")
	assert.Contains(t, out, "Plant 12, leaves, taken")
	assert.Contains(t, out, "depth common")
	assert.FileExists(t, filepath.Join(dir, "012_2026-03_L.overlay.jpg"))
	code, out, _ = program(t, "check", "--json", "../../samples/photos/012_2026-03_L.jpg")
	require.Zero(t, code)
	assert.Contains(t, out, `"sha256"`)
}

func TestEventsAreAppended(t *testing.T) {
	dir := samples(t, func(string) bool { return false })
	code, out, errs := program(t, "event", "2026-05-02", "clivia", "feed", "half strength", "--collection", dir)
	require.Zero(t, code, errs)
	assert.Contains(t, out, "2 plants")
	data, err := os.ReadFile(filepath.Join(dir, "events.csv"))
	require.NoError(t, err)
	assert.Contains(t, string(data), "2026-05-02,clivia,feed,half strength")
	code, _, errs = program(t, "event", "2026-13-02", "12", "feed", "--collection", dir)
	assert.Equal(t, 2, code)
	assert.Contains(t, errs, "hint:")
}
