// Package codec decodes JPEG, WebP and HEIC into 8-bit pixels by the formats' own C libraries (libjpeg, libwebp,
// libheif), called through small wrappers that never jump or throw past them.
//
// The libraries are asked directly, rather than through a general picture reader, because they then say when the data
// are damaged: a reader that fills what is missing with grey and reports success would have that grey measured.
package codec

import (
	"errors"
	"fmt"

	"phototrack/internal/raster"
)

// ErrDecode says that the data are damaged, or not what their header says.
var ErrDecode = errors.New("not decodable")

// room refuses a destination that cannot hold the picture.
func room(data []byte, dst raster.BGR) error {
	if len(data) == 0 || dst.W < 1 || dst.H < 1 || len(dst.Pix) != 3*dst.W*dst.H {
		return fmt.Errorf("%w: no bytes, or no room", ErrDecode)
	}
	return nil
}
