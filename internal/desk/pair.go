package desk

import (
	"bytes"
	"encoding/binary"
	"image"
	"image/draw"
	"image/png"
	"net/http"

	"phototrack/internal/codec"
	"phototrack/internal/pipeline"
	"phototrack/internal/plate"
	"phototrack/internal/record"
)

// pairSide is the largest width and height of a picture of a pair, px.
const pairSide = 360

// noPhoto stands in the address for the photo that a pair lacks.
const noPhoto = "-"

// pairAddress is where the pictures of a plant then and now are fetched: cut to one window, at one scale, colours corrected
// by the card. then may be nil.
func pairAddress(then, now *record.Photo) (a, b string) {
	sha, v := noPhoto, keyOf(now)
	if then != nil {
		sha = then.SHA256
		v += keyOf(then)
	}
	at := "/pair/" + sha + "/" + now.SHA256 + "/"
	if then != nil {
		a = at + "then?v=" + v
	}
	return a, at + "now?v=" + v
}

// pair serves one picture of a pair. Both are made at once and kept.
func (d *Desk) pair(w http.ResponseWriter, r *http.Request, s *snapshot) error {
	now, err := s.photo(r.PathValue("now"))
	if err != nil {
		return err
	}
	photos, key := []*record.Photo{now}, "pair"+now.SHA256+now.SettingsKey
	if sha := r.PathValue("then"); sha != noPhoto {
		then, err := s.photo(sha)
		if err != nil {
			return err
		}
		photos, key = []*record.Photo{then, now}, key+then.SHA256+then.SettingsKey
	}
	data, err := d.faces.get(key, func() ([]byte, error) { return pairOf(r, s, photos) })
	if err != nil {
		return err
	}
	if len(data) < 4 {
		return notFound("there is no such picture")
	}
	n := int(binary.BigEndian.Uint32(data))
	pic := data[4:][:n]
	if r.PathValue("which") == "now" {
		pic = data[4+n:]
	}
	if len(pic) == 0 {
		return notFound("there is no such picture")
	}
	w.Header().Set("Content-Type", http.DetectContentType(pic))
	w.Header().Set("Cache-Control", "private, max-age=86400")
	w.Write(pic)
	return nil
}

// pairOf makes the pictures of then and now: the length of the first, the first, the second. Photos that cannot be brought
// into one plane are shown as they stand.
func pairOf(r *http.Request, s *snapshot, photos []*record.Photo) ([]byte, error) {
	var frames []plate.Frame
	for _, p := range photos {
		data, ok, err := s.st.Picture(r.Context(), p.SHA256, pipeline.PicturePlain)
		if err != nil || !ok {
			return nil, err
		}
		img, err := codec.ReadJPEG(data)
		if err != nil {
			return nil, nil
		}
		whole, err := s.whole(r.Context(), p.SHA256)
		if err != nil {
			return nil, err
		}
		f, ok := plate.FromPhoto(whole, img)
		if !ok {
			return facesOf(r, s, photos)
		}
		frames = append(frames, f)
	}
	crops, err := plate.Crops(frames, pairSide, pairSide)
	if err != nil {
		return facesOf(r, s, photos)
	}
	defer plate.Done(crops)
	var pics [2][]byte
	for i, c := range crops {
		if pics[i+2-len(crops)], err = encoded(c); err != nil {
			return nil, err
		}
	}
	return joined(pics), nil
}

// encoded is a crop as JPEG; one that is smaller than its pair's window as PNG, with nothing where the photo does not reach,
// so that both are of one size.
func encoded(c plate.Crop) ([]byte, error) {
	if c.Image.Rect.Dx() >= c.FullW && c.Image.Rect.Dy() >= c.FullH {
		return codec.WriteJPEGOf(c.Image, 80)
	}
	m := image.NewNRGBA(image.Rect(0, 0, c.FullW, c.FullH))
	draw.Draw(m, c.Image.Rect.Add(c.At), c.Image, image.Point{}, draw.Src)
	var b bytes.Buffer
	err := png.Encode(&b, m)
	return b.Bytes(), err
}

// facesOf are the photos' portraits in place of a pair.
func facesOf(r *http.Request, s *snapshot, photos []*record.Photo) ([]byte, error) {
	var pics [2][]byte
	for i, p := range photos {
		data, err := small(r.Context(), s, p, "face")
		if err != nil {
			return nil, err
		}
		pics[i+2-len(photos)] = data
	}
	return joined(pics), nil
}

func joined(pics [2][]byte) []byte {
	out := binary.BigEndian.AppendUint32(nil, uint32(len(pics[0])))
	return append(append(out, pics[0]...), pics[1]...)
}
