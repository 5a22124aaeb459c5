package calib

import (
	"math"
	"sort"

	"phototrack/internal/card"
	"phototrack/internal/cv"
	"phototrack/internal/geom"
	"phototrack/internal/raster"
	"phototrack/internal/shrink"
)

// Marker is a marker seen in the photo, with its corners refined: top left, top right, bottom right, bottom left.
type Marker struct {
	ID           int
	Corners      [4]geom.PX
	Refined      bool    // false: the edges were too faint, the corners are the detector's
	EdgeSpreadPx float64 // 10 to 90 % width of the marker's edges; NaN where not refined
}

// SidePx is the marker's mean side in px.
func (m Marker) SidePx() float64 {
	var s float64
	for i := range 4 {
		s += dist(m.Corners[i], m.Corners[(i+1)%4])
	}
	return s / 4
}

func dist(a, b geom.PX) float64 { return math.Hypot(a.X-b.X, a.Y-b.Y) }

// searchSidePx is the long side of the picture that markers are first looked for in: a 24 mm marker is then still 30 to
// 40 px wide where card and plant fill the frame, and the search takes a fraction of its time at full size.
const searchSidePx = 1600

// FindMarkers finds the 36h11 markers of the photo: on a reduced picture first, at full size where card or tag are
// not complete there, and sharpened where there is too little of them still; corners are refined at full size (see refine). A marker seen twice in the
// same place counts once.
func FindMarkers(img raster.BGR) ([]Marker, error) {
	long := max(img.W, img.H)
	k := max(1, (long+searchSidePx-1)/searchSidePx)
	found, err := detect(img, k, cv.DetectMarkers)
	if err != nil {
		return nil, err
	}
	if k > 1 && !complete(found) {
		more, err := detect(img, 1, cv.DetectMarkers)
		if err != nil {
			return nil, err
		}
		found = merge(more, found)
	}
	if onCard, tags := seen(found); onCard < enoughOnCard || tags == 0 {
		more, err := detect(img, 1, cv.DetectSoftMarkers)
		if err != nil {
			return nil, err
		}
		// A photo of which this, too, shows only some is too blurred, not partly hidden.
		all := merge(found, more)
		if onCard, _ := seen(all); onCard >= enoughOnCard {
			found = all
		}
	}
	for i, m := range found {
		for range 2 { // the second pass starts from edges that are already straight along the marker
			found[i] = refine(img, found[i])
		}
		if !found[i].Refined {
			found[i].Corners = m.Corners
		}
	}
	sort.Slice(found, func(i, j int) bool {
		if found[i].ID != found[j].ID {
			return found[i].ID < found[j].ID
		}
		return found[i].Corners[0].X < found[j].Corners[0].X
	})
	return found, nil
}

// enoughOnCard is how many of the card's markers are enough not to look for more in a sharpened picture.
const enoughOnCard = 4

func complete(ms []Marker) bool {
	onCard, tags := seen(ms)
	return onCard == card.MarkersPerSide && tags > 0 // where there are two cards, a second tag may be near
}

// seen counts the markers of a card, and all others.
func seen(ms []Marker) (onCard, tags int) {
	for _, m := range ms {
		if _, _, ok := card.MarkerCornersMM(m.ID); ok {
			onCard++
		} else {
			tags++
		}
	}
	return
}

func merge(a, b []Marker) []Marker {
	out := append([]Marker(nil), a...)
	for _, m := range b {
		dup := false
		for _, o := range out {
			if o.ID == m.ID && dist(o.Corners[0], m.Corners[0]) < m.SidePx()/2 {
				dup = true
			}
		}
		if !dup {
			out = append(out, m)
		}
	}
	return out
}

func detect(img raster.BGR, k int, in func(gray []uint8, w, h int) ([]cv.Marker, error)) ([]Marker, error) {
	gray, w, h := reducedGray(img, k)
	raw, err := in(gray, w, h)
	if err != nil {
		return nil, err
	}
	var out []Marker
	for _, r := range raw {
		m := Marker{ID: r.ID, EdgeSpreadPx: math.NaN()}
		for c := range 4 { // box means: the centre of reduced pixel u lies at k u + (k-1)/2
			m.Corners[c] = geom.PX{X: r.Corners[c][0]*float64(k) + float64(k-1)/2, Y: r.Corners[c][1]*float64(k) + float64(k-1)/2}
		}
		out = append(out, m)
	}
	return merge(out, nil), nil
}

// reducedGray is the picture in grey for the search: at full size its luma, else the green channel averaged over boxes of k
// by k px, which shows black on white paper as well at less cost; nothing where it has no such box, which the detector
// then refuses.
func reducedGray(img raster.BGR, k int) (gray []uint8, w, h int) {
	var err error
	if k == 1 {
		gray, err = cv.Gray(img)
		w, h = img.W, img.H
	} else {
		gray, w, h, err = shrink.Green(img, k)
	}
	if err != nil {
		return nil, 0, 0
	}
	return gray, w, h
}
