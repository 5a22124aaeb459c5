package collection

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// What cannot be read costs itself, not what stands around it.
func TestBrokenSettingsAreReadAroundTheFault(t *testing.T) {
	for _, tt := range []struct {
		name, text string
		line       int
		what       string
		workers    int
		slopeDeg   float64 // of leaves
	}{
		{"a header not closed", "[measurement]\nslope_deg = 12\n[parts\nslope_deg = 33\ndepth_mm = 1\n[run]\nworkers = 3\n", 3, "what stands below it is left out", 3, 12},
		{"a header of nobody's", "[measurement]\nslope_deg = 12\n[part]\nslope_deg = 33\n[run]\nworkers = 3\n", 3, "not known", 3, 12},
		{"a text without end", "[run]\nworkers = 3\n[plates]\ntitle = \"\"\"Plant\n[measurement]\nslope_deg = 12\n", 4, `title = \"\"\"Plant`, 3, 12},
		{"a list without end", "[run]\n# how many\nworkers = [\n\n[measurement]\nslope_deg = 12\n", 3, "workers = [", 0, 12},
		{"twice", "[run]\nworkers = 3\nworkers = 4\n[measurement]\nslope_deg = 12\n", 3, "stands on line 2 already", 3, 12},
		{"no such day", "[run]\nworkers = 3\n[change]\nbaseline = 2026-13-45\n[measurement]\nslope_deg = 12\n", 4, "cannot be read", 3, 12},
		{"a long one", "[report]\ntitle = \"" + strings.Repeat("a", maxSettingBytes) + "\"\n[run]\nworkers = 3\n[measurement]\nslope_deg = 12", 2, "cannot be read", 3, 12},
		{"a list of sections", "[[run]]\nworkers = 3\n[measurement]\nslope_deg = 12\n", 1, "a section, not a value", 0, 12},
		{"screen codes", "#\x1b[2J\r\n[run]\r\nworkers = 3\r\n[measurement]\r\nslope_deg = 12", 1, "cannot be read", 3, 12},
	} {
		t.Run(tt.name, func(t *testing.T) {
			s, faults := ParseSettings([]byte(tt.text))
			require.Len(t, faults, 1)
			assert.Equal(t, tt.line, faults[0].Line)
			assert.Contains(t, faults[0].What, tt.what)
			assert.NotEmpty(t, faults[0].Hint)
			want := DefaultSettings()
			want.Run.Workers, want.Measurement.SlopeDeg = tt.workers, tt.slopeDeg
			assert.Equal(t, want, s)
		})
	}
}

// Settings may stand in any form that TOML has for them, and a section in two pieces.
func TestSettingsInOtherForms(t *testing.T) {
	want := DefaultSettings()
	want.Run.Workers, want.Run.TimeLimitS, want.Report.Title = 3, 70, "Bench"
	for _, text := range []string{
		"run.workers = 3\nrun.time_limit_s = 70\nreport.title = 'Bench'\n",
		"run = {workers = 3, time_limit_s = 70}\nreport = {title = \"Bench\"}\n",
		"[run]\nworkers = 3 # all\n[report]\ntitle = \"\"\"\nBench\"\"\"\n[run]\ntime_limit_s = 70",
		"  [ \"run\" ]\n\t'workers' = 0x3\ntime_limit_s = 7_0\n\n\n[report]\r\ntitle=\"\\u0042ench\"\r\n",
	} {
		s, faults := ParseSettings([]byte(text))
		assert.Empty(t, faults, text)
		assert.Equal(t, want, s, text)
	}
}

// A file that holds anything but settings is put aside quickly, however it is made: 70 s were once spent on 120 kB of headers.
func TestAFileOfNoSettingsTakesNoTime(t *testing.T) {
	var keys strings.Builder
	for i := range 100_000 {
		fmt.Fprintf(&keys, "k%d=1\n", i)
	}
	for name, text := range map[string]string{
		"keys": keys.String(), "keys of a section": "[run]\n" + keys.String(), "keys of nobody's": "[walk]\n" + keys.String(),
		"headers": strings.Repeat("[[a]]\n", 100_000), "one header": strings.Repeat("[run]\n", 100_000), "one key": "[run]\n" + strings.Repeat("workers=1\n", 50_000),
		"bad lines": strings.Repeat("x y\n", 100_000), "lists without end": strings.Repeat("a=[\n", 100_000), "texts without end": strings.Repeat("a=\"\n", 100_000),
		"many in one": "run={" + strings.TrimSuffix(strings.ReplaceAll(keys.String(), "\n", ","), ",") + "}\n",
	} {
		begun := time.Now()
		s, _ := ParseSettings([]byte(text))
		assert.Less(t, time.Since(begun), 5*time.Second, name)
		if name != "one key" {
			assert.Equal(t, DefaultSettings(), s, name)
		}
	}
}
