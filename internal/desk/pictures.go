package desk

import (
	"bytes"
	"container/list"
	"context"
	"image"
	"image/jpeg"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"sync"

	"github.com/disintegration/imaging"

	"phototrack/internal/codec"
	"phototrack/internal/pipeline"
	"phototrack/internal/plate"
	"phototrack/internal/record"
)

// keyDigits of a photo's settings key stand in the address of its pictures, so that a browser keeps none that was made with others.
const keyDigits = 12

func keyOf(p *record.Photo) string { return p.SettingsKey[:min(keyDigits, len(p.SettingsKey))] }

// pictureAddress is where a photo's picture is fetched; it changes when the photo is measured anew, so that browsers
// may keep what they have.
func pictureAddress(p *record.Photo, kind string) string {
	return "/picture/" + p.SHA256 + "/" + kind + "?v=" + keyOf(p)
}

// shownByBrowsers are the formats of originals that a browser shows itself.
var shownByBrowsers = map[string]string{".jpg": "image/jpeg", ".jpeg": "image/jpeg", ".png": "image/png", ".webp": "image/webp"}

// wallClear is the kind of the picture of an unrolled wall without the black where the camera saw none of it.
const wallClear = "wall_clear"

const (
	faceSide  = 240 // px of a portrait
	thumbSide = 360 // px of the longer side of a thumbnail
)

// picture serves a stored working picture, a portrait or thumbnail made of it, or the kept original.
func (d *Desk) picture(w http.ResponseWriter, r *http.Request, s *snapshot, p *record.Photo) error {
	kind := r.PathValue("kind")
	if kind == "original" {
		return d.original(w, r, s, p)
	}
	data, err := d.pictureOf(r.Context(), s, p, kind)
	if err != nil {
		return err
	}
	if data == nil {
		return notFound("there is no such picture of this photo")
	}
	w.Header().Set("Content-Type", "image/jpeg")
	w.Header().Set("Cache-Control", "private, max-age=86400")
	w.Write(data)
	return nil
}

func (d *Desk) pictureOf(ctx context.Context, s *snapshot, p *record.Photo, kind string) ([]byte, error) {
	switch kind {
	case pipeline.PicturePlain, pipeline.PictureOverlay, pipeline.PictureWall, pipeline.PictureWallOverlay:
		data, ok, err := s.st.Picture(ctx, p.SHA256, kind)
		if err != nil || !ok {
			return nil, err
		}
		return data, nil
	case wallClear:
		return d.faces.get(p.SHA256+p.SettingsKey+kind, func() ([]byte, error) {
			img, err := stored(ctx, s, p.SHA256, pipeline.PictureWall)
			if err != nil || img == nil {
				return nil, err
			}
			return codec.WriteJPEGOf(plate.WallClear(img), 88)
		})
	case "face", "thumb":
		return d.faces.get(p.SHA256+p.SettingsKey+kind, func() ([]byte, error) { return small(ctx, s, p, kind) })
	}
	return nil, nil
}

// original serves the file as it came from the camera: the kept one, or the one in the inbox, found by its content
// hash and never by a name from the request.
func (d *Desk) original(w http.ResponseWriter, r *http.Request, s *snapshot, p *record.Photo) error {
	path, mime := originalOf(s, p)
	if path == "" {
		return notFound("the original cannot be shown here")
	}
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	defer f.Close()
	st, err := f.Stat()
	if err != nil {
		return err
	}
	w.Header().Set("Content-Type", mime)
	w.Header().Set("Cache-Control", "private, max-age=86400")
	http.ServeContent(w, r, "", st.ModTime(), f)
	return nil
}

// originalOf finds a photo's original that a browser can show; "" where there is none.
func originalOf(s *snapshot, p *record.Photo) (path, mime string) {
	path, ok := s.c.Original(p)
	if !ok {
		// The file in the inbox. One outside the collection is never served.
		rel, err := filepath.Rel(s.c.Dir, p.Path)
		if err != nil {
			return "", ""
		}
		path, err = s.c.File(filepath.ToSlash(rel))
		if err != nil {
			return "", ""
		}
		if st, err := os.Stat(path); err != nil || st.Size() != p.Bytes {
			return "", ""
		}
	}
	mime = shownByBrowsers[strings.ToLower(filepath.Ext(path))]
	if mime == "" {
		return "", ""
	}
	return path, mime
}

// small makes a portrait (the plant, square) or a thumbnail of the stored picture.
func small(ctx context.Context, s *snapshot, p *record.Photo, kind string) ([]byte, error) {
	data, ok, err := s.st.Picture(ctx, p.SHA256, pipeline.PicturePlain)
	if err != nil || !ok {
		return nil, err
	}
	img, err := codec.ReadJPEG(data)
	if err != nil {
		return nil, err
	}
	var out image.Image
	if kind == "face" {
		whole, err := s.whole(ctx, p.SHA256)
		if err != nil {
			return nil, err
		}
		out = imaging.Thumbnail(imaging.Crop(img, plantBox(whole, img.Bounds())), faceSide, faceSide, imaging.Box)
	} else {
		out = imaging.Fit(img, thumbSide, thumbSide, imaging.Box)
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, out, &jpeg.Options{Quality: 80}); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}

// plantBox is the square about what was measured, within the picture; the whole picture where nothing was outlined.
func plantBox(p *record.Photo, b image.Rectangle) image.Rectangle {
	if p.WidthPx == 0 {
		return b
	}
	k := float64(b.Dx()) / float64(p.WidthPx)
	box := image.Rectangle{}
	for _, o := range p.Outlines {
		if o.Kind != "leaf" && o.Kind != "pot" && o.Kind != "root" && o.Kind != "root_old" {
			continue
		}
		for _, q := range o.Points {
			x, y := int(q.X*k), int(q.Y*k)
			box = box.Union(image.Rect(x, y, x+1, y+1))
		}
	}
	if box.Empty() {
		return b
	}
	side := max(box.Dx(), box.Dy()) * 11 / 10
	side = min(side, min(b.Dx(), b.Dy()))
	x := min(max(0, (box.Min.X+box.Max.X-side)/2), b.Dx()-side)
	y := min(max(0, (box.Min.Y+box.Max.Y-side)/2), b.Dy()-side)
	return image.Rect(x, y, x+side, y+side)
}

// cacheBytes bounds the small pictures that are kept in memory: some thousand portraits.
const cacheBytes = 40 << 20

// cache keeps small pictures, the least used going first.
type cache struct {
	mu    sync.Mutex
	items map[string]*list.Element
	order list.List
	bytes int
}

type cached struct {
	key  string
	data []byte
}

// get gives what is kept under the key, or makes it. Two requests may make the same thing; the result is the same.
func (c *cache) get(key string, make_ func() ([]byte, error)) ([]byte, error) {
	c.mu.Lock()
	if e, ok := c.items[key]; ok {
		c.order.MoveToFront(e)
		c.mu.Unlock()
		return e.Value.(cached).data, nil
	}
	c.mu.Unlock()
	data, err := make_()
	if err != nil || data == nil {
		return nil, err
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.items == nil {
		c.items = map[string]*list.Element{}
	}
	if _, there := c.items[key]; !there {
		c.items[key] = c.order.PushFront(cached{key, data})
		c.bytes += len(data)
	}
	for c.bytes > cacheBytes {
		e := c.order.Back()
		k := c.order.Remove(e).(cached)
		delete(c.items, k.key)
		c.bytes -= len(k.data)
	}
	return data, nil
}
