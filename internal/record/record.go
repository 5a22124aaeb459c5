// Package record holds the plain values that cross the borders of the other packages: what a photo's measurement
// is, what a session of replicates is, and what is said about change. It has no behaviour beyond small helpers, so
// that the measuring side (OpenCV) and the telling side (statistics, reports) never import each other.
//
// Units are part of every name: mm, mm2, deg, px. Shares run from 0 to 1.
package record

import "time"

// View says what a photo measures: the side of the card that faces the camera decides.
type View string

// The two views. Side L of the card measures leaves, side R roots through the wall of a clear pot.
const (
	Leaf View = "leaf"
	Root View = "root"
)

// Status is the outcome of a photo.
type Status string

// The three outcomes. A flagged photo has numbers and a reason to look at them with care.
const (
	Accepted Status = "accepted"
	Flagged  Status = "flagged"
	Rejected Status = "rejected"
)

// Stamp is the moment a photo was taken, as the camera's clock said it.
type Stamp struct {
	Time      time.Time `json:"time"`       // local time; its zone is the camera's where HasOffset, else UTC by convention
	HasOffset bool      `json:"has_offset"` // the zone was recorded in the photo
	Source    string    `json:"source"`     // exif | name | folder | given; "" where there is no date
}

// IsZero says that no date is known.
func (s Stamp) IsZero() bool { return s.Source == "" || s.Time.IsZero() }

// FromOutside says that neither the photo nor its name holds the date: it was given on the command line, or is the folder's.
func (s Stamp) FromOutside() bool { return s.Source == "given" || s.Source == "folder" }

// Day is the local calendar day, YYYY-MM-DD, or "" where no date is known.
func (s Stamp) Day() string {
	if s.IsZero() {
		return ""
	}
	return s.Time.Format(time.DateOnly)
}

// String is the local date and time, ISO 8601, with the offset where it is known.
func (s Stamp) String() string {
	switch {
	case s.IsZero():
		return ""
	case s.HasOffset:
		return s.Time.Format(time.RFC3339)
	default:
		return s.Time.Format("2006-01-02T15:04:05")
	}
}

// Shape is the distribution of an uncertainty term.
type Shape string

// Shapes of terms. A rectangular term's standard uncertainty is its half-width over the square root of 3 (GUM 4.3.7).
const (
	Normal      Shape = "normal"
	Rectangular Shape = "rectangular"
)

// Term is one line of an uncertainty budget.
type Term struct {
	Name   string  `json:"name"`             // scale fit, print, depth common, depth shot, leaf slope, mask edge, colour fit, ...
	U      float64 `json:"u"`                // standard uncertainty, in the unit of the value
	Shape  Shape   `json:"shape"`            // normal | rectangular
	Common bool    `json:"common,omitempty"` // the same for all photos of a plant: cancels in a change
}

// Quantity is a measured value with its uncertainty.
type Quantity struct {
	Name  QuantityName `json:"name"`
	Part  string       `json:"part,omitempty"` // the part of the plant that it is of, "" for the whole plant
	Unit  string       `json:"unit"`           // mm2, mm, 1, deg, px_per_mm, CIEDE2000
	Value float64      `json:"value"`
	U95   float64      `json:"u95"` // half-width of the 95 % interval of the combined terms
	Terms []Term       `json:"terms,omitempty"`
}

// GateCode is the short, stable name of a quality gate; package gate has them all.
type GateCode string

// Reason is why a photo was flagged or rejected. Code is a row of the table of gates; Detail holds the figures.
type Reason struct {
	Code   GateCode `json:"code"`
	Detail string   `json:"detail,omitempty"`
}

// Point is a position in the displayed photo, px, pixel centres at whole numbers.
type Point struct {
	X float64 `json:"x"`
	Y float64 `json:"y"`
}

// Outline is a closed or open line drawn on the photo to show what was measured.
type Outline struct {
	Kind   string  `json:"kind"`           // leaf | hole | root | tip | pot | card | tag | seen_limit | discoloured_<class> | unsure | unsure_hole | part | part_across
	Part   string  `json:"part,omitempty"` // the part that a line was drawn along or across
	Closed bool    `json:"closed"`
	Points []Point `json:"points"`
}

// Calibration is the part of a photo's calibration that is stored and shown.
type Calibration struct {
	MarkersSeen     int       `json:"markers_seen"` // of 6
	ScalePxPerMM    float64   `json:"scale_px_per_mm"`
	TiltDeg         float64   `json:"tilt_deg"`
	DistanceMM      float64   `json:"distance_mm"`
	ResidualPx      float64   `json:"residual_px"` // rms of the corners about the fitted homography
	EdgeSpreadPx    float64   `json:"edge_spread_px"`
	FocalPx         float64   `json:"focal_px"`
	FocalSource     string    `json:"focal_source"` // exif 35 mm | card | default
	ColourModel     string    `json:"colour_model"`
	ColourMode      string    `json:"colour_mode"`   // nominal | own card
	ColourMedian    float64   `json:"colour_median"` // CIEDE2000, leave-one-out
	ColourWorst     float64   `json:"colour_worst"`
	GradientPer100  float64   `json:"gradient_per_100mm"` // relative change of light over 100 mm of card
	ClippedPatches  int       `json:"clipped_patches"`
	CardToPx        []float64 `json:"card_to_px,omitempty"` // 3x3 homography, row by row: card mm -> photo px
	RotationCardCam []float64 `json:"rotation,omitempty"`   // 3x3, card frame to camera frame
	TranslationMM   []float64 `json:"translation_mm,omitempty"`
}

// Photo is everything known of one photo after it was looked at. It is what a worker returns and what the store keeps.
type Photo struct {
	Name        string            `json:"name"` // base name as the grower knows it
	Path        string            `json:"path"` // where it was read
	SHA256      string            `json:"sha256"`
	Bytes       int64             `json:"bytes"`
	WidthPx     int               `json:"width_px"` // as displayed
	HeightPx    int               `json:"height_px"`
	Taken       Stamp             `json:"taken"`
	Camera      string            `json:"camera,omitempty"`
	Plant       int               `json:"plant"` // 0: not read
	View        View              `json:"view"`  // "" : no card
	Status      Status            `json:"status"`
	Reasons     []Reason          `json:"reasons,omitempty"`
	Quantities  []Quantity        `json:"quantities,omitempty"`
	Calibration *Calibration      `json:"calibration,omitempty"`
	Outlines    []Outline         `json:"outlines,omitempty"`
	Notes       []string          `json:"notes,omitempty"`      // plain sentences for the reader: pot size found, model chosen, ...
	Pictures    map[string][]byte `json:"pictures,omitempty"`   // JPEG: plain, overlay, wall, wall_overlay
	Extra       map[string]string `json:"extra,omitempty"`      // small texts: pot size used, thirds of discoloration, ...
	SettingsKey string            `json:"settings_key"`         // content hash of all inputs other than the photo's bytes
	WallRoots   [][]Point         `json:"wall_roots,omitempty"` // root centrelines on the unrolled wall, mm: x along the wall, y down from the rim
}

// Keys of Photo.Extra that several packages read.
const (
	ExtraAreas = "areas" // kinds of areas drawn by hand that changed what was counted: "keep", "leave_out", "keep leave_out"
	ExtraFoot  = "foot"  // "x,y" in px of the photo: the foot of the plant as it is without such areas
)

// Find returns the quantity of the whole plant with that name, and whether the photo has it.
func (p *Photo) Find(name QuantityName) (Quantity, bool) { return p.FindPart(name, "") }

// FindPart returns the quantity of a part of the plant with that name, and whether the photo has it.
func (p *Photo) FindPart(name QuantityName, part string) (Quantity, bool) {
	for _, q := range p.Quantities {
		if q.Name == name && q.Part == part {
			return q, true
		}
	}
	return Quantity{}, false
}

// HasReason says whether the photo carries the reason code.
func (p *Photo) HasReason(code GateCode) bool {
	for _, r := range p.Reasons {
		if r.Code == code {
			return true
		}
	}
	return false
}
