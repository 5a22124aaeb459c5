package plate

import (
	"fmt"
	"image"
	"math"

	"phototrack/internal/card"
	"phototrack/internal/geom"
	"phototrack/internal/quantity"
	"phototrack/internal/record"
)

// FromPhoto makes a frame of a measured photo and its colour-corrected working picture. The photo's homography is for
// the photo as displayed; the working picture is smaller by one factor, and pixel centres are at whole numbers in both.
// On a plate the light's fall-off over the card is taken out of it. It returns false where the photo has no homography.
func FromPhoto(p *record.Photo, working image.Image) (Frame, bool) {
	if p.Calibration == nil || len(p.Calibration.CardToPx) != 9 || working == nil || working.Bounds().Empty() || p.WidthPx <= 0 {
		return Frame{}, false
	}
	f := Frame{Plant: p.Plant, Date: p.Taken.Day()}
	k := float64(working.Bounds().Dx()) / float64(p.WidthPx)
	f.ToPx = scaled(p.Calibration.CardToPx, k)
	inv, ok := invert(f.ToPx)
	if !ok {
		return Frame{}, false
	}
	f.Image, f.photo = working, k
	f.Extent, f.Anchor = subject(p, inv, k)
	var x, y float64
	if n, err := fmt.Sscanf(p.Extra[record.ExtraFoot], "%g,%g", &x, &y); err == nil && n == 2 && !hasKind(p.Outlines, "pot") {
		f.Anchor = inMM([]record.Point{{X: x, Y: y}}, inv, k)[0] // of the whole plant, whatever was left out by hand
	}
	f.Whole = []Box{{0, 0, card.WidthMM, card.HeightMM}}
	for _, o := range p.Outlines {
		if o.Kind == "tag" {
			if b := boxOf(inMM(o.Points, inv, k)); !b.Empty() {
				f.Whole = append(f.Whole, b)
			}
		}
	}
	f.Lines = partLines(p, inv, k)
	return f, true
}

// partLines are the lines on a photo's parts, each with the part's name and its size beside it.
func partLines(p *record.Photo, toMM [9]float64, k float64) (out []Line) {
	for _, o := range p.Outlines {
		if o.Part == "" || len(o.Points) < 2 {
			continue
		}
		name := record.PartLength
		if o.Kind == "part_across" {
			name = record.PartWidth
		}
		l := Line{Points: inMM(o.Points, toMM, k), WidthMM: 0.4, Part: o.Part, Label: o.Part}
		if q, ok := p.FindPart(name, o.Part); ok {
			l.Label += " " + quantity.Of(name, q.Unit).Value(q.Value, q.U95)
		}
		out = append(out, l)
	}
	return
}

func hasKind(list []record.Outline, kind string) bool {
	for _, o := range list {
		if o.Kind == kind {
			return true
		}
	}
	return false
}

// scaled puts the change of picture size behind a homography: x' = k (x + 1/2) - 1/2.
func scaled(h []float64, k float64) [9]float64 {
	t := (k - 1) / 2
	var out [9]float64
	for j := range 3 {
		out[j] = k*h[j] + t*h[6+j]
		out[3+j] = k*h[3+j] + t*h[6+j]
		out[6+j] = h[6+j]
	}
	return out
}

// potShare is how much below the leaves is shown, as a part of their height: a good part of most pots.
const potShare = 0.3

// subject finds the plant's extent and its foot in the card's plane: the foot is the middle of the pot's top where the
// pot was found, else the middle of the lowest tenth of the leaves.
func subject(p *record.Photo, toMM [9]float64, k float64) (Box, Point) {
	var leaf, pot []Point
	for _, o := range p.Outlines {
		var to *[]Point
		switch o.Kind {
		case "leaf":
			to = &leaf
		case "pot":
			to = &pot
		default:
			continue
		}
		*to = append(*to, inMM(o.Points, toMM, k)...)
	}
	all := boxOf(append(append([]Point(nil), leaf...), pot...))
	switch {
	case len(pot) > 0:
		b := boxOf(pot)
		return all, Point{(b.X0 + b.X1) / 2, b.Y0}
	case len(leaf) > 0:
		at := foot(leaf, all)
		all.Y1 += (all.Y1 - all.Y0) * potShare // the pot below the leaves, where it was not outlined itself
		return all, at
	}
	return Box{}, Point{}
}

// inMM takes points of the photo, of which the working picture is k times the size, to the card's plane.
func inMM(points []record.Point, toMM [9]float64, k float64) []Point {
	out := make([]Point, len(points))
	for i, q := range points {
		out[i] = apply(toMM, Point{k*(q.X+0.5) - 0.5, k*(q.Y+0.5) - 0.5})
	}
	return out
}

// foot is the middle of the lowest tenth of an outline.
func foot(pts []Point, b Box) Point {
	limit := b.Y1 - (b.Y1-b.Y0)/10
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, p := range pts {
		if p.Y >= limit {
			lo, hi = min(lo, p.X), max(hi, p.X)
		}
	}
	return Point{(lo + hi) / 2, b.Y1}
}

func boxOf(pts []Point) Box {
	if len(pts) == 0 {
		return Box{}
	}
	b := Box{pts[0].X, pts[0].Y, pts[0].X, pts[0].Y}
	for _, p := range pts[1:] {
		b = Box{min(b.X0, p.X), min(b.Y0, p.Y), max(b.X1, p.X), max(b.Y1, p.Y)}
	}
	return b
}

// apply maps a point by a homography.
func apply(h [9]float64, p Point) Point {
	w := h[6]*p.X + h[7]*p.Y + h[8]
	return Point{(h[0]*p.X + h[1]*p.Y + h[2]) / w, (h[3]*p.X + h[4]*p.Y + h[5]) / w}
}

// folded is the determinant below which a homography folds the plane.
const folded = 1e-12

// invert gives the inverse of a homography; ok is false for one that folds the plane.
func invert(h [9]float64) (inv [9]float64, ok bool) {
	m, err := geom.Mat3(h).Inv()
	return m, err == nil && math.Abs(geom.Mat3(h).Det()) >= folded
}

// pxPerMM is the picture's scale at a point: the root of the homography's area factor there.
func pxPerMM(h [9]float64, p Point) float64 {
	w := h[6]*p.X + h[7]*p.Y + h[8]
	det := h[0]*(h[4]*h[8]-h[5]*h[7]) - h[1]*(h[3]*h[8]-h[5]*h[6]) + h[2]*(h[3]*h[7]-h[4]*h[6])
	return math.Sqrt(math.Abs(det / (w * w * w)))
}

// extent is the frame's part that must be seen, relative to its anchor.
func (f *Frame) extent() Box {
	b := f.Extent
	if b.Empty() {
		b = f.pictureMM()
	}
	return Box{b.X0 - f.Anchor.X, b.Y0 - f.Anchor.Y, b.X1 - f.Anchor.X, b.Y1 - f.Anchor.Y}
}

// pictureMM is the whole picture in mm.
func (f *Frame) pictureMM() Box {
	inv, ok := invert(f.ToPx)
	if !ok {
		return Box{0, 0, 1, 1}
	}
	w, h := float64(f.Image.Bounds().Dx()), float64(f.Image.Bounds().Dy())
	return boxOf([]Point{apply(inv, Point{0, 0}), apply(inv, Point{w, 0}), apply(inv, Point{0, h}), apply(inv, Point{w, h})})
}
