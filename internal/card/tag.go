package card

// The plant tag: one marker whose id is the plant's number, and the number in figures below it.
const (
	TagWidthMM  = 28.0
	TagHeightMM = 38.0
	// TagMarkerMM is the outer width of the tag's marker; one cell is 2.5.
	TagMarkerMM = 20.0
	// TagMarkerXMM and TagMarkerYMM place the marker's top-left corner in the tag's own frame.
	TagMarkerXMM = 4.0
	TagMarkerYMM = 4.0
	// MinPlant and MaxPlant bound a plant's number: id 0 is left out because it reads like "no
	// number", and the ids above MaxPlant belong to the card.
	MinPlant = 1
	MaxPlant = FirstLeafID - 1
)

// TagMarkerCornersMM gives the corners of the tag's marker in the tag's own frame, {x, y} each, in the
// order top left, top right, bottom right, bottom left.
func TagMarkerCornersMM() [4][2]float64 {
	return squareCorners(MM{TagMarkerXMM, TagMarkerYMM}, TagMarkerMM)
}

// IsPlant reports whether a marker id is a plant's number.
func IsPlant(id int) bool { return id >= MinPlant && id <= MaxPlant }
