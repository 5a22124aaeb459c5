package cv

import (
	"errors"
	"fmt"

	"gocv.io/x/gocv"

	"phototrack/internal/raster"
)

// ErrSize says that a picture has no pixels, or fewer than its size says.
var ErrSize = errors.New("picture of no usable size")

// Gray is the luma of a picture (ITU-R BT.601 weights), one byte a pixel. Errors: ErrSize.
func Gray(img raster.BGR) ([]uint8, error) {
	if img.W < 1 || img.H < 1 || len(img.Pix) != 3*img.W*img.H {
		return nil, fmt.Errorf("%w: %d x %d px, %d bytes", ErrSize, img.W, img.H, len(img.Pix))
	}
	// The Mats borrow the Go memory for the length of this call.
	src, err := gocv.NewMatFromBytes(img.H, img.W, gocv.MatTypeCV8UC3, img.Pix)
	if err != nil {
		return nil, err
	}
	defer src.Close()
	gray := make([]uint8, img.W*img.H)
	dst, err := gocv.NewMatFromBytes(img.H, img.W, gocv.MatTypeCV8UC1, gray)
	if err != nil {
		return nil, err
	}
	defer dst.Close()
	gocv.CvtColor(src, &dst, gocv.ColorBGRToGray)
	return gray, nil
}
