package desk

import (
	"context"
	"net/http"
	"time"

	"phototrack/internal/card"
	"phototrack/internal/collection"
	"phototrack/internal/gate"
	"phototrack/internal/pipeline"
	"phototrack/internal/record"
)

// photoBody is the page of one photo.
type photoBody struct {
	*record.Photo
	Plain, Original, Wall, WallShown string // addresses, "" for none
	Numbers                          []number
	Reasons                          []reason
	Drawing                          drawing // what the script draws on
	Layers                           []layer
	Override                         collection.Override
	History                          []collection.Correction
	PlantName                        string
	Listed                           bool
	Offset                           float64 // mm in force
	Pot                              record.Pot
	Before, After                    *record.Photo // of the same plant and view
	Following                        int           // later photos of that plant and view
	MayMark                          bool
}

// drawing is what the viewer's script needs; it stands in the page as data, not as script.
type drawing struct {
	Width    int               `json:"width"`
	Height   int               `json:"height"`
	Outlines []record.Outline  `json:"outlines"`
	Marks    []collection.Mark `json:"marks"`
	SHA      string            `json:"sha"`
	Places   []doubtful        `json:"places"`    // that wait for the grower's word
	Open     bool              `json:"undecided"` // the photo waits for it
}

// layer is a kind of outline that can be shown and hidden.
type layer struct {
	Kind, Title string
	Count       int
}

var layerWords = []layer{
	{"leaf", "leaf outline", 0}, {"hole", "holes", 0}, {pipeline.KindUnsure, "not sure", 0}, {"discoloured_yellow", "yellow", 0}, {"discoloured_purple", "purple", 0},
	{"discoloured_brown", "brown", 0}, {"root", "roots", 0}, {"root_old", "old roots", 0}, {"root_doubt", "in doubt", 0}, {"tip", "growing tips", 0}, {"pot", "pot wall", 0},
	{"part", "parts", 0}, {"part_across", "widths of parts", 0}, {"seen_limit", "limit of what is measured", 0}, {"card", "card", 0}, {"tag", "tag", 0},
}

// layersOf are the kinds of outlines that the photo has.
func layersOf(list []record.Outline) (out []layer) {
	n := map[string]int{}
	for _, o := range list {
		n[o.Kind]++
	}
	delete(n, pipeline.KindUnsureHole) // shown with its place
	for _, l := range layerWords {
		if n[l.Kind] > 0 {
			l.Count = n[l.Kind]
			out = append(out, l)
			delete(n, l.Kind)
		}
	}
	for _, o := range list {
		if n[o.Kind] > 0 {
			out = append(out, layer{o.Kind, o.Kind, n[o.Kind]})
			delete(n, o.Kind)
		}
	}
	return out
}

// withCard adds the card's outline, which is known from its homography, to what was drawn.
func withCard(p *record.Photo) []record.Outline {
	out := append([]record.Outline{}, p.Outlines...)
	for _, o := range out {
		if o.Kind == "card" {
			return out
		}
	}
	h, ok := pipeline.CardToPx(p)
	if !ok {
		return out
	}
	edge := record.Outline{Kind: "card", Closed: true}
	for _, c := range [][2]float64{{0, 0}, {card.WidthMM, 0}, {card.WidthMM, card.HeightMM}, {0, card.HeightMM}} {
		x, y, ok := h.Project(c[0], c[1])
		if !ok {
			return out
		}
		edge.Points = append(edge.Points, record.Point{X: x, Y: y})
	}
	return append(out, edge)
}

func (d *Desk) photoPage(w http.ResponseWriter, r *http.Request, s *snapshot) error {
	p, err := s.whole(r.Context(), r.PathValue("sha"))
	if err != nil {
		return err
	}
	outlines := withCard(p)
	b := photoBody{Photo: p, Numbers: numbersOf(p), Reasons: reasonsOf(p.Reasons), Layers: layersOf(outlines),
		Override: s.c.OverrideFor(p.SHA256, p.Name), MayMark: p.View != "" && p.WidthPx > 0,
		Drawing: drawing{Width: p.WidthPx, Height: p.HeightPx, Outlines: outlines, Marks: collection.Areas(s.c.MarksFor(p.SHA256)), SHA: p.SHA256},
		Offset:  s.c.Settings.Measurement.OffsetMM, Pot: potOf(s.c, p)}
	if b.Drawing.Marks == nil {
		b.Drawing.Marks = []collection.Mark{}
	}
	b.Drawing.Places = placesOf(s.c, s.of(p.Plant, p.View), p)
	_, b.Drawing.Open = gate.Undecided(p)
	if b.Override.OffsetMM != nil {
		b.Offset = *b.Override.OffsetMM
	}
	if q, ok := s.c.Plant(p.Plant); ok {
		b.PlantName, b.Listed = plantTitle(q), true
	}
	for _, k := range s.c.Corrections {
		if k.About(p.SHA256, p.Name) {
			b.History = append(b.History, k)
		}
	}
	b.addPictures(r.Context(), s)
	list := s.of(p.Plant, p.View)
	for i, q := range list {
		if q.SHA256 != p.SHA256 || p.Plant == 0 {
			continue
		}
		if i > 0 {
			b.Before = list[i-1]
		}
		if i+1 < len(list) {
			b.After = list[i+1]
		}
		b.Following = len(list) - 1 - i
	}
	return d.show(w, r, s, sheet{template: "photo.html", title: p.Name, here: "month", body: b, scripts: []string{"viewer.js", "marks.js", "lines.js", "places.js"}})
}

// addPictures gives the addresses of the pictures that there are.
func (b *photoBody) addPictures(ctx context.Context, s *snapshot) {
	if path, _ := originalOf(s, b.Photo); path != "" {
		b.Original = pictureAddress(b.Photo, "original")
	}
	there, err := s.st.Pictures(ctx, b.SHA256, pipeline.PicturePlain, pipeline.PictureWall, pipeline.PictureWallOverlay)
	if err != nil {
		return // the page is of use without them
	}
	set := func(to *string, kind string) {
		if len(there[kind]) > 0 {
			*to = pictureAddress(b.Photo, kind)
		}
	}
	set(&b.Plain, pipeline.PicturePlain)
	set(&b.Wall, pipeline.PictureWall)
	set(&b.WallShown, pipeline.PictureWallOverlay)
}

func today() string { return time.Now().Format(time.DateOnly) }
