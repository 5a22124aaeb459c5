package pixels

import (
	"image"
	"sync"
)

// spare holds pictures that are done with. Panels of plates are made and dropped by the hundred, a few megabytes each;
// without it most of the time of collecting garbage would be theirs.
var spare sync.Pool

// New gives a picture of w x h px to be written in full: what is in it is left from another.
func New(w, h int) *image.NRGBA {
	n := 4 * w * h
	if p, ok := spare.Get().(*image.NRGBA); ok && cap(p.Pix) >= n {
		*p = image.NRGBA{Pix: p.Pix[:n], Stride: 4 * w, Rect: image.Rect(0, 0, w, h)}
		return p
	}
	return image.NewNRGBA(image.Rect(0, 0, w, h))
}

// Done gives back a picture that New made and nobody looks at again.
func Done(m *image.NRGBA) {
	if m != nil && cap(m.Pix) > 0 {
		spare.Put(m)
	}
}
