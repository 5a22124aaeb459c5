// Package plate makes comparison plates: photos of one plant, or of two, at several dates, all at the same scale in
// millimetres and in the same framing, with a scale bar, dates, values and what was done in between.
//
// A Spec says what is on the plate; WritePNG and WritePDF write it, Animate writes a moving picture. The
// photos come in as colour-corrected working pictures with the homography of their card; nothing here reads files.
// Resampling and compositing are done in 8-bit sRGB by disintegration/imaging and, where a plate's time goes, by package
// pixels.
package plate

import (
	"errors"
	"image"

	"phototrack/internal/caption"
	"phototrack/internal/record"
)

// ErrNothing is returned where a plate would show no picture.
var ErrNothing = errors.New("no picture to show")

// Frame is one photo on a plate.
type Frame struct {
	Plant  int
	Name   string
	Date   string      // YYYY-MM-DD
	Head   string      // stands over the date on a sheet of many plants: "12 Clivia A"
	Image  image.Image // colour-corrected working picture, sRGB, as displayed
	ToPx   [9]float64  // card mm (or wall mm) -> px of Image, row by row, pixel centres at whole numbers
	Values []string    // measured values with their intervals, one line each
	Extent Box         // of the plant, mm in the frame's own plane; zero: the whole picture
	Anchor Point       // what frames are aligned on, mm: the foot of the plant or the rim of the pot
	Lines  []Line      // drawn over the picture, mm
	Whole  []Box       // card and tag, mm in the frame's own plane: shown whole or not at all

	whole bool    // the picture is shown to its edges
	photo float64 // the picture's size over that of the photo it was made from; 0: it is no photo
}

// Line is a polyline in mm, drawn over a frame.
type Line struct {
	Points  []Point
	WidthMM float64
	New     bool   // new growth: drawn in the accent, else in the quiet ink
	Part    string // the part that it is drawn on, "" for none
	Label   string // of a part: stands beside the line's end; the line is then drawn in the accent, too
}

// Point is a position in mm.
type Point struct{ X, Y float64 }

// Box is a rectangle in mm.
type Box struct{ X0, Y0, X1, Y1 float64 }

// Empty says that the box holds nothing.
func (b Box) Empty() bool { return b.X1 <= b.X0 || b.Y1 <= b.Y0 }

// union is the smallest box that holds both.
func (b Box) union(c Box) Box {
	if b.Empty() {
		return c
	}
	if c.Empty() {
		return b
	}
	return Box{min(b.X0, c.X0), min(b.Y0, c.Y0), max(b.X1, c.X1), max(b.Y1, c.Y1)}
}

// Row is one plant's frames by date, and what was done to it between them.
type Row struct {
	Label  string
	Frames []Frame
	Events []record.Event
}

// Spec is a plate.
type Spec struct {
	Preset Preset
	Texts  *caption.Texts // templates of title, caption and foot; the defaults where nil
	Words  caption.Words  // what templates may name; days, values, events and scale are filled in from the rows
	Rows   []Row
	Exact  bool // choose a round scale, such as 1 : 2, for the printed plate

	need  Box     // extent that panels must show; empty: that of the frames
	fixed float64 // scale, px per mm, settled by another page of the same set
}

// Preset is a page: its size and how many pixels a millimetre of paper has.
type Preset struct {
	Name string
	W, H int     // px
	DPI  float64 // px per inch of paper
	Fit  bool    // H is the most; the page is as high as what is on it
}

// Presets are the sizes that plates are written in.
var presets = []Preset{
	{"screen", 1600, 1000, 96, false},
	{"square", 1200, 1200, 96, false},
	{"tall", 1200, 1600, 96, false},
	{"a4", 3508, 2480, 300, false}, // 297 x 210 mm
	{"wide", 1920, 1080, 96, false},
	{"fit", 1920, 1920, 96, true},
}

// Presets returns the sizes by name, in the order in which they are offered.
func Presets() []Preset { return append([]Preset(nil), presets...) }

// PresetNamed finds a preset; ok is false for an unknown name.
func PresetNamed(name string) (p Preset, ok bool) {
	for _, p := range presets {
		if p.Name == name {
			return p, true
		}
	}
	return presets[0], false
}

// frames lists all frames that have a picture.
func (s *Spec) frames() []*Frame {
	var out []*Frame
	for i := range s.Rows {
		for j := range s.Rows[i].Frames {
			if f := &s.Rows[i].Frames[j]; f.Image != nil && !f.Image.Bounds().Empty() {
				out = append(out, f)
			}
		}
	}
	return out
}
