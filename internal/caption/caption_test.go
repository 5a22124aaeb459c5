package caption

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestTemplatesAreFilled(t *testing.T) {
	for _, c := range []struct{ name, text, want string }{
		{"nothing", "", ""},
		{"words alone", "Our bench", "Our bench"},
		{"number and name", "No. {{.Plant}}: {{.Name}}", "No. 12: Clivia"},
		{"a list with commas", "{{.Dates}}", "7 March 2026, 11 July 2026"},
		{"values", "{{.First}} became {{.Latest}}", "leaf area 214 ± 7 cm² became leaf area 289 ± 9 cm²"},
		{"events, where there are any", "{{if .Events}}Between: {{.Events}}.{{end}}", "Between: repot, 18 April 2026."},
		{"else", `{{if eq .View "root"}}roots{{else}}leaves{{end}}`, "leaves"},
		{"two conditions", `{{if and .Group (ne .Name "x")}}{{.Group}}{{end}}`, "clivia"},
		{"else if", `{{if eq .Plant 5}}five{{else if gt .Plant 10}}many{{end}}`, "many"},
		{"number of dates", "{{len .Dates}} dates", "2 dates"},
		{"white space is one blank", " {{.Name}}\n\t x ", "Clivia x"},
		{"a comment", "{{/* mine */}}{{.Name}}", "Clivia"},
		{"marks of other languages are letters here", `<b>{{.Name}}</b> %s \( ${x}`, `<b>Clivia</b> %s \( ${x}`},
	} {
		t.Run(c.name, func(t *testing.T) {
			tpl, err := Parse(c.text)
			require.NoError(t, err)
			got, ok := tpl.Fill(sample)
			assert.True(t, ok)
			assert.Equal(t, c.want, got)
		})
	}
}

func TestWrongTemplatesAreNamed(t *testing.T) {
	for _, c := range []struct{ name, text, want string }{
		{"no such field", "{{.Nonsense}}", "there is no field .Nonsense"},
		{"no such field where no sample goes", `{{if eq .Name "?"}}{{.Nonsense}}{{end}}`, "there is no field .Nonsense"},
		{"braces left open", "{{.Name", "cannot be read: unclosed action"},
		{"if left open", "{{if .Name}}x", "unexpected EOF"},
		{"point forgotten", "{{Name}}", "a field begins with a point"},
		{"a part of a field", "{{.Name.First}}", "there is no field .Name.First"},
		{"everything at once", "{{.}}", "cannot use ."},
		{"a text against a number", "{{if eq .Plant .Name}}x{{end}}", "incompatible types"},
		{"a loop", "{{range .Dates}}x{{end}}", "cannot use {{range"},
		{"a loop without end", "{{range 1000000000}}{{end}}", "cannot use {{range"},
		{"letters without end", `{{printf "%999999d" 1}}`, "cannot use printf"},
		{"a template that calls itself", `{{define "a"}}{{template "a"}}{{end}}{{template "a"}}`, "may not define others"},
		{"a template called", `{{template "a"}}`, "cannot use {{template"},
		{"a variable", "{{$x := .Name}}{{$x}}", "cannot use $x"},
		{"with", "{{with .Name}}{{.}}{{end}}", "cannot use {{with"},
		{"call", "{{call .Name}}", "cannot use call"},
		{"too long", strings.Repeat("a", 1001), "longer than 1000"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := Parse(c.text)
			require.Error(t, err)
			assert.Contains(t, err.Error(), c.want)
			assert.NotContains(t, err.Error(), "template: ", "no words of the library")
		})
	}
}

func TestDefaultsFitAllPlates(t *testing.T) {
	w := Words{Name: "bench", Collection: "bench", From: "7 March 2026", To: "7 March 2026"}
	for _, c := range []struct {
		name string
		w    Words
		want Filled
	}{
		{"one plant", sample, Filled{"12 Clivia", "7 March 2026 to 11 July 2026. Same scale, same colour correction, same framing. Printed 1 : 2.", "bench"}},
		{"a sheet", w, Filled{"bench", "7 March 2026. Same scale, same colour correction, same framing.", ""}},
		{"no name", Words{Plant: 3}, Filled{"3", "Same scale, same colour correction, same framing.", ""}},
	} {
		t.Run(c.name, func(t *testing.T) { assert.Equal(t, c.want, Defaults().Fill(c.w)) })
	}
	odd := Texts{Title: "{{.Nonsense}}", Caption: "", Foot: `{{if eq .Name "clash"}}{{if eq .Plant .Name}}x{{end}}{{end}}`}
	got := odd.Fill(Words{Name: "clash", Collection: "bench"})
	assert.Equal(t, Filled{Title: "clash", Foot: "bench"}, got, "one that cannot be filled gives way to its default, an empty one stays empty")
}

func TestEveryFieldSaysWhatItIs(t *testing.T) {
	for _, f := range Fields() {
		assert.NotEmpty(t, f.Doc, f.Name)
	}
}

func FuzzParse(f *testing.F) {
	f.Add(Defaults().Title)
	f.Add(Defaults().Caption)
	f.Add(`{{if and .Group (ne .Name "x")}}{{.Group}}{{else if not .Plant}}y{{end}}`)
	f.Add(`{{range 9}}{{end}}{{define "a"}}{{template "a"}}{{end}}`)
	f.Fuzz(func(t *testing.T, text string) {
		tpl, err := Parse(text)
		if err != nil {
			return
		}
		s, _ := tpl.Fill(sample)
		if len(s) > 200*(len(text)+1) || strings.ContainsAny(s, "\n\t") {
			t.Fatalf("%d letters from %d", len(s), len(text))
		}
	})
}
