package root

import (
	"errors"

	"phototrack/internal/raster"
	"phototrack/internal/record"
	"phototrack/internal/wall"
)

// Input is a calibrated photo of a clear pot.
type Input struct {
	Img       raster.BGR
	Camera    wall.Camera
	Lab       ToLab
	Pot       record.Pot       // zero where unknown: then it is found from the silhouette
	PotSource string           // where the size comes from: plants.csv, events.csv, ..., for the notes
	OffsetMM  float64          // the pot's axis lies this far in front of the card's plane (towards the camera)
	Blocked   [][]record.Point // outlines of card and tags, px: no wall is seen there
	Marks     []Mark           // what the grower drew
	Decisions []Decision       // what the grower said of single stretches

	ScaleRelU  float64 // relative standard uncertainty of lengths by the scale fit
	PrintRelU  float64 // and by the card's print
	DistanceMM float64 // camera to card; 0: taken from Camera
}

// Settings are what the grower can set.
type Settings struct {
	DepthCommonMM float64 // half-width: the pot's axis before or behind the card's plane, the same in all photos of a plant
	DepthShotMM   float64 // half-width: what varies from shot to shot
	Pictures      bool    // make the unrolled wall and its drawing
}

// DefaultSettings are those of a new collection.
func DefaultSettings() Settings { return Settings{DepthCommonMM: 8, DepthShotMM: 5, Pictures: true} }

// Result is what was measured on one photo.
type Result struct {
	Quantities []record.Quantity
	Roots      []Root           // longest first
	Tips       []Tip            // growing tips
	Outlines   []record.Outline // for drawing on the photo: pot, seen_limit, root, root_old, root_doubt, tip; px
	Doubtful   [][]record.Point // stretches in doubt on the unrolled wall, mm, taken for root or not
	DoubtShare float64          // of root_length
	Notes      []string         // plain sentences: pot size and where it came from, reflections, mist
	Wall       Wall             // the unrolled wall; empty without Settings.Pictures
	PotWall    wall.Frustum     // the pot's wall as it was found
	WallShown  raster.BGR       // the unrolled wall with the roots drawn on it, a legend and a scale bar
}

// Root is one root as it was seen.
type Root struct {
	LengthMM   float64 // within 60 degrees of azimuth, hidden stretches bridged
	SeenMM     float64 // of that, seen
	DiameterMM float64
	Likely     float64        // 0..1: how sure it is that this is a root
	Old        []bool         // for each point: an old, brown or dry root
	Sure       []float64      // for each point: how likely it is root
	Px         []record.Point // centreline in the photo
	Wall       []record.Point // centreline on the unrolled wall, mm: x along the wall from the camera's direction, y down from the rim
}

// Tip is a growing tip.
type Tip struct {
	Px     record.Point
	Wall   record.Point // mm on the unrolled wall
	Green  bool
	Likely float64 // 0..1
}

// Wall is what is kept of an unrolled wall: enough to show it and to compare it with another session's.
type Wall struct {
	Pic      raster.BGR // as photographed; black where nothing was seen
	PxPerMM  float64
	ZeroPx   float64 // column of the camera's direction
	Pot      record.Pot
	Roots    [][]record.Point // centrelines, mm, as in Root.Wall
	LengthMM []float64        // seen length of each
	Traits   []string         // of each, a sign a point: how sure it is (0..9), and whether old (a..j)
	SeenMM   float64          // root_length
	Veil     Veil             // what hides the wall
	Doubt    [][]record.Point // stretches in doubt, mm, to a tenth
	Faint    Veil             // where there may be root that was not traced
	NotSeenU float64          // mm: standard uncertainty of root_length by roots that are not seen
}

// Errors of Measure.
var (
	ErrNoPhoto = errors.New("no photo to measure")
	ErrNoPot   = errors.New("pot not found")
)
