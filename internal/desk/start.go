package desk

import (
	"bytes"
	"net/http"
	"strings"

	"phototrack/internal/cardpdf"
	"phototrack/internal/record"
)

// startBody is the page on how to begin.
type startBody struct {
	Dir    string
	Plants int
	Papers []paperChoice
}

// paperChoice is a paper as the address names it and as people do.
type paperChoice struct{ Name, Title string }

var paperTitles = map[string]string{"a4": "A4 paper", "letter": "Letter paper", "4x6": "photo prints of 4 × 6 inches"}

// startPage says where the collection lies and what comes first; the card and the tags can be had from it.
func (d *Desk) startPage(w http.ResponseWriter, r *http.Request, s *snapshot) error {
	b := startBody{Dir: s.c.Dir, Plants: len(s.c.Plants)}
	for _, p := range cardpdf.Papers() {
		b.Papers = append(b.Papers, paperChoice{p.Name, paperTitles[p.Name]})
	}
	return d.show(w, r, s, sheet{template: "start.html", title: "How to begin", body: b})
}

// print makes the card or the tags of the listed plants as a PDF at exact size: card-a4.pdf, tags-letter.pdf.
func (d *Desk) print(w http.ResponseWriter, r *http.Request) error {
	what, name, _ := strings.Cut(strings.TrimSuffix(r.PathValue("file"), ".pdf"), "-")
	paper, err := cardpdf.PaperByName(name)
	if err != nil || what != "card" && what != "tags" && what != "names" {
		return notFound("there is no such thing to print")
	}
	o := cardpdf.Options{Paper: paper, Card: true, HowTo: true}
	if what != "card" {
		s, done, err := d.now(r.Context())
		if err != nil {
			return err
		}
		defer done()
		if len(s.c.Plants) == 0 {
			return bad(http.StatusUnprocessableEntity, "there are no plants yet to print tags for", "Add your plants first.")
		}
		o = tagsOf(s.c.Plants, paper, what == "names")
	}
	var b bytes.Buffer
	if err := cardpdf.Write(&b, o); err != nil {
		return err
	}
	w.Header().Set("Content-Type", "application/pdf")
	w.Header().Set("Content-Disposition", `attachment; filename="phototrack-`+what+`-`+paper.Name+`.pdf"`)
	_, err = w.Write(b.Bytes())
	return err
}

func tagsOf(plants []record.Plant, paper cardpdf.Paper, names bool) cardpdf.Options {
	o := cardpdf.Options{Paper: paper, Names: map[int]string{}}
	for _, p := range plants {
		o.Tags = append(o.Tags, p.Number)
		if names {
			o.Names[p.Number] = p.Name
		}
	}
	return o
}
