package cv

import (
	"fmt"

	"gocv.io/x/gocv"
)

// siftValues are the values of a description: 4 x 4 histograms of 8 directions (Lowe 2004, section 6.2).
const siftValues = 128

// Feature is a distinct place of a picture, px, with the description that finds it again.
type Feature struct {
	X, Y, Size, AngleDeg float64
	Desc                 [siftValues]float32
}

// Features finds distinct places of a grey picture of w by h px and describes them by the gradients about them (SIFT: Lowe
// 2004, Distinctive image features from scale-invariant keypoints), at most so many, the strongest first. Errors: ErrSize.
func Features(gray []uint8, w, h, most int) ([]Feature, error) {
	if w < leastSide || h < leastSide || len(gray) != w*h {
		return nil, fmt.Errorf("%w: %d x %d px, %d bytes", ErrSize, w, h, len(gray))
	}
	src, err := gocv.NewMatFromBytes(h, w, gocv.MatTypeCV8UC1, gray)
	if err != nil {
		return nil, err
	}
	defer src.Close()
	sift := gocv.NewSIFT()
	defer sift.Close()
	mask := gocv.NewMat()
	defer mask.Close()
	points, desc := sift.DetectAndCompute(src, mask)
	defer desc.Close()
	if len(points) == 0 || desc.Empty() {
		return nil, nil
	}
	data, err := desc.DataPtrFloat32()
	if err != nil || desc.Cols() != siftValues || len(data) < siftValues*len(points) {
		return nil, fmt.Errorf("features of %d values", desc.Cols())
	}
	order := strongest(points, most)
	out := make([]Feature, 0, len(order))
	for _, i := range order {
		p := points[i]
		f := Feature{X: p.X, Y: p.Y, Size: p.Size, AngleDeg: p.Angle}
		copy(f.Desc[:], data[128*i:128*i+128])
		out = append(out, f)
	}
	return out, nil
}
