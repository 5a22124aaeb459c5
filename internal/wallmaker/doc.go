// Package wallmaker draws walls of clear pots for training: what a photo shows of a pot's wall, as the measuring code
// resamples it about the pot's axis, with the class of every pixel. It draws media, roots, what looks like roots and is
// none, what sits on the wall, light and camera, as varied as growers' pots are. No part of the program uses it; it needs
// nothing but Go, so that a static binary runs on any machine.
package wallmaker

// Class codes of a pixel.
const (
	Medium  = 0   // bark, moss, clay, perlite, stones, twigs, empty space
	Root    = 1   // living root at the wall, of any colour
	Tip     = 2   // its growing tip
	Old     = 3   // brown or dry root
	Hidden  = 4   // what hides the wall: label, thick film, mist, glare
	OnWall  = 5   // the wall itself: scratch, seam, rim of a hole, print
	Nothing = 255 // not seen: outside the photo or the wall, behind the card
)

// Classes is the number of classes, Nothing apart.
const Classes = 6

// PxPerMM is the scale of a drawn sample.
const PxPerMM = 4.0

const fine = 5.0 // px per mm of the canvas that is drawn on
