// Package caption holds the words on a plate: its title, the line under it and the line at its foot. Each comes from a
// template that the grower can edit in the settings.
//
// The templates are those of text/template, kept to what a line of words needs: fields, if/else and comparisons. There
// are no loops, no definitions and no formatting functions, so that filling one takes no longer than reading it and its
// result is bounded by the fields, whatever the template says.
package caption

import (
	"fmt"
	"strings"
	"text/template"
)

// List is a field of several values; as text it is "a, b, c".
type List []string

// String joins the values with commas.
func (l List) String() string { return strings.Join(l, ", ") }

// Words are the fields that a template may name. A field that does not apply is empty, a number 0.
type Words struct {
	Plant      int    `doc:"the plant's number (0 on a plate of several plants)"`
	Name       string `doc:"its name"`
	Group      string `doc:"its group"`
	View       string `doc:"leaf or root"`
	Collection string `doc:"the collection's name"`
	From       string `doc:"the first day shown"`
	To         string `doc:"the last day shown"`
	Dates      List   `doc:"all days shown"`
	First      List   `doc:"values with their intervals on the first day (one plant only)"`
	Latest     List   `doc:"the same on the last day"`
	Events     List   `doc:"what was done between the days shown"`
	Scale      string `doc:"such as 1 : 2, on a PDF of exact scale"`
}

// Texts are the three templates of a plate.
type Texts struct {
	Title   string
	Caption string
	Foot    string
}

// Defaults are the templates that hold until the grower writes others.
func Defaults() Texts {
	return Texts{
		Title:   `{{if .Plant}}{{.Plant}} {{end}}{{.Name}}`,
		Caption: `{{.From}}{{if ne .From .To}} to {{.To}}{{end}}{{if .From}}. {{end}}Same scale, same colour correction, same framing.{{if .Scale}} Printed {{.Scale}}.{{end}}`,
		Foot:    `{{if ne .Name .Collection}}{{.Collection}}{{end}}`,
	}
}

// Template is a checked template.
type Template struct{ t *template.Template }

// maxTemplate is the longest template, in bytes: several times what a line holds.
const maxTemplate = 1000

// Parse checks a template. The error is a sentence for the grower; it names the part that cannot be used.
func Parse(text string) (Template, error) {
	if len(text) > maxTemplate {
		return Template{}, fmt.Errorf("the template is longer than %d characters", maxTemplate)
	}
	t, err := template.New("").Parse(text)
	if err != nil {
		return Template{}, fmt.Errorf("the template cannot be read: %s", plain(err))
	}
	if len(t.Templates()) > 1 {
		return Template{}, fmt.Errorf("the template may not define others")
	}
	if t.Tree != nil {
		if err := check(t.Root); err != nil {
			return Template{}, err
		}
	}
	tpl := Template{t}
	for _, w := range []Words{{}, sample} { // both ways through most conditions
		if _, err := tpl.execute(w); err != nil {
			return Template{}, fmt.Errorf("the template cannot be filled in: %s", plain(err))
		}
	}
	return tpl, nil
}

// sample is a plate's words, to try a template on.
var sample = Words{Plant: 12, Name: "Clivia", Group: "clivia", View: "leaf", Collection: "bench", From: "7 March 2026", To: "11 July 2026",
	Dates: List{"7 March 2026", "11 July 2026"}, First: List{"leaf area 214 ± 7 cm²"}, Latest: List{"leaf area 289 ± 9 cm²"},
	Events: List{"repot, 18 April 2026"}, Scale: "1 : 2"}

// Fill gives a template's words on one line. ok is false where the template does not fit these words, as when it
// compares a text with a number; another should then be used.
func (t Template) Fill(w Words) (line string, ok bool) {
	s, err := t.execute(w)
	return s, err == nil
}

func (t Template) execute(w Words) (string, error) {
	if t.t == nil || t.t.Tree == nil {
		return "", nil
	}
	var b strings.Builder
	if err := t.t.Execute(&b, w); err != nil {
		return "", err
	}
	return strings.Join(strings.Fields(b.String()), " "), nil
}

// Filled are the words of one plate, each on one line.
type Filled struct{ Title, Caption, Foot string }

// Fill fills the three templates; one that cannot be used is replaced by its default.
func (t Texts) Fill(w Words) Filled {
	d := Defaults()
	return Filled{fill(t.Title, d.Title, w), fill(t.Caption, d.Caption, w), fill(t.Foot, d.Foot, w)}
}

func fill(text, standard string, w Words) string {
	for _, try := range []string{text, standard} {
		if t, err := Parse(try); err == nil {
			if line, ok := t.Fill(w); ok {
				return line
			}
		}
	}
	return ""
}
