package plate

import (
	"image"

	"github.com/disintegration/imaging"

	"phototrack/internal/record"
)

// FromWall makes a frame of a photo's unrolled wall: a picture in which x runs along the wall and y down from the rim,
// pxPerMM px to a millimetre, with the point originX, originY (mm) at the centre of its first pixel. Frames of several
// months are aligned on the rim and on azimuth zero, so that a root stays where it is.
func FromWall(p *record.Photo, wall image.Image, pxPerMM, originX, originY float64) (Frame, bool) {
	if wall == nil || wall.Bounds().Empty() || !(pxPerMM > 0) {
		return Frame{}, false
	}
	f := Frame{Plant: p.Plant, Date: p.Taken.Day(), Image: withoutBlackSides(wall),
		ToPx: [9]float64{pxPerMM, 0, -originX * pxPerMM, 0, pxPerMM, -originY * pxPerMM, 0, 0, 1}}
	f.Extent, f.whole = f.pictureMM(), true
	return f, true
}

// unseen is the brightest value, of 255, that JPEG makes of the black of what the camera did not see.
const unseen = 20

// WallClear is a picture of an unrolled wall with the plate's ground where the camera saw none of it.
func WallClear(wall image.Image) *image.NRGBA { return withoutBlackSides(wall) }

// withoutBlackSides replaces the black at both ends of each row, where a cone's wall ends or the camera saw no more, by
// the plate's ground.
func withoutBlackSides(wall image.Image) *image.NRGBA {
	m := imaging.Clone(wall)
	w := m.Rect.Dx()
	for y := range m.Rect.Dy() {
		row := m.Pix[y*m.Stride : y*m.Stride+4*w]
		black := func(x int) bool { return max(row[4*x], row[4*x+1], row[4*x+2]) <= unseen }
		clear := func(x int) { row[4*x], row[4*x+1], row[4*x+2], row[4*x+3] = ground.R, ground.G, ground.B, 255 }
		left := 0
		for ; left < w && black(left); left++ {
			clear(left)
		}
		for x := w - 1; x > left && black(x); x-- {
			clear(x)
		}
	}
	return m
}
