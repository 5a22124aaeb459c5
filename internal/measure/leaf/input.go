package leaf

import (
	"phototrack/internal/geom"
	"phototrack/internal/raster"
	"phototrack/internal/record"
	"phototrack/internal/regions"
)

// Colour turns 8-bit camera values into corrected linear sRGB (0..1 for white paper; values outside are allowed).
// A channel is first put through its tone curve, then the three are mixed: by a 3x3 matrix, or with the three root
// terms of degree 2 (Finlayson, Mackiewicz & Hurlbert 2015) behind the first three columns.
type Colour struct {
	Tone [3][256]float32 // red, green, blue: 8-bit value to linear light
	Mix  [3][6]float32   // rows red, green, blue; columns r, g, b, sqrt(rg), sqrt(gb), sqrt(br)
	Root bool            // the last three columns of Mix are used
}

// Linear corrects one colour.
func (c *Colour) Linear(r8, g8, b8 uint8) (r, g, b float32) {
	return c.mix(c.Tone[0][r8], c.Tone[1][g8], c.Tone[2][b8])
}

func (c *Colour) mix(x, y, z float32) (r, g, b float32) {
	m := &c.Mix
	r = m[0][0]*x + m[0][1]*y + m[0][2]*z
	g = m[1][0]*x + m[1][1]*y + m[1][2]*z
	b = m[2][0]*x + m[2][1]*y + m[2][2]*z
	if c.Root {
		p, q, s := sqrt32(x*y), sqrt32(y*z), sqrt32(z*x)
		r += m[0][3]*p + m[0][4]*q + m[0][5]*s
		g += m[1][3]*p + m[1][4]*q + m[1][5]*s
		b += m[2][3]*p + m[2][4]*q + m[2][5]*s
	}
	return
}

// Mark is a polygon the grower drew on the photo: what lies inside is kept as leaf, or left out.
type Mark struct {
	Keep   bool // false: leave out
	Points []record.Point
}

// Input is a calibrated photo of the leaves.
type Input struct {
	Img          raster.BGR      // as displayed
	CardToPx     geom.Homography // measured plane (mm of the card's frame) to photo px; the declared offset is in it
	DistanceMM   float64         // camera to the card's centre
	ScalePxPerMM float64         // at the card
	EdgeSpreadPx float64         // 10 to 90 % edge width at the markers; 0 where it is not known
	Eye          [3]float64      // the camera's place in the card's frame, mm; z is negative
	Colour       Colour
	// Relative standard uncertainties: of an area by the scale fit, and of the card's print (per length).
	AreaRelU, PrintRelU float64
	// Standard uncertainties of corrected leaf colours by the colour fit.
	LU, AU, BU, HueDegU float64
	// Card is the outline of the card with its margin, Tags those of the tags, in photo px. They are no leaf.
	Card        []record.Point
	Tags        [][]record.Point
	Marks       []Mark
	Net         regions.Seer // tells leaf from everything else
	WantRegions bool         // Result.Regions is wanted
}

// Settings are what the grower can tune.
type Settings struct {
	DepthCommonMM float64 // half-width: leaves before or behind the measured plane, the same in all photos of a plant
	DepthShotMM   float64 // half-width: what varies from shot to shot
	SlopeDeg      float64 // half-width: leaves slope out of the plane
	MinSpeckMM2   float64 // smaller pieces are left out
	MinHoleMM2    float64 // smaller holes are filled
	Classes       ClassTable
}

// DefaultSettings are those of a new collection.
func DefaultSettings() Settings {
	return Settings{DepthCommonMM: 8, DepthShotMM: 5, SlopeDeg: 10, MinSpeckMM2: 25, MinHoleMM2: 4, Classes: DefaultClasses()}
}
