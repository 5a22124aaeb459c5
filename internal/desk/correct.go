package desk

import (
	"fmt"
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"phototrack/internal/collection"
	"phototrack/internal/record"
)

// correct writes down what the form of a photo's page says otherwise than is in force, and measures that photo again.
func (d *Desk) correct(w http.ResponseWriter, r *http.Request, s *snapshot, p *record.Photo) error {
	list, err := corrections(s.c, p, r.PostForm)
	if err != nil {
		return err
	}
	to := "/photo/" + p.SHA256
	if len(list) == 0 {
		return back(w, r, with(to, "said", "same"))
	}
	if err := d.change(func(c *collection.Collection) error { return c.AppendCorrections(list...) }); err != nil {
		return err
	}
	if _, err := d.remeasureOne(r.Context(), p); err != nil {
		return err
	}
	return back(w, r, with(to, "said", "corrected"))
}

// inForce is what holds for a photo now, as the fields of corrections.csv write it.
func inForce(c *collection.Collection, p *record.Photo) map[string]string {
	o := c.OverrideFor(p.SHA256, p.Name)
	out := map[string]string{collection.FieldView: string(p.View), collection.FieldDate: p.Taken.String()}
	if p.Plant > 0 {
		out[collection.FieldPlant] = itoa(p.Plant)
	}
	offset := c.Settings.Measurement.OffsetMM
	if o.OffsetMM != nil {
		offset = *o.OffsetMM
	}
	out[collection.FieldOffset] = decimal(offset)
	if pot := potOf(c, p); pot.Known() {
		out[collection.FieldPot] = potText(pot)
	}
	return out
}

// potOf is the clear pot in force for a photo.
func potOf(c *collection.Collection, p *record.Photo) record.Pot {
	if o := c.OverrideFor(p.SHA256, p.Name); o.Pot.Known() {
		return o.Pot
	}
	return c.PotAt(p.Plant, p.Taken.Day())
}

// corrections are the lines for what a form says otherwise than is in force. An empty field says nothing.
func corrections(c *collection.Collection, p *record.Photo, form url.Values) ([]collection.Correction, error) {
	now := inForce(c, p)
	why := strings.TrimSpace(form.Get("reason"))
	ref := collection.PhotoRef(p.SHA256, p.Name)
	var out []collection.Correction
	for _, field := range []string{collection.FieldPlant, collection.FieldView, collection.FieldDate, collection.FieldOffset, collection.FieldPot} {
		v := strings.TrimSpace(form.Get(field))
		if v == "" || v == now[field] || field == collection.FieldDate && strings.HasPrefix(now[field], v) {
			continue
		}
		out = append(out, collection.Correction{Photo: ref, Field: field, Old: now[field], New: v, Reason: why})
	}
	excluded := c.OverrideFor(p.SHA256, p.Name).Excluded
	switch want := form.Get("counts"); {
	case want == "no" && !excluded:
		if why == "" {
			return nil, bad(http.StatusUnprocessableEntity, "an excluded photo needs a reason", "Write a few words, so that you know next year why it does not count.")
		}
		out = append(out, collection.Correction{Photo: ref, Field: collection.FieldExclude, New: "yes", Reason: why})
	case want == "yes" && excluded:
		out = append(out, collection.Correction{Photo: ref, Field: collection.FieldInclude, New: "yes", Reason: why})
	}
	return out, nil
}

// backWords begin the reason of a line that takes another back, whose number follows.
const backWords = "taken back: line "

func takenBack(k collection.Correction) string { return backWords + itoa(k.Line) }

// opposite is the line that takes a correction back, ok false where there was nothing before that could be written.
func opposite(k collection.Correction) (collection.Correction, bool) {
	out := collection.Correction{Photo: k.Photo, Field: k.Field, Old: k.New, New: k.Old, Reason: takenBack(k)}
	switch k.Field {
	case collection.FieldExclude:
		out.Field, out.Old, out.New = collection.FieldInclude, "", "yes"
	case collection.FieldInclude:
		out.Field, out.Old, out.New = collection.FieldExclude, "", "yes"
	case collection.FieldAnswer:
		return out, false
	}
	return out, out.New != ""
}

// undoCorrection takes a correction back by a new line that sets the value before; the history stays whole.
func (d *Desk) undoCorrection(w http.ResponseWriter, r *http.Request, s *snapshot) error {
	line, err := strconv.Atoi(r.PostForm.Get("line"))
	if err != nil {
		return bad(http.StatusBadRequest, "no correction was named", "Choose one from the list.")
	}
	for _, k := range s.c.Corrections {
		// The time must fit too: the file may have been edited since the page was made.
		if k.Line != line || k.Time != r.PostForm.Get("time") {
			continue
		}
		return d.takeBack(w, r, s, k)
	}
	return bad(http.StatusConflict, "corrections.csv has changed since this page was made", "Load the page again and repeat.")
}

func (d *Desk) takeBack(w http.ResponseWriter, r *http.Request, s *snapshot, k collection.Correction) error {
	if k.File() != "" {
		if _, err := d.changeInputs(s, func(c *collection.Collection) error { return c.TakeBack(k, takenBack(k)) }); err != nil {
			return err
		}
		return back(w, r, "/corrections?said=restored")
	}
	o, ok := opposite(k)
	if !ok {
		return bad(http.StatusUnprocessableEntity, "there was no value before this one", "Correct it to the right value instead, or exclude the photo.")
	}
	p := s.about(k)
	if p == nil {
		return notFound("the photo of this correction has not been measured")
	}
	if err := d.change(func(c *collection.Collection) error { return c.AppendCorrection(o) }); err != nil {
		return err
	}
	if _, err := d.remeasureOne(r.Context(), p); err != nil {
		return err
	}
	return back(w, r, "/photo/"+p.SHA256+"?said=undone")
}

// about finds the photo of a correction.
func (s *snapshot) about(k collection.Correction) *record.Photo {
	for i := range s.photos {
		if k.About(s.photos[i].SHA256, s.photos[i].Name) {
			return &s.photos[i]
		}
	}
	return nil
}

// corrected is a line of the history of all corrections.
type corrected struct {
	collection.Correction
	SHA, Name string
	Gone      bool // it was taken back
	Back      bool // it takes another back
}

// goneLines are the corrections, by their place, that were taken back. Lines of a file that were changed in one go were
// taken back in one go.
func goneLines(list []collection.Correction) map[int]bool {
	type action struct{ time, field, reason string }
	of := func(k collection.Correction) action { return action{k.Time, k.Field, k.Reason} }
	out, actions, at := map[int]bool{}, map[action]bool{}, map[int]int{}
	for i, k := range list {
		at[k.Line] = i
		n, err := strconv.Atoi(strings.TrimPrefix(k.Reason, backWords))
		if err != nil || !strings.HasPrefix(k.Reason, backWords) {
			continue
		}
		if j, ok := at[n]; ok {
			out[j] = true
			actions[of(list[j])] = list[j].File() != ""
		}
	}
	for j, k := range list {
		out[j] = out[j] || actions[of(k)]
	}
	return out
}

// correctionsPage lists all corrections, the newest first.
func (d *Desk) correctionsPage(w http.ResponseWriter, r *http.Request, s *snapshot) error {
	byRef := map[string]*record.Photo{}
	for i := range s.photos {
		byRef[collection.PhotoRef(s.photos[i].SHA256, s.photos[i].Name)] = &s.photos[i]
	}
	var list []corrected
	gone := goneLines(s.c.Corrections)
	for i := len(s.c.Corrections) - 1; i >= 0; i-- {
		k := corrected{Correction: s.c.Corrections[i], Name: s.c.Corrections[i].Photo, Gone: gone[i]}
		k.Back = strings.HasPrefix(k.Reason, backWords)
		p := byRef[k.Photo]
		if p == nil && k.Photo != "" {
			p = s.about(k.Correction)
		}
		if p != nil {
			k.SHA, k.Name = p.SHA256, p.Name
		}
		list = append(list, k)
	}
	return d.show(w, r, s, sheet{template: "corrections.html", title: "Corrections", here: "corrections", body: list})
}

func decimal(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

func potText(p record.Pot) string {
	return fmt.Sprintf("%s,%s,%s", decimal(p.TopMM), decimal(p.BottomMM), decimal(p.HeightMM))
}
