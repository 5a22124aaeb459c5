package cv

import (
	"errors"
	"fmt"
	"image"

	"gocv.io/x/gocv"

	"phototrack/internal/raster"
)

// ErrSize says that a picture has no pixels, or fewer than its size says.
var ErrSize = errors.New("picture of no usable size")

// ReducedGray is a picture in grey for searching: at full size its luma (ITU-R BT.601 weights), else the green channel
// averaged over boxes of k by k px, which shows black on white paper as well at less cost; columns and rows that fill no
// box are left out. The centre of reduced pixel u lies at k u + (k-1)/2. Errors: ErrSize.
func ReducedGray(img raster.BGR, k int) (gray []uint8, w, h int, err error) {
	if k < 1 || img.W < k || img.H < k || len(img.Pix) != 3*img.W*img.H {
		return nil, 0, 0, fmt.Errorf("%w: %d x %d px, %d bytes, reduced by %d", ErrSize, img.W, img.H, len(img.Pix), k)
	}
	// The Mat borrows the Go memory for the length of this call.
	src, err := gocv.NewMatFromBytes(img.H, img.W, gocv.MatTypeCV8UC3, img.Pix)
	if err != nil {
		return nil, 0, 0, err
	}
	defer src.Close()
	w, h = img.W/k, img.H/k
	gray = make([]uint8, w*h)
	dst, err := gocv.NewMatFromBytes(h, w, gocv.MatTypeCV8UC1, gray)
	if err != nil {
		return nil, 0, 0, err
	}
	defer dst.Close()
	if k == 1 {
		gocv.CvtColor(src, &dst, gocv.ColorBGRToGray)
		return gray, w, h, nil
	}
	whole := src.Region(image.Rect(0, 0, k*w, k*h))
	defer whole.Close()
	green := gocv.NewMat()
	defer green.Close()
	gocv.ExtractChannel(whole, &green, 1)
	gocv.Resize(green, &dst, image.Pt(w, h), 0, 0, gocv.InterpolationArea)
	return gray, w, h, nil
}
