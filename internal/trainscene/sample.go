package trainscene

import (
	"image"

	"phototrack/internal/colour"
	"phototrack/internal/raster"
	"phototrack/internal/record"
	"phototrack/internal/regions"
)

// Sample is a photo as the network is shown it, with the class of each pixel of the fine picture, and the photo.
type Sample struct {
	View  regions.View
	Label []uint8 // of the fine picture, twice the view's size; 255 where it is not to be learnt
	Photo raster.BGR
	// What the calibration of the photo knows: the card's outline, tags, the edge width at the markers (0: no card), and by what the linear
	// values are multiplied.
	Card     []record.Point
	Tags     [][]record.Point
	SpreadPx float64
	Gain     [3]float32
}

// The photo is a quarter longer and wider than the fine picture, so that sharpness shows in it.
const photoPx = regions.LongPx * 5 / 4

// Draw makes the sample of a seed. upright asks for a photo higher than wide. photos may be nil.
func Draw(seed uint64, upright bool, photos *Photos, f *Film) Sample {
	return variant{}.draw(newDice(seed), upright, photos, f)
}

// DrawNear makes the sample of a seed as Draw does, or as a close-up of that scene, a part of it as large as the photo: of scenes with a card one of
// five, of those without (pictures that people take of leaves are mostly so) one of two. One of sixteen is of cut leaves instead.
func DrawNear(seed uint64, upright bool, photos *Photos, f *Film) Sample {
	near := newDice(^seed)
	closer := near.chance(0.2)
	closerBare := closer || near.chance(0.4)
	v := variant{cutLeaves: near.chance(1.0 / 16), change: func(c *composition) {
		if bare := c.card == nil; closer || bare && closerBare {
			c.approach(near, bare)
		}
	}}
	return v.draw(newDice(seed), upright, photos, f)
}

// variant is what is to be otherwise than the seed has it.
type variant struct {
	cutLeaves bool                 // cut leaves, whatever the seed would draw
	change    func(c *composition) // of the scene before the photo is taken, unless it is nil
}

// photoSize is a wide or an upright photo's, px.
func photoSize(upright bool) image.Point {
	if upright {
		return image.Pt(photoPx*3/4, photoPx)
	}
	return image.Pt(photoPx, photoPx*3/4)
}

func (v variant) draw(d dice, upright bool, photos *Photos, f *Film) Sample {
	size := photoSize(upright)
	if photos.some() && d.chance(0.02) { // train/augment.py makes many more
		return photos.sample(d, size.X, size.Y)
	}
	kind := d.kind()
	if v.cutLeaves {
		kind = cutLeaves
	}
	c := compose(d, kind, size, photos)
	if v.change != nil {
		v.change(c)
	}
	cv := f.f.shoot(&c.scene, d)
	s := d.sensor()
	img := s.develop(cv, d)
	// Calibration takes exposure and cast out again, but for a little; without a card nothing does.
	gain := rgb{1 / s.exposure[0], 1 / s.exposure[1], 1 / s.exposure[2]}
	if c.card != nil {
		e := d.about(1, 0.03)
		gain = rgb{gain[0] * e * d.about(1, 0.02), gain[1] * e, gain[2] * e * d.about(1, 0.02)}
	} else {
		gain = rgb{1, 1, 1}
	}
	o := Sample{Photo: img, Card: c.card, Tags: c.tags, Gain: gain}
	if c.card != nil {
		o.SpreadPx = 2.563 * float64(sqrt(s.psf*s.psf+0.1))
	}
	o.finish(cv.class)
	return o
}

// finish makes view and label of the photo, whose pixels have these classes.
func (s *Sample) finish(class []uint8) {
	var table [3][256]uint8
	for k := range 3 {
		for i := range 256 {
			v := float64(s.Gain[k]) * colour.LinearOf8[i]
			table[k][i] = uint8(255*colour.Encode(min(1, v)) + 0.5)
		}
	}
	correct := func(row []uint8) {
		for i := 0; i < len(row); i += 3 {
			row[i], row[i+1], row[i+2] = table[2][row[i]], table[1][row[i+1]], table[0][row[i+2]]
		}
	}
	photo := regions.Photo{Img: s.Photo, Small: s.Photo, Correct: correct, SpreadPx: s.SpreadPx, Card: s.Card, Tags: s.Tags}
	s.View = photo.View()
	w, h := 2*s.View.W, 2*s.View.H
	s.Label = make([]uint8, w*h)
	for y := range h {
		row := class[(10*y+5)/8*s.Photo.W:]
		for x := range w { // the photo's pixel at the middle
			s.Label[y*w+x] = row[(10*x+5)/8]
		}
	}
}

// Film is memory for drawing one sample after another.
type Film struct{ f film }
