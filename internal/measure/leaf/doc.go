// Package leaf measures the leaves of a plant in a calibrated photo: which pixels are leaf tissue, how large the leaves
// are in the plane of the scale card, which colours they have, and where on the plant the discoloured parts are.
//
// The work is done on three scales. Regions are found on a reduced picture (about 1000 px on its long side), where
// noise is averaged away and every pixel's CIELAB colour is cheap. The outline is then placed on a finer picture by
// comparing each pixel near it, in linear light, with the leaf just inside and the ground just outside; colour classes
// are told at the finer scale too, and only inside the leaves.
package leaf
