package photo

import "phototrack/internal/raster"

// tile is the side in px of the blocks in which a picture is turned: reading along rows and writing along columns stays
// within the nearest cache (two blocks of 64 x 64 x 3 bytes).
const tile = 64

// The values of EXIF tag 274 (TIFF 6.0, Orientation), named by where the stored first row and column come to lie.
const (
	topLeft = 1 + iota
	topRight
	bottomRight
	bottomLeft
	leftTop
	rightTop
	rightBottom
	leftBottom
)

// Upright turns a stored picture the way it is displayed. Orientation is EXIF tag 274: 1 as stored, 2 mirrored, 3 half
// turn, 4 upside down, 5 to 8 with rows and columns exchanged. Other values leave it as it is. The result of 1 shares its
// pixels with the input.
func Upright(img raster.BGR, orientation int) raster.BGR {
	if orientation <= topLeft || orientation > leftBottom {
		return img
	}
	w, h := img.W, img.H
	out := raster.NewBGR(w, h)
	// Stored pixel (x, y) goes to byte origin + x*stepX + y*stepY.
	var origin, stepX, stepY int
	if orientation >= leftTop {
		out.W, out.H = h, w
		stepX, stepY = 3*h, 3
	} else {
		stepX, stepY = 3, 3*w
	}
	switch orientation {
	case topRight, bottomRight, rightBottom, leftBottom:
		origin += (w - 1) * stepX
		stepX = -stepX
	}
	switch orientation {
	case bottomRight, bottomLeft, rightTop, rightBottom:
		origin += (h - 1) * stepY
		stepY = -stepY
	}
	for y0 := 0; y0 < h; y0 += tile {
		y1 := min(y0+tile, h)
		for x0 := 0; x0 < w; x0 += tile {
			x1 := min(x0+tile, w)
			for y := y0; y < y1; y++ {
				src := img.Pix[3*(y*w+x0) : 3*(y*w+x1)]
				at := origin + x0*stepX + y*stepY
				for i := 0; i+2 < len(src); i += 3 {
					dst := out.Pix[at : at+3 : at+3]
					dst[0], dst[1], dst[2] = src[i], src[i+1], src[i+2]
					at += stepX
				}
			}
		}
	}
	return out
}
