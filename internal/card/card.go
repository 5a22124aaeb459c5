// Package card is the geometry of the scale card and of the plant tag, as data: where each marker,
// colour patch and ruler tick lies, what it is meant to look like, and where the card is bare paper.
// Everything that prints the card, finds it in a photo or draws it in a test reads it from here, so
// that the three cannot drift apart.
//
// Lengths are millimetres in the card's own frame: origin at the top-left trimmed corner of the card
// as it is read, x to the right, y down. Colours are nominal 8-bit sRGB (IEC 61966-2-1, D65). The
// package holds data and pure mathematics only: no files, no images.
package card

// WidthMM and HeightMM are the trimmed card's size: it fits A6 paper and a 4 x 6 inch photo print.
const (
	WidthMM  = 148.0
	HeightMM = 100.0
)

// A marker is a square of 8 x 8 cells: 6 x 6 data cells inside a black border one cell wide.
const (
	// MarkerMM is the outer width of a card marker, black edge to black edge.
	MarkerMM = 24.0
	// DataCells is the number of data cells along one edge of a marker.
	DataCells = 6
	// MarkerCells is the number of cells along one edge, the black border included.
	MarkerCells = DataCells + 2
	// MarkersPerSide is how many markers each side of the card carries.
	MarkersPerSide = 6
	// MarkerRowsSpanMM is the distance between the outer edges of the two marker rows, y = 5 to y = 95;
	// a steel rule laid there checks how the printer scaled the page down the card.
	MarkerRowsSpanMM = 90.0
)

// First marker id of each side; the six markers of a side follow row by row.
const (
	FirstLeafID = 575
	FirstRootID = 581
)

// MM is a point in the card's frame, or a size, in millimetres.
type MM struct{ X, Y float64 }

// RectMM is an upright rectangle in the card's frame, in millimetres.
type RectMM struct{ X, Y, W, H float64 }

// Side says which side of the card faces the camera, and so what a photo measures.
type Side string

const (
	// NoSide is the side of a marker that is not on the card.
	NoSide Side = ""
	// SideLeaf is side L: leaves, in the plane of the card.
	SideLeaf Side = "L"
	// SideRoot is side R: roots through the wall of a clear pot.
	SideRoot Side = "R"
)

// Sides lists both sides in print order.
func Sides() [2]Side { return [2]Side{SideLeaf, SideRoot} }

// FirstID is the id of the side's top-left marker, or -1 for a side that does not exist.
func (s Side) FirstID() int {
	switch s {
	case SideLeaf:
		return FirstLeafID
	case SideRoot:
		return FirstRootID
	}
	return -1
}

// markerTopLeftMM holds the top-left corners: top row, then bottom row, left to right.
var markerTopLeftMM = [MarkersPerSide]MM{{5, 5}, {62, 5}, {119, 5}, {5, 71}, {62, 71}, {119, 71}}

// MarkerIDs gives the side's six ids: top row, then bottom row, left to right. Nil if s is not a side.
func MarkerIDs(s Side) []int {
	first := s.FirstID()
	if first < 0 {
		return nil
	}
	ids := make([]int, MarkersPerSide)
	for k := range ids {
		ids[k] = first + k
	}
	return ids
}

// SideOf tells which side a marker id belongs to; NoSide if it is not a card marker.
func SideOf(id int) Side {
	for _, s := range Sides() {
		if first := s.FirstID(); id >= first && id < first+MarkersPerSide {
			return s
		}
	}
	return NoSide
}

// MarkerCornersMM gives the four outer corners of a card marker in mm, {x, y} each, in the order top
// left, top right, bottom right, bottom left, and the side the marker is on. ok is false, and the rest
// zero, if id is not a card marker.
func MarkerCornersMM(id int) (corners [4][2]float64, side Side, ok bool) {
	side = SideOf(id)
	if side == NoSide {
		return corners, NoSide, false
	}
	p := markerTopLeftMM[id-side.FirstID()]
	return squareCorners(p, MarkerMM), side, true
}

func squareCorners(p MM, side float64) [4][2]float64 {
	return [4][2]float64{{p.X, p.Y}, {p.X + side, p.Y}, {p.X + side, p.Y + side}, {p.X, p.Y + side}}
}

// TitleAreasMM are the two areas between the top markers that hold printed words. They are not
// measured, and nothing that is measured lies in them.
func TitleAreasMM() [2]RectMM {
	return [2]RectMM{{31, 5, 29, 24}, {88, 5, 29, 24}}
}
