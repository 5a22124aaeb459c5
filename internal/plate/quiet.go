package plate

import (
	"math"

	"phototrack/internal/pixels"
)

// JPEG stores colour at half the resolution, in blocks of 16 x 16 px of the photo, in steps of about 3/8 of a level for a
// block's mean. On a flat grey that is a cast of up to one level that differs from block to block and from photo to
// photo: drawn patches under perfectly known light, written by libjpeg at quality 90 and read back, differ by more than
// CIEDE2000 2 in 1.2 % of pairs of photos (on greys, where the eye and the formula are most exact). That, and not the colour
// correction, was what set the same patch apart on plates of different lights. So colour, not brightness, is evened out
// over one such block each way, among pixels that differ by no more than that noise: a sigma filter (Lee 1983, Comput.
// Vision Graph. 24:255), along rows and then along columns.
const (
	blockPx    = 16.0 // px of the photo
	alikeLuma  = 8.0  // levels: farther apart is an edge or a drawing, not noise
	alikeColor = 2.5  // levels of Cb and Cr: two steps of an AC term at quality 90
)

// stepPx is from neighbour to neighbour: JPEG's colour has half the resolution, so that every other pixel tells it all.
const stepPx = 2

// alike says which neighbours of a pixel give it its colour, on a picture of k times the photo's size.
func alike(k float64) pixels.Alike {
	steps := min(max(int(math.Round(blockPx*k/stepPx)), 1), blockPx/stepPx)
	return pixels.Alike{Steps: steps, Luma: int(alikeLuma*pixels.Fine) + 1, Colour: int(alikeColor*pixels.Fine) + 1}
}
