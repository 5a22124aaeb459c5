package plate

import (
	"image"

	"phototrack/internal/pixels"
)

// Crop is a frame's picture rectified to the plane of the card and cut to what all pictures of a set show.
type Crop struct {
	Image        *image.NRGBA
	PxPerMM      float64     // the same for all crops of a set
	At           image.Point // where the picture lies in the window, px
	FullW, FullH int         // of the window, px
}

// Crops cuts frames of one plant to the same window at one scale, aligned on their anchors, so that they can stand side
// by side: the whole window is at most w x h px. A picture that does not reach as far as the window is smaller.
func Crops(frames []Frame, w, h int) ([]Crop, error) {
	var fs []*Frame
	var need Box
	for i := range frames {
		if f := &frames[i]; f.Image != nil && !f.Image.Bounds().Empty() {
			fs = append(fs, f)
			need = need.union(f.reach())
		}
	}
	if len(fs) != len(frames) || need.Empty() {
		return nil, ErrNothing
	}
	win, scale := fitted(fs, need, w, h)
	out := make([]Crop, len(fs))
	for i, f := range fs {
		part := f.part(win)
		x, y, pw, ph := part.onPx(win, scale)
		m := panel(f, pw, ph, scale, Point{(part.X0 + part.X1) / 2, (part.Y0 + part.Y1) / 2})
		out[i] = Crop{Image: m, PxPerMM: scale, At: image.Pt(x, y)}
		_, _, out[i].FullW, out[i].FullH = win.onPx(win, scale)
	}
	return out, nil
}

// Done gives the crops' pictures back.
func Done(crops []Crop) {
	for _, c := range crops {
		pixels.Done(c.Image)
	}
}

// fitted settles window and scale for panels of at most w x h px: the plants with a little air, and no wider than that.
func fitted(fs []*Frame, need Box, w, h int) (win Box, scale float64) {
	rimX, rimY := (need.X1-need.X0)*air, (need.Y1-need.Y0)*air
	want := Box{need.X0 - rimX, need.Y0 - rimY, need.X1 + rimX, need.Y1 + rimY}
	win = windowOf(fs, want, need)
	return win, min(float64(w)/(win.X1-win.X0), float64(h)/(win.Y1-win.Y0))
}

// Window is what frames of one plant show together, mm from their anchors: all of the plant, inside the photos as far as
// that goes.
func Window(frames []Frame) (Box, bool) {
	var fs []*Frame
	var need Box
	for i := range frames {
		fs = append(fs, &frames[i])
		need = need.union(frames[i].reach())
	}
	if need.Empty() {
		return Box{}, false
	}
	win, _ := fitted(fs, need, 1, 1)
	return win, true
}
