// Package part measures lines that a grower draws on a photo along or across a part of a plant: length, width, bend and
// angle, each with its budget.
//
// Measure is the place to begin. A line's points are taken from the photo to the surface that the part lies on (the card's
// plane, or a clear pot's wall rolled flat), where lengths are true. Along a part the points are drawn to the middle between
// its edges, across it to the edges: profiles of linear light are taken square to the line, the edges chosen so that they go
// together all along it, and each placed where the light is half way between inside and outside (in linear light a blurred
// edge keeps its half level where it was). What finds no edge stays as it was drawn, and carries the uncertainty of a hand.
package part

import (
	"errors"

	"phototrack/internal/geom"
	"phototrack/internal/raster"
	"phototrack/internal/record"
)

// Input is a calibrated photo.
type Input struct {
	Img     raster.BGR
	Surface Surface // what the line lies on

	EdgeSpreadPx float64   // 10 to 90 % width of sharp edges in this photo
	DistanceMM   float64   // camera to the card
	Eye          geom.Vec3 // the camera's place in the card's frame; not used on a wall
	OnWall       bool      // the line lies on a pot's wall: it cannot lean out of it

	// RelU is the relative standard uncertainty of a length at a place of the card's plane by scale and pose; PrintRelU that of
	// the card's print.
	RelU      func(geom.MM) float64
	PrintRelU float64

	Card []geom.PX   // outlines in which a line cannot lie
	Tags [][]geom.PX //
}

// Line is what was drawn.
type Line struct {
	Points                     []geom.PX // as drawn, in order; the first is the foot
	NoSnap                     bool      // take the points as they are
	Zoom                       float64   // screen pixels per photo pixel when it was drawn; 0: the whole photo on a usual screen
	Length, Width, Bend, Angle bool      // what to measure
}

// Settings are what the grower declares.
type Settings struct {
	DepthMM     float64 // half-width: the part before or behind the card's plane, the same in all photos
	DepthShotMM float64 // half-width: what of that varies from shot to shot
	SlopeDeg    float64 // half-width: the part leans out of the card's plane
	CardUpDeg   float64 // half-width: the card stands out of upright
}

// DefaultSettings are those of a new collection.
func DefaultSettings() Settings {
	return Settings{DepthMM: 15, DepthShotMM: 5, SlopeDeg: 10, CardUpDeg: 3}
}

// Result is what a line came to. The quantities name no part: the caller does.
type Result struct {
	Quantities []record.Quantity
	Curve      []geom.PX    // the line as it was measured along, for drawing; of a width alone from edge to edge
	Edges      [2][]geom.PX // the part's edges beside the line, where found
	FoundShare float64      // of the line, where edges were found; of a width 0, 0.5 or 1
	WidthMM    float64      // median width between the edges found along the line, 0 where none was
}

// Errors of Measure. Each is a sentence for the grower.
var (
	ErrOnePoint   = errors.New("it has one point only; a line needs two or more")
	ErrOutside    = errors.New("it leaves the photo")
	ErrOnCard     = errors.New("it lies on the card")
	ErrOnTag      = errors.New("it lies on the plant's tag")
	ErrOffWall    = errors.New("it leaves the part of the pot's wall that faces the camera")
	ErrNothing    = errors.New("nothing is to be measured along it")
	ErrNoDistance = errors.New("the photo has no scale")
)
