package regions

import (
	"math"

	"phototrack/internal/raster"
	"phototrack/internal/record"
)

// Class is what a place of a leaf photo is.
type Class uint8

// The classes. Card and tag are known from the calibration and are painted in as Rest.
const (
	Rest  Class = iota // everything else
	Leaf               // blades and leaf stalks of the plant in question, of any colour
	Part               // its flower stems, blooms, storage organs, aerial roots, woody stems
	Other              // whatever grows and is not the plant in question
	Pot                // its pot, saucer and what lies in the pot
	Classes
)

// InDoubt marks a place in doubt in a picture of classes.
const InDoubt = 255

const (
	// LongPx is the long side of the fine picture, which the network is shown as four planes a colour of half its size.
	LongPx = 768
	// stepPx: the network halves the planes, which are half as large, five times.
	stepPx = 64
	// Planes are: red, green, blue of the pixels at even x and even y, then odd x, then odd y, then both odd; the card; tags; the
	// strongest fine and the strongest coarse detail.
	Planes = 16
	// usualSpreadPx is the edge width, 10 to 90 %, of a sharp photo at its own size.
	usualSpreadPx = 1.8
)

// Size is the size of the fine picture for a photo of w x h px: both sides are multiples of 64. The two axes are scaled
// apart by a few per cent.
func Size(w, h int) (fw, fh int) {
	scale := LongPx / float64(max(w, h))
	side := func(n int) int {
		return stepPx * max(2, int(math.Round(scale*float64(n)/stepPx)))
	}
	return side(w), side(h)
}

// View is a photo as the network is shown it: W x H are half of the fine picture's; Pix holds Planes planes, row by row.
type View struct {
	W, H int
	Pix  []uint8
}

// Photo is what is known of a photo before leaves are looked for.
type Photo struct {
	Img   raster.BGR // in the camera's colours
	Small raster.BGR // the same, or reduced
	// Correct turns a row of camera values (blue, green, red) into corrected sRGB of the same order.
	Correct  func(row []uint8)
	SpreadPx float64          // edge width at the card's markers in photo px, 0 where it is not known
	Card     []record.Point   // its outline, photo px
	Tags     [][]record.Point // theirs
}

// View makes the planes.
func (p *Photo) View() View {
	photo := p.Img
	fw, fh := Size(photo.W, photo.H)
	fine := Resample(p.Small, fw, fh)
	v := View{W: fw / 2, H: fh / 2}
	v.Pix = make([]uint8, Planes*v.W*v.H)
	n := v.W * v.H
	for y := range fh {
		row := fine.Pix[3*y*fw : 3*(y+1)*fw]
		p.Correct(row)
		base := 6*(y&1)*n + (y/2)*v.W
		for x := range v.W {
			q := row[6*x : 6*x+6]
			o := base + x
			v.Pix[o], v.Pix[o+n], v.Pix[o+2*n] = q[2], q[1], q[0]
			v.Pix[o+3*n], v.Pix[o+4*n], v.Pix[o+5*n] = q[5], q[4], q[3]
		}
	}
	sx, sy := float64(photo.W)/float64(v.W), float64(photo.H)/float64(v.H)
	v.polygon(12, p.Card, sx, sy)
	for _, t := range p.Tags {
		v.polygon(13, t, sx, sy)
	}
	v.detail(photo, p.SpreadPx)
	return v
}

// polygon fills a plane with 255 where a place's middle lies in the polygon (photo px, even-odd).
func (v *View) polygon(plane int, poly []record.Point, sx, sy float64) {
	pix := v.Pix[plane*v.W*v.H:][:v.W*v.H]
	var xs []float64
	for y := range v.H {
		yy := (float64(y)+0.5)*sy - 0.5
		xs = xs[:0]
		for i, p := range poly {
			q := poly[(i+1)%len(poly)]
			if (p.Y <= yy) != (q.Y <= yy) {
				xs = append(xs, p.X+(yy-p.Y)/(q.Y-p.Y)*(q.X-p.X))
			}
		}
		for i := 1; i < len(xs); i++ {
			for j := i; j > 0 && xs[j] < xs[j-1]; j-- {
				xs[j], xs[j-1] = xs[j-1], xs[j]
			}
		}
		for i := 0; i+1 < len(xs); i += 2 {
			a, b := (xs[i]+0.5)/sx-0.5, (xs[i+1]+0.5)/sx-0.5
			for x := max(0, int(math.Ceil(a))); x <= min(v.W-1, int(math.Floor(b))); x++ {
				pix[y*v.W+x] = 255
			}
		}
	}
}

// detail fills the last two planes: by place, the strongest difference of a pixel's green from its four neighbours, at a
// size at which an edge in focus is two pixels wide, and at half that size. What lies out of focus is
// weaker in the first than in the second, which the fine picture does not show.
func (v *View) detail(photo raster.BGR, spreadPx float64) {
	if spreadPx <= 0 {
		spreadPx = usualSpreadPx
	}
	n := v.W * v.H
	found := strongest(photo, max(1, int(math.Round(spreadPx/usualSpreadPx))), v.W, v.H)
	for i, d := range found {
		v.Pix[14*n+i] = logOf[d]
	}
}

// perDoubling: ten doublings, to the largest sum of four differences, fill the range.
const perDoubling = 25.5

// logOf is a difference summed over four neighbours on a logarithmic scale of 0..255.
var logOf = func() (t [1021]uint8) {
	for i := range t {
		t[i] = uint8(min(math.MaxUint8, perDoubling*math.Log2(1+float64(i))))
	}
	return
}()

// Mirrored is the view in the mirror: left is right.
func (v View) Mirrored() View {
	m := View{W: v.W, H: v.H, Pix: make([]uint8, len(v.Pix))}
	from := [Planes]int{3, 4, 5, 0, 1, 2, 9, 10, 11, 6, 7, 8, 12, 13, 14, 15} // even columns become odd ones
	n := v.W * v.H
	for k, f := range from {
		for y := range v.H {
			src, dst := v.Pix[f*n+y*v.W:][:v.W], m.Pix[k*n+y*v.W:][:v.W]
			for x, b := range src {
				dst[v.W-1-x] = b
			}
		}
	}
	return m
}
