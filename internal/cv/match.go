package cv

import (
	"fmt"
	"math"

	"gocv.io/x/gocv"

	"phototrack/internal/raster"
)

// leastTemplate is the side in px of the smallest picture whose correlation says something (chosen by eye).
const leastTemplate = 4

// Match slides a small picture over a larger one and gives the correlation of their colours at every place, -1 to 1, row by
// row: place x, y is where the small one's first pixel lies; w and h are its size (normalised correlation coefficient, OpenCV's
// TM_CCOEFF_NORMED). Errors: ErrSize.
func Match(small, large raster.BGR) (score []float32, w, h int, err error) {
	if small.W < leastTemplate || small.H < leastTemplate || small.W > large.W || small.H > large.H || len(small.Pix) != 3*small.W*small.H || len(large.Pix) != 3*large.W*large.H {
		return nil, 0, 0, fmt.Errorf("%w: %d x %d px over %d x %d px", ErrSize, small.W, small.H, large.W, large.H)
	}
	a, err := gocv.NewMatFromBytes(small.H, small.W, gocv.MatTypeCV8UC3, small.Pix)
	if err != nil {
		return nil, 0, 0, err
	}
	defer a.Close()
	b, err := gocv.NewMatFromBytes(large.H, large.W, gocv.MatTypeCV8UC3, large.Pix)
	if err != nil {
		return nil, 0, 0, err
	}
	defer b.Close()
	out, none := gocv.NewMat(), gocv.NewMat()
	defer out.Close()
	defer none.Close()
	gocv.MatchTemplate(b, a, &out, gocv.TmCcoeffNormed, none)
	data, err := out.DataPtrFloat32()
	if err != nil {
		return nil, 0, 0, err
	}
	score = make([]float32, len(data))
	for i, v := range data { // a patch of one colour has no correlation
		if !math.IsNaN(float64(v)) && !math.IsInf(float64(v), 0) {
			score[i] = v
		}
	}
	return score, out.Cols(), out.Rows(), nil
}
