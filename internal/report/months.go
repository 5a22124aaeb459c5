package report

import (
	"html/template"
	"io"
	"time"

	"phototrack/internal/words"
)

// WriteMonths writes the page that lists all reports of a collection, the latest first.
func WriteMonths(w io.Writer, collection string, reports []Link) error {
	return standalone(w, "months.html", map[string]any{"Collection": collection, "Reports": reports})
}

// WriteDictionaryPage writes the dictionary of the exports as a page to read: every table and column in words.
func WriteDictionaryPage(w io.Writer, collection string, made time.Time) error {
	return standalone(w, "dictionary.html", Dictionary(collection, made))
}

// standalone writes a page that holds its style sheet.
func standalone(w io.Writer, name string, body any) error {
	t, err := template.New("").Funcs(template.FuncMap{"first": words.Upper}).ParseFS(assets, "assets/pages/"+name)
	if err != nil {
		return err
	}
	css, err := assets.ReadFile("assets/report.css")
	if err != nil {
		return err
	}
	return t.ExecuteTemplate(w, name, struct {
		CSS  template.CSS
		Body any
	}{template.CSS(css), body})
}
