// Package photo turns the bytes of a photo file into pixels that can be measured: the displayed orientation, sRGB, eight
// bits a channel; and says what the file tells of date and camera.
//
// Everything here reads bytes from outside. Sizes are read from the header and held against limits before anything is
// decoded, a file that is cut short is refused instead of being filled up with grey, and position (GPS) is never read.
package photo

import (
	"fmt"

	"phototrack/internal/gate"
	"phototrack/internal/raster"
	"phototrack/internal/record"
)

// The formats that are read.
const (
	JPEG = "JPEG"
	PNG  = "PNG"
	TIFF = "TIFF"
	WebP = "WebP"
	HEIC = "HEIC"
)

// Limits bound what is opened at all. A zero field stands for its default.
type Limits struct {
	MaxPixels int64 // width times height, default 200 million
	MaxBytes  int64 // length of the file, default 400 million
}

// Defaults of Limits: a photo of the largest phone sensors (200 megapixels) is opened, a poster scan is not.
const (
	DefaultMaxPixels = gate.DefaultMegapixels * 1_000_000
	DefaultMaxBytes  = gate.DefaultFileMB * 1_000_000
)

// maxCostPerPx bounds the memory of decoding, bytes for each pixel of MaxPixels: an ordinary JPEG takes 3, and another 3 to
// turn it; 16-bit and multi-pass pictures take more a pixel and so must have fewer.
const maxCostPerPx = 9

// maxSide is the longest side in px of a picture that is opened, whatever its area: JPEG ends there too.
const maxSide = 65535

func (l Limits) pixels() int64 {
	if l.MaxPixels > 0 {
		return l.MaxPixels
	}
	return DefaultMaxPixels
}

func (l Limits) bytes() int64 {
	if l.MaxBytes > 0 {
		return l.MaxBytes
	}
	return DefaultMaxBytes
}

// check holds a header's size against the limits.
func (l Limits) check(h *header) error {
	if h.width < 1 || h.height < 1 {
		return fmt.Errorf("%w: its size is %d x %d px", ErrUnreadable, h.width, h.height)
	}
	if px := int64(h.width) * int64(h.height); px > l.pixels() || h.width > maxSide || h.height > maxSide {
		return fmt.Errorf("%w: %d x %d px, the limit is %d megapixels", ErrTooLarge, h.width, h.height, l.pixels()/1_000_000)
	}
	if need := int64(h.width) * int64(h.height) * int64(h.costPerPx); need > maxCostPerPx*l.pixels() {
		return fmt.Errorf("%w: decoding %d x %d px of this kind takes %d MB, the limit is %d MB", ErrTooLarge, h.width, h.height,
			need/1_000_000, maxCostPerPx*l.pixels()/1_000_000)
	}
	return nil
}

// Frame is a photo ready to be measured.
type Frame struct {
	Img raster.BGR // displayed orientation, sRGB (IEC 61966-2-1)
	Meta
}

// Meta is what a file says about its photo.
type Meta struct {
	WidthPx     int          // as displayed
	HeightPx    int          // as displayed
	Taken       record.Stamp // DateTimeOriginal and OffsetTimeOriginal; zero where the file has no usable date
	Camera      string       // make and model, without control characters
	F35MM       float64      // focal length in 35 mm equivalent, 0 unknown
	FocalMM     float64      // focal length of the lens, 0 unknown
	Orientation int          // 1 to 8 (EXIF tag 274), 1 where the file says nothing; already applied to Img
	Format      string       // JPEG, PNG, TIFF, WebP, HEIC
	Profile     string       // which colour profile was found and what was done about it
	Notes       []string     // plain sentences about what was odd in the file
	Unchecked   string       // the kind of file, where damage to it can change much of the picture and nothing would tell; else ""
}

func (m *Meta) note(format string, args ...any) {
	m.Notes = append(m.Notes, fmt.Sprintf(format, args...))
}

// Read turns the bytes of a photo file into a Frame. Errors are ErrUnreadable, ErrUnknownFormat and ErrTooLarge, wrapped
// with the figures; ReasonOf gives their rows in the table of gates.
func Read(data []byte, limits Limits) (*Frame, error) { return new(Reader).Read(data, limits) }

// Reader reads one photo after another into the same memory, which saves the system from handing out and clearing some
// tens of megabytes for each. The zero value is ready; it is not for use by several goroutines at once.
type Reader struct {
	room []uint8
}

// picture is room for the stored picture; every decoder writes all of it or fails.
func (r *Reader) picture(h *header) raster.BGR {
	n := 3 * h.width * h.height
	if cap(r.room) < n {
		r.room = make([]uint8, n)
	}
	return raster.BGR{W: h.width, H: h.height, Pix: r.room[:n]}
}

// Read is the function Read; the frame's pixels hold until the next call.
func (r *Reader) Read(data []byte, limits Limits) (*Frame, error) {
	if int64(len(data)) > limits.bytes() {
		return nil, fmt.Errorf("%w: %d bytes, the limit is %d", ErrTooLarge, len(data), limits.bytes())
	}
	h, err := parse(data)
	if err != nil {
		return nil, err
	}
	if err := limits.check(h); err != nil {
		return nil, err
	}
	img, err := h.decode(data, h, r)
	if err != nil {
		return nil, err
	}
	f := &Frame{Img: img, Meta: h.meta()}
	toSRGB(f.Img, h, &f.Meta)
	f.Img = Upright(f.Img, f.Orientation)
	f.WidthPx, f.HeightPx = f.Img.W, f.Img.H
	return f, nil
}
