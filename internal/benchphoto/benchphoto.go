// Package benchphoto makes photos of the size of a phone's from small sample photos, for benchmarks: the same scene with
// more pixels, its EXIF data kept, and as much fine noise as a sensor leaves, so that a decoder has as much to do as with
// a real photo. It is no part of the program.
package benchphoto

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"image"
	"image/jpeg"
	"math/rand/v2"

	"github.com/disintegration/imaging"
)

// noise is the half-width of the triangular noise added to each channel, of 255: what a phone leaves after its own
// filter (0.6 % standard deviation or so, by eye on flat parts of phone photos).
const noise = 3

// Upscale gives the JPEG of a photo enlarged to width px, quality 90, 4:2:0. The same input gives the same bytes.
func Upscale(photo []byte, width int) ([]byte, error) {
	img, err := jpeg.Decode(bytes.NewReader(photo))
	if err != nil {
		return nil, err
	}
	big := imaging.Resize(img, width, 0, imaging.CatmullRom)
	addNoise(big)
	var out bytes.Buffer
	if err := jpeg.Encode(&out, big, &jpeg.Options{Quality: 90}); err != nil {
		return nil, err
	}
	return withHead(photo, out.Bytes(), "")
}

func addNoise(img *image.NRGBA) {
	rng := rand.New(rand.NewPCG(3, uint64(img.Rect.Dx())))
	for i := 0; i < len(img.Pix); i += 4 {
		v := rng.Uint64()
		for c := range 3 {
			d := int(v&3) + int(v>>2&3) - noise
			v >>= 4
			img.Pix[i+c] = uint8(max(0, min(255, int(img.Pix[i+c])+d)))
		}
	}
}

// Copy gives the same photo with another content hash, size bytes long: a comment is added that says n. There must be
// room for it: 24 to 65537 bytes.
func Copy(photo []byte, n, size int) ([]byte, error) {
	const segment = 4 // marker and length
	text := size - len(photo) - segment
	if text < 20 || text > 65533 {
		return nil, fmt.Errorf("no comment makes %d bytes of %d", size, len(photo))
	}
	return withHead(photo, photo, fmt.Sprintf("copy %-*d", text-len("copy "), n))
}

// withHead puts the EXIF segments of one JPEG, and a comment, at the head of another.
func withHead(from, to []byte, comment string) ([]byte, error) {
	if len(from) < 4 || len(to) < 4 {
		return nil, errors.New("no JPEG")
	}
	out := []byte{0xff, 0xd8}
	if &from[0] != &to[0] {
		for i := 2; i+4 <= len(from) && from[i] == 0xff && from[i+1] != 0xda; {
			n := 2 + int(binary.BigEndian.Uint16(from[i+2:]))
			if i+n > len(from) {
				return nil, errors.New("the JPEG is cut short")
			}
			if from[i+1] == 0xe1 {
				out = append(out, from[i:i+n]...)
			}
			i += n
		}
	}
	if comment != "" {
		out = append(out, 0xff, 0xfe, byte((len(comment)+2)>>8), byte(len(comment)+2))
		out = append(out, comment...)
	}
	return append(out, to[2:]...), nil
}
