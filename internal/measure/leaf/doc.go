// Package leaf measures the leaves in a calibrated photo, in stages that only move forward:
//
//	see.go      photo -> what the network is shown -> probability of leaf (packages regions and leafnet)
//	closer.go   close-ups where leaves are thin: gaps and margins that the whole photo does not show; mosaic.go puts them together
//	across.go   stakes, wires and stems before leaves: strip.go follows them from row to row, acrossjudge.go tells which are no leaf
//	through.go  holes: places within leaves through which the ground is seen (hues.go has the colours that this rests on)
//	doubt.go    where the network may be wrong, and how much area hangs on it
//	refine.go   the outline, to a fraction of a pixel, by the colours on its two sides
//	            (sides.go gathers them, split.go decides by them)
//	palette.go, paint.go, settle.go, tally.go   the colours, the class of each pixel's, where borders between classes lie, areas
//	where.go, colours.go   where discoloured tissue is, and the distribution of the colours
//	budget.go   the uncertainty of each number; gates.go what is said about the photo
//
// Marks that the grower drew outrank what the network says (marks.go).
package leaf
