package collection

import (
	"reflect"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/caption"
)

func TestTheShippedSettingsExplainEveryKey(t *testing.T) {
	text := SettingsText()
	got, faults := ParseSettings([]byte(text))
	assert.Empty(t, faults)
	assert.Equal(t, DefaultSettings(), got)
	v := reflect.TypeOf(Settings{})
	for i := range v.NumField() {
		for j := range v.Field(i).Type.NumField() {
			f := v.Field(i).Type.Field(j)
			assert.NotEmpty(t, f.Tag.Get("doc"), f.Name)
			assert.Contains(t, text, "\n"+f.Tag.Get("toml")+" = ")
			if k := f.Type.Kind(); k == reflect.Float64 || k == reflect.Int {
				assert.NotEmpty(t, f.Tag.Get("max"), f.Name)
			}
		}
	}
}

func TestSettingsAreRead(t *testing.T) {
	s, faults := ParseSettings([]byte("\ufeff[measurement]\r\noffset_mm = -12\r\nslope_deg = 15.5\r\n[change]\nbaseline = 2026-03-01\n[run]\nkeep_originals = false\nworkers = 3\n[report]\ntitle = \"Club's bench\"\n"))
	assert.Empty(t, faults)
	assert.Equal(t, -12.0, s.Measurement.OffsetMM)
	assert.Equal(t, 15.5, s.Measurement.SlopeDeg)
	assert.Equal(t, 8.0, s.Measurement.DepthCommonMM)
	assert.Equal(t, "2026-03-01", s.Change.Baseline)
	assert.False(t, s.Run.KeepOriginals)
	assert.Equal(t, 3, s.Run.Workers)
	assert.Equal(t, "Club's bench", s.Report.Title)
}

func TestFaultySettingsKeepTheirDefaults(t *testing.T) {
	for _, tt := range []struct{ name, text, place, what string }{
		{"unknown key", "[measurement]\noffset = 3\n", "settings.toml line 2, measurement.offset", "not known"},
		{"unknown section", "[measure]\noffset_mm = 3\n", "settings.toml line 1, measure", "not known"},
		{"key outside its section", "offset_mm = 3\n", "settings.toml line 1, offset_mm", "not known"},
		{"out of range", "[measurement]\n\ndepth_shot_mm = 5000\n", "settings.toml line 3, measurement.depth_shot_mm", "outside"},
		{"not a number", "[measurement]\ndepth_shot_mm = \"five\"\n", "settings.toml line 2, measurement.depth_shot_mm", "number"},
		{"infinite", "[measurement]\ndepth_shot_mm = inf\n", "settings.toml line 2, measurement.depth_shot_mm", "outside"},
		{"NaN", "[measurement]\ndepth_shot_mm = nan\n", "settings.toml line 2, measurement.depth_shot_mm", "outside"},
		{"half a worker", "[run]\nworkers = 1.5\n", "settings.toml line 2, run.workers", "whole number"},
		{"decimal comma", "[measurement]\ndepth_shot_mm = 4,5\n", "settings.toml line 2", "cannot be read"},
		{"classes crossed", "[classes]\nyellow_from_deg = 120\n", "settings.toml line 2, yellow_from_deg", ""},
		{"baseline", "[change]\nbaseline = \"spring\"\n", "settings.toml line 2, change.baseline", "spring"},
		{"text of a number", "[report]\ntitle = 5\n", "settings.toml line 2, report.title", "quotes"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			s, faults := ParseSettings([]byte(tt.text + "\n[report]\npicture_px = 999\n"))
			if strings.HasPrefix(tt.text, "[report]") {
				s, faults = ParseSettings([]byte(tt.text + "picture_px = 999\n"))
			}
			require.Len(t, faults, 1)
			if tt.name != "classes crossed" {
				assert.Equal(t, tt.place, faults[0].Place())
			}
			assert.Contains(t, faults[0].What, tt.what)
			assert.NotEmpty(t, faults[0].Hint)
			want := DefaultSettings()
			want.Report.PicturePx = 999
			assert.Equal(t, want, s, "the rest counts, the default holds for the fault")
		})
	}
}

func TestTemplatesOfPlates(t *testing.T) {
	s, faults := ParseSettings([]byte("[plates]\ntitle = 'No. {{.Plant}} \"{{.Name}}\"'\ncaption = \"\"\n"))
	assert.Empty(t, faults)
	assert.Equal(t, PlateSettings{Title: `No. {{.Plant}} "{{.Name}}"`, Foot: DefaultSettings().Plates.Foot}, s.Plates, "an empty text is a choice, a missing line is not")
	for _, tt := range []struct{ name, line, what string }{
		{"no such field", `title = "{{.Nam}}"`, "there is no field .Nam; the default holds"},
		{"not closed", `title = "{{.Name"`, "unclosed action"},
		{"a loop", `title = "{{range .Dates}}x{{end}}"`, "cannot use"},
		{"screen codes", `title = "{{.\u001b[2J}}"`, "cannot be read"},
		{"a number", `title = 5`, "quotes"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			s, faults := ParseSettings([]byte("[plates]\n\n" + tt.line + "\nfoot = \"mine\"\n"))
			require.Len(t, faults, 1)
			assert.Equal(t, "settings.toml line 3, plates.title", faults[0].Place())
			assert.Contains(t, faults[0].What, tt.what)
			assert.NotContains(t, faults[0].What, "\x1b")
			assert.NotEmpty(t, faults[0].Hint)
			assert.Equal(t, DefaultSettings().Plates.Title, s.Plates.Title)
			assert.Equal(t, "mine", s.Plates.Foot, "the others count")
		})
	}
}

func TestSettingsListTheFieldsOfTemplates(t *testing.T) {
	for _, f := range caption.Fields() {
		assert.Contains(t, SettingsText(), "{{"+f.Name+"}}")
		assert.Contains(t, SettingsText(), f.Doc)
	}
}

func FuzzSettings(f *testing.F) {
	for _, section := range strings.Split(SettingsText(), "\n\n") { // one a seed, without words: what is new is made smaller letter by letter
		f.Add(regexp.MustCompile(`(?m)^#.*\n`).ReplaceAllString(section, ""))
	}
	f.Add("[measurement]\noffset_mm = 4,5\n[[run]]\nworkers = -1\n")
	f.Add("[plates]\ntitle = '{{if .Name}}x'\ncaption = \"\"\n")
	f.Add("a.b.c = [1, {x = 2}]\n\"\"\"")
	f.Fuzz(func(t *testing.T, text string) {
		s, _ := ParseSettings([]byte(text))
		if again, faults := ParseSettings(nil); len(faults) > 0 || !reflect.DeepEqual(again, DefaultSettings()) {
			t.Fatal("reading one file changed another")
		}
		if c := s.Classes; !(c.BrownFromDeg < c.YellowFromDeg && c.YellowFromDeg < c.GreenFromDeg && c.GreenFromDeg < c.PurpleFromDeg) {
			t.Fatalf("classes out of order: %+v", c)
		}
		if s.Run.TimeLimitS < 5 || s.Measurement.SlopeDeg > 45 {
			t.Fatalf("out of range: %+v", s)
		}
		for _, text := range []string{s.Plates.Title, s.Plates.Caption, s.Plates.Foot} {
			if _, err := caption.Parse(text); err != nil {
				t.Fatal(err)
			}
		}
	})
}
