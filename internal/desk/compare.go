package desk

import (
	"context"
	"fmt"
	"image"
	"math"
	"net/http"
	"strconv"

	"phototrack/internal/codec"
	"phototrack/internal/digest"
	"phototrack/internal/geom"
	"phototrack/internal/measure/root"
	"phototrack/internal/pipeline"
	"phototrack/internal/plate"
	"phototrack/internal/raster"
	"phototrack/internal/record"
)

// compareBody is two photos over each other at one scale.
type compareBody struct {
	Plants      []record.Plant
	Plant       int
	View        record.View
	Photos      []shot
	A, B        *record.Photo
	LayA, LayB  layout
	Box         [4]float64 // mm, what the stage shows: x0, y0, x1, y1
	Say         string
	Ready       bool
	Rows        []compared
	ViewChoices []record.View
}

// layout is a picture and the homography that takes its pixels to mm, relative to the point the two are aligned on.
type layout struct {
	Src    string
	W, H   int
	ToMM   [9]float64
	extent [4]float64
}

func (d *Desk) comparePage(w http.ResponseWriter, r *http.Request, s *snapshot) error {
	q := r.URL.Query()
	b := compareBody{Plants: s.c.Plants, View: record.View(q.Get("view"))}
	b.Plant, _ = strconv.Atoi(q.Get("plant"))
	b.chooseView(s)
	for _, p := range s.of(b.Plant, b.View) {
		if p.Status != record.Rejected && p.Calibration != nil {
			b.Photos = append(b.Photos, shotOf(p))
		}
	}
	if len(b.Photos) >= 2 && b.Plant > 0 {
		b.choosePhotos(s, q.Get("a"), q.Get("b"))
		if err := b.lay(r.Context(), s); err != nil {
			return err
		}
		b.fillRows(s)
	}
	return d.show(w, r, s, sheet{template: "compare.html", title: "Compare two photos", here: "compare", body: b, scripts: []string{"compare.js"}})
}

// chooseView takes the view that is asked for, or the one that the plant has, and says which there are.
func (b *compareBody) chooseView(s *snapshot) {
	if b.View != record.Root && (b.View != "" || len(s.of(b.Plant, record.Leaf)) > 0) {
		b.View = record.Leaf
	} else {
		b.View = record.Root
	}
	for _, v := range []record.View{record.Leaf, record.Root} {
		if len(s.of(b.Plant, v)) > 0 {
			b.ViewChoices = append(b.ViewChoices, v)
		}
	}
}

// choosePhotos takes the two photos of these content hashes; where one is no photo of the plant, the farthest.
func (b *compareBody) choosePhotos(s *snapshot, first, second string) {
	b.A, b.B = b.farthest(s)
	for _, p := range b.Photos {
		if p.SHA256 == first {
			b.A = p.Photo
		}
		if p.SHA256 == second {
			b.B = p.Photo
		}
	}
}

// farthest are the first photo and the last, where nobody has chosen; of roots the first in the pot of the last, as the
// wall of another pot cannot be laid on it.
func (b *compareBody) farthest(s *snapshot) (first, last *record.Photo) {
	n := len(b.Photos)
	first, last = b.Photos[0].Photo, b.Photos[n-1].Photo
	if b.View != record.Root {
		return first, last
	}
	for _, p := range b.Photos[:n-1] {
		if potOf(s.c, p.Photo) == potOf(s.c, last) {
			return p.Photo, last
		}
	}
	return first, last
}

// compared is a quantity of both photos, and how their days differ.
type compared struct {
	Title, Means, A, B string
	Change             digest.Cell
}

// fillRows sets the numbers of the two photos side by side. The difference is that of their days, with the uncertainty of
// a change: what both photos have in common, such as the print of the card, is not in it.
func (b *compareBody) fillRows(s *snapshot) {
	type what struct {
		quantity record.QuantityName
		part     string
	}
	diff := map[what]record.Change{}
	from, to := b.A.Taken.Day(), b.B.Taken.Day()
	for _, c := range s.between(b.Plant, b.View, from, to) {
		diff[what{c.Quantity, c.Part}] = c
	}
	right := map[what]string{}
	for _, n := range numbersOf(b.B) {
		right[what{n.Name, n.Part}] = n.Text
	}
	left := map[what]bool{}
	for _, n := range numbersOf(b.A) {
		if !n.First {
			continue
		}
		k := what{n.Name, n.Part}
		left[k] = true
		row := compared{Title: n.Title, Means: n.Means, A: n.Text, B: right[k]}
		if c, ok := diff[k]; ok {
			row.Change = digest.CellOf(&c)
			row.Change.Since = ""
		}
		b.Rows = append(b.Rows, row)
	}
	for _, n := range numbersOf(b.B) { // parts that came in between
		if n.Part != "" && !left[what{n.Name, n.Part}] {
			b.Rows = append(b.Rows, compared{Title: n.Title, Means: n.Means, B: n.Text})
		}
	}
}

// lay aligns the two photos: leaves on the foot of the plant in the card's plane, roots on the wall of the pot turned
// back to where it stood.
func (b *compareBody) lay(ctx context.Context, s *snapshot) error {
	var err error
	if b.View == record.Root {
		b.Ready, err = b.layWalls(ctx, s)
	} else {
		b.Ready, err = b.layLeaves(ctx, s)
	}
	if err != nil || !b.Ready {
		return err
	}
	x, y := b.LayA.extent, b.LayB.extent
	if b.View == record.Leaf { // the window of both, already
		b.Box = x
		return nil
	}
	b.Box = [4]float64{math.Max(x[0], y[0]), math.Max(x[1], y[1]), math.Min(x[2], y[2]), math.Min(x[3], y[3])} // what both walls show
	if b.Box[2]-b.Box[0] < (x[2]-x[0])/3 || b.Box[3]-b.Box[1] < (x[3]-x[1])/3 {
		b.Box = [4]float64{math.Min(x[0], y[0]), math.Min(x[1], y[1]), math.Max(x[2], y[2]), math.Max(x[3], y[3])}
	}
	return nil
}

func (b *compareBody) layLeaves(ctx context.Context, s *snapshot) (bool, error) {
	var frames []plate.Frame
	for _, k := range []struct {
		p *record.Photo
		l *layout
	}{{b.A, &b.LayA}, {b.B, &b.LayB}} {
		img, err := stored(ctx, s, k.p.SHA256, pipeline.PicturePlain)
		if err != nil || img == nil {
			return false, err
		}
		whole, err := s.whole(ctx, k.p.SHA256)
		if err != nil {
			return false, err
		}
		f, ok := plate.FromPhoto(whole, img)
		inv, err := geom.Mat3(f.ToPx).Inv()
		if !ok || err != nil {
			return false, nil
		}
		shift := geom.Mat3{1, 0, -f.Anchor.X, 0, 1, -f.Anchor.Y, 0, 0, 1}
		frames = append(frames, f)
		*k.l = layout{Src: pictureAddress(k.p, pipeline.PicturePlain), W: img.Bounds().Dx(), H: img.Bounds().Dy(), ToMM: shift.Mul(inv)}
	}
	win, ok := plate.Window(frames)
	if !ok {
		return false, nil
	}
	b.LayA.extent = [4]float64{win.X0, win.Y0, win.X1, win.Y1}
	b.LayB.extent = b.LayA.extent
	b.Say = "Both at the same scale in the plane of the card, aligned on the foot of the plant; colours corrected by the card."
	if x, y := b.A.Extra[record.ExtraAreas], b.B.Extra[record.ExtraAreas]; x != y {
		b.Say += " Areas were drawn by hand on only one of the two: their numbers cannot be compared until the other has the same (on the page of the photo with the areas)."
	}
	return true, nil
}

func (b *compareBody) layWalls(ctx context.Context, s *snapshot) (bool, error) {
	wa, okA, err := wallOf(ctx, s, b.A)
	if err != nil || !okA {
		return false, err
	}
	wb, okB, err := wallOf(ctx, s, b.B)
	if err != nil || !okB {
		return false, err
	}
	reg := root.Register(&wa, &wb)
	turnMM, dropMM := 0.0, 0.0
	if reg.OK {
		turnMM = reg.RotationDeg * math.Pi / 180 * (wb.Pot.TopMM + wb.Pot.BottomMM) / 4
		dropMM = reg.ShiftMM
		b.Say = fmt.Sprintf("The unrolled walls of the pot at the same scale. The pot was turned by %.0f° between the two photos; the later wall is turned back.", math.Abs(reg.RotationDeg))
	} else {
		b.Say = "The unrolled walls of the pot at the same scale, laid on each other at the rim and the middle: " + reg.Why + "."
	}
	b.LayA = wallLayout(b.A, &wa, 0, 0)
	b.LayB = wallLayout(b.B, &wb, turnMM, dropMM)
	return true, nil
}

func wallLayout(p *record.Photo, w *root.Wall, turnMM, dropMM float64) layout {
	k := 1 / w.PxPerMM
	x0, y0 := -w.ZeroPx*k-turnMM, -dropMM
	return layout{Src: pictureAddress(p, wallClear), W: w.Pic.W, H: w.Pic.H, ToMM: [9]float64{k, 0, x0, 0, k, y0, 0, 0, 1},
		extent: [4]float64{x0, y0, x0 + float64(w.Pic.W)*k, y0 + float64(w.Pic.H)*k}}
}

// wallOf puts a photo's stored unrolled wall together again.
func wallOf(ctx context.Context, s *snapshot, p *record.Photo) (root.Wall, bool, error) {
	whole, err := s.whole(ctx, p.SHA256)
	if err != nil || whole.Extra["wall"] == "" {
		return root.Wall{}, false, err
	}
	img, err := stored(ctx, s, p.SHA256, pipeline.PictureWall)
	if err != nil || img == nil {
		return root.Wall{}, false, err
	}
	w, err := root.ParseWall(whole.Extra["wall"], raster.FromImage(img), whole.WallRoots)
	return w, err == nil, nil
}

// stored decodes a stored picture, nil where there is none.
func stored(ctx context.Context, s *snapshot, sha, kind string) (image.Image, error) {
	data, ok, err := s.st.Picture(ctx, sha, kind)
	if err != nil || !ok {
		return nil, err
	}
	return codec.ReadJPEG(data)
}
