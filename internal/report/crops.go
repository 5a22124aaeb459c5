package report

import (
	"fmt"
	"html/template"
	"image"

	"phototrack/internal/pixels"
	"phototrack/internal/plate"
	"phototrack/internal/quantity"
	"phototrack/internal/record"
	"phototrack/internal/words"
)

// crop is a photo of a pair: the plant alone, at the scale of the other one and with its colours corrected by the card.
type crop struct {
	picture
	Caption string
	Values  string
	FullW   int          // width of the pair's window, px
	Place   template.CSS // where the picture stands in the pair's window, "" for all of it
}

// Sizes of the pictures of a pair, px: on a plant's page, and on the first screen.
const (
	pagePairW, pagePairH   = 560, 520
	entryPairW, entryPairH = 300, 250
)

// pair is then and now at two or three sizes.
type pair struct {
	Page, Section, Entry [2]*crop // then, now; then is nil where there is one day only
}

// pairs makes a plant's pair of a view. Sizes of no width are left out.
func (r *renderer) pairs(plant int, view record.View, page, section, entry int) pair {
	var out pair
	then, now := r.x.pairOf(plant, view)
	var photos []*record.Photo
	for _, p := range []*record.Photo{then, now} {
		if p != nil {
			photos = append(photos, r.pics.outlined(p))
		}
	}
	if len(photos) == 0 {
		return out
	}
	large := max(page, section, entry)
	crops := r.pics.crops(photos, large, large*pagePairH/pagePairW)
	if crops == nil {
		return out
	}
	defer plate.Done(crops)
	for i, c := range crops {
		slot := i + 2 - len(crops)
		for _, size := range []struct {
			w  int
			to *[2]*crop
		}{{page, &out.Page}, {section, &out.Section}, {entry, &out.Entry}} {
			if size.w > 0 {
				size.to[slot] = r.cropOf(photos[i], c, float64(size.w)/float64(large), view)
			}
		}
	}
	return out
}

// asLarge is the factor from which on a crop is not made smaller: by less than a pixel in a thousand.
const asLarge = 0.999

// cropOf is a crop at a size, with its words.
func (r *renderer) cropOf(p *record.Photo, from plate.Crop, k float64, view record.View) *crop {
	m := from.Image
	day := words.LongDay(p.Taken.Day())
	alt := fmt.Sprintf("Plant %d on %s", p.Plant, day)
	if k < asLarge {
		m = pixels.Mean(m, max(1, int(float64(m.Rect.Dx())*k+0.5)), max(1, int(float64(m.Rect.Dy())*k+0.5)))
		defer pixels.Done(m)
	}
	pic := inline(m, alt)
	if pic == nil {
		return nil
	}
	c := &crop{picture: *pic, Caption: words.UnbrokenDay(p.Taken.Day()), Place: placed(from)}
	main := record.LeafArea
	if view == record.Root {
		main = record.RootLength
	}
	if s, ok := r.x.on(seriesKey{p.Plant, view, main}, p.Taken.Day()); ok {
		q := quantity.Of(main, s.Unit)
		c.Values = q.Title + " " + words.Together(q.Value(s.Value, s.U95))
	}
	return c
}

// placed lets a picture that is smaller than its pair's window stand where it belongs in it: the plants of a pair then
// stand side by side at one height. Percentages of margins are of the width, in CSS.
func placed(c plate.Crop) template.CSS {
	w, h := c.Image.Rect.Dx(), c.Image.Rect.Dy()
	if c.FullW <= w+1 && c.FullH <= h+1 {
		return ""
	}
	of := func(px int) float64 { return 100 * float64(max(0, px)) / float64(c.FullW) }
	return template.CSS(fmt.Sprintf("width:%.2f%%;margin:%.2f%% 0 %.2f%% %.2f%%", of(w), of(c.At.Y), of(c.FullH-h-c.At.Y), of(c.At.X)))
}

// on is a series' session of a day.
func (x *index) on(k seriesKey, date string) (record.Session, bool) {
	for _, s := range x.series[k] {
		if s.Date == date {
			return s, true
		}
	}
	return record.Session{}, false
}

// crops cuts photos of one plant to one window at one scale; where that cannot be, for want of a card's homography, to the
// plant as it stands in each photo.
func (p *pictures) crops(photos []*record.Photo, w, h int) []plate.Crop {
	var frames []plate.Frame
	for _, ph := range photos {
		m := p.decode(ph.SHA256, func(size image.Rectangle) int { return size.Dx() * w / max(1, subject(ph, size).Dx()) }, "plain", "overlay")
		if m == nil {
			return nil
		}
		f, ok := plate.FromPhoto(ph, m)
		if !ok {
			return p.plainCrops(photos, min(w, h))
		}
		frames = append(frames, f)
	}
	out, err := plate.Crops(frames, w, h)
	if err != nil {
		return p.plainCrops(photos, min(w, h))
	}
	return out
}

// plainCrops are squares of the plants as they stand in their photos.
func (p *pictures) plainCrops(photos []*record.Photo, side int) []plate.Crop {
	var out []plate.Crop
	for _, ph := range photos {
		m := p.decode(ph.SHA256, func(size image.Rectangle) int { return size.Dx() * side / max(1, subject(ph, size).Dx()) }, "plain", "overlay")
		if m == nil {
			return nil
		}
		box := subject(ph, m.Rect)
		n := max(1, min(side, box.Dx()))
		out = append(out, plate.Crop{Image: pixels.Mean(m.SubImage(box).(*image.NRGBA), n, n), FullW: n, FullH: n})
	}
	return out
}
