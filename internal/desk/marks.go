package desk

import (
	"encoding/json"
	"math"
	"net/http"
	"os/user"
	"slices"
	"time"

	"phototrack/internal/collection"
	"phototrack/internal/gate"
	"phototrack/internal/pipeline"
	"phototrack/internal/record"
)

// measured is the answer to a mark: what the photo came to with it.
type measured struct {
	Status   string            `json:"status"`
	Summary  string            `json:"summary"`
	Numbers  []number          `json:"numbers"`
	Reasons  []reason          `json:"reasons"`
	Outlines []record.Outline  `json:"outlines"`
	Layers   []layer           `json:"layers"`
	Marks    []collection.Mark `json:"marks"`
	Plain    string            `json:"plain"`
	Places   []doubtful        `json:"places"`         // that still wait for the grower's word
	Open     bool              `json:"undecided"`      // the photo does
	Wall     string            `json:"wall,omitempty"` // the unrolled wall as it is drawn now, "" where there is none
}

// saveMarks replaces the areas of a photo by those sent; its lines stay, measures it, and answers with its new numbers.
func (d *Desk) saveMarks(w http.ResponseWriter, r *http.Request, s *snapshot, p *record.Photo) error {
	var in struct {
		Marks []collection.Mark `json:"marks"`
	}
	dec := json.NewDecoder(r.Body)
	dec.DisallowUnknownFields()
	if err := dec.Decode(&in); err != nil {
		return &fault{http.StatusBadRequest, err}
	}
	who, when := writer(), time.Now().Format(time.RFC3339)
	for i := range in.Marks {
		m := &in.Marks[i]
		m.Line = nil
		if m.Who == "" {
			m.Who = who
		}
		if m.When == "" {
			m.When = when
		}
		if err := m.Check(); err != nil {
			return &fault{http.StatusBadRequest, err}
		}
	}
	if err := d.change(func(c *collection.Collection) error {
		return c.SaveMarks(p.SHA256, p.Name, append(slices.Clone(in.Marks), collection.Lines(c.MarksFor(p.SHA256))...))
	}); err != nil {
		return err
	}
	out, err := d.remeasureOne(r.Context(), p)
	if err != nil {
		return err
	}
	outlines := withCard(out)
	answer := measured{Status: string(out.Status), Summary: summary(out), Numbers: numbersOf(out), Reasons: reasonsOf(out.Reasons),
		Outlines: outlines, Layers: layersOf(outlines), Marks: in.Marks, Plain: pictureAddress(out, pipeline.PicturePlain),
		Places: placesOf(s.c, s.of(out.Plant, out.View), out)}
	_, answer.Open = gate.Undecided(out)
	if out.View == record.Root && out.Extra["wall"] != "" {
		answer.Wall = pictureAddress(out, pipeline.PictureWallOverlay)
	}
	writeJSON(w, http.StatusOK, answer)
	return nil
}

// writer is the name of the person at this computer, for the marks' record.
func writer() string {
	u, err := user.Current()
	if err != nil {
		return ""
	}
	return u.Username
}

// copyMarks gives a photo's marks to the plant's next photos of that view and measures them in the background. The
// marks are carried over by the card, which stands beside the plant in each: a place keeps its place in mm.
func (d *Desk) copyMarks(w http.ResponseWriter, r *http.Request, s *snapshot, p *record.Photo) error {
	marks := collection.Areas(s.c.MarksFor(p.SHA256))
	if len(marks) == 0 {
		return bad(http.StatusUnprocessableEntity, "this photo has no marks", "Draw them first.")
	}
	var touched []*record.Photo
	after := false
	for _, q := range s.of(p.Plant, p.View) {
		if q.SHA256 == p.SHA256 {
			after = true
		} else if after && p.Plant > 0 && len(collection.Areas(s.c.MarksFor(q.SHA256))) == 0 && q.WidthPx > 0 {
			touched = append(touched, q)
		}
	}
	if len(touched) == 0 {
		return bad(http.StatusUnprocessableEntity, "there is no later photo of this plant without marks of its own", "Photos that have marks are left as they are.")
	}
	err := d.change(func(c *collection.Collection) error {
		for _, q := range touched {
			if err := c.SaveMarks(q.SHA256, q.Name, append(pipeline.CarryAreas(marks, p, q), collection.Lines(c.MarksFor(q.SHA256))...)); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	d.startThese(touched)
	return back(w, r, "/add?said=measuring")
}

func clamp(v float64) float64 { return math.Min(1, math.Max(0, v)) }
