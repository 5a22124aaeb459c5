package report

import (
	"encoding/base64"
	"html/template"
	"image"
	"math"
	"sync"

	"phototrack/internal/codec"
	"phototrack/internal/pixels"
	"phototrack/internal/record"
)

// imageBudget is what all pictures of a page may weigh, in bytes of JPEG: with the third that base64 adds, and about
// 7 MB of charts and tables for a full garden with ten siblings to a group, the page stays under 15 MB.
const imageBudget = 5_500_000

// jpegBitsPerPx is what a working picture weighs at jpegQuality, measured on greenhouse photos (bark and leaves):
// between 0.7 and 1.3 bit a pixel.
const (
	jpegBitsPerPx = 1.2
	jpegQuality   = 76
)

// pictures makes the small pictures of the page from the stored working pictures.
type pictures struct {
	mu    sync.Mutex
	get   func(sha256, kind string) []byte
	whole func(sha256 string) (record.Photo, bool)
	width int // of before and after
}

// outlined gives the photo with its outlines.
func (p *pictures) outlined(photo *record.Photo) *record.Photo {
	if len(photo.Outlines) > 0 || p.whole == nil {
		return photo
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	if w, ok := p.whole(photo.SHA256); ok && w.SHA256 == photo.SHA256 {
		return &w
	}
	return photo
}

// Widths of a report's pictures, px (chosen by eye: on a page 760 px wide more shows nothing, and with less a leaf is not seen).
const widestPx, narrowestPx = 760, 300

// roomAbout a plant on its portrait: its larger side and a little more.
const roomAbout = 1.15

// newPictures settles how wide pictures are, so that n of them stay within the budget.
func newPictures(get func(string, string) []byte, n int) *pictures {
	w := widestPx
	if n > 0 {
		px := float64(imageBudget) / float64(n) * 8 / jpegBitsPerPx
		w = int(math.Sqrt(px * 4 / 3)) // most photos are 4:3
	}
	return &pictures{get: get, width: min(max(w, narrowestPx), widestPx)}
}

// fetch asks for one working picture; one caller at a time, as Data.Picture is promised.
func (p *pictures) fetch(sha, kind string) []byte {
	if p.get == nil || sha == "" {
		return nil
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.get(sha, kind)
}

// decode gives the first kind that is there, as an image no larger than it need be: width says how wide, of a picture of a
// size. Nil where none can be read: a page without a picture is better than no page.
func (p *pictures) decode(sha string, width func(size image.Rectangle) int, kinds ...string) *image.NRGBA {
	for _, k := range kinds {
		b := p.fetch(sha, k)
		w, h, err := codec.JPEGSize(b)
		if err != nil {
			continue
		}
		if m, err := codec.ReadJPEGAtLeast(b, width(image.Rect(0, 0, w, h))); err == nil {
			return m
		}
	}
	return nil
}

// picture is one image of the page.
type picture struct {
	Src  template.URL // data URI
	W, H int
	Alt  string
}

// Attr is the picture as an attribute of its img element. The template would write every + of the base64 as five
// characters; there is nothing in base64 that needs an escape.
func (p *picture) Attr() template.HTMLAttr { return template.HTMLAttr(`src="` + string(p.Src) + `"`) }

// inline turns an image into a data URI. Encoding anew drops all EXIF, so no position leaves the house.
func inline(m *image.NRGBA, alt string) *picture {
	data, err := codec.WriteJPEGOf(m, jpegQuality)
	if err != nil {
		return nil
	}
	return &picture{Src: template.URL("data:image/jpeg;base64," + base64.StdEncoding.EncodeToString(data)),
		W: m.Rect.Dx(), H: m.Rect.Dy(), Alt: alt}
}

// shown is a photo at the page's width.
func (p *pictures) shown(photo *record.Photo, alt string, kinds ...string) *picture {
	m := p.decode(photo.SHA256, func(image.Rectangle) int { return p.width }, kinds...)
	if m == nil {
		return nil
	}
	w, h := m.Rect.Dx(), m.Rect.Dy()
	if w <= p.width {
		return inline(m, alt)
	}
	small := pixels.Mean(m, p.width, max(1, (2*h*p.width+w)/(2*w)))
	defer pixels.Done(small)
	return inline(small, alt)
}

// small is a picture no larger than a side.
func small(m *image.NRGBA, side int, alt string) *picture {
	w, h := m.Rect.Dx(), m.Rect.Dy()
	k := min(1, float64(side)/float64(max(w, h)))
	out := pixels.Mean(m, max(1, int(float64(w)*k)), max(1, int(float64(h)*k)))
	defer pixels.Done(out)
	return inline(out, alt)
}

// portrait is a square of the plant itself: the box round its outlines, with some air.
func (p *pictures) portrait(photo *record.Photo, side int, alt string, kinds ...string) *picture {
	m := p.decode(photo.SHA256, func(size image.Rectangle) int { return size.Dx() * side / max(1, subject(photo, size).Dx()) }, kinds...)
	if m == nil {
		return nil
	}
	box := subject(photo, m.Rect)
	side = min(side, box.Dx())
	small := pixels.Mean(m.SubImage(box).(*image.NRGBA), side, side)
	defer pixels.Done(small)
	return inline(small, alt)
}

// subject is the square of the picture that holds what was measured; the middle of the picture where nothing was.
func subject(photo *record.Photo, b image.Rectangle) image.Rectangle {
	lo, hi := [2]float64{math.Inf(1), math.Inf(1)}, [2]float64{math.Inf(-1), math.Inf(-1)}
	for _, o := range photo.Outlines {
		if o.Kind != "leaf" && o.Kind != "pot" && o.Kind != "root" && o.Kind != "root_old" {
			continue
		}
		for _, q := range o.Points {
			lo[0], lo[1] = math.Min(lo[0], q.X), math.Min(lo[1], q.Y)
			hi[0], hi[1] = math.Max(hi[0], q.X), math.Max(hi[1], q.Y)
		}
	}
	side := float64(min(b.Dx(), b.Dy()))
	cx, cy := float64(b.Dx())/2, float64(b.Dy())/2
	if hi[0] > lo[0] && photo.WidthPx > 0 {
		k := float64(b.Dx()) / float64(photo.WidthPx)
		cx, cy = (lo[0]+hi[0])/2*k, (lo[1]+hi[1])/2*k
		side = math.Min(side, roomAbout*k*math.Max(hi[0]-lo[0], hi[1]-lo[1]))
	}
	x := math.Min(math.Max(cx-side/2, 0), float64(b.Dx())-side)
	y := math.Min(math.Max(cy-side/2, 0), float64(b.Dy())-side)
	return image.Rect(int(x), int(y), int(x+side), int(y+side)).Add(b.Min).Intersect(b)
}
