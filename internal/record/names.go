package record

// QuantityName is what a value is of: as it stands in the exports and in the store. Package quantity knows its words and unit.
type QuantityName string

// Quantities of leaves.
const (
	LeafArea              QuantityName = "leaf_area"
	GreenShare            QuantityName = "green_share"
	YellowShare           QuantityName = "yellow_share"
	PurpleShare           QuantityName = "purple_share"
	BrownShare            QuantityName = "brown_share"
	UnjudgedShare         QuantityName = "unjudged_share"
	OuterDiscolouredShare QuantityName = "outer_discoloured_share"
	InnerDiscolouredShare QuantityName = "inner_discoloured_share"
	LeafHue               QuantityName = "leaf_hue"
	LeafLightness         QuantityName = "leaf_L"
	LeafA                 QuantityName = "leaf_a"
	LeafB                 QuantityName = "leaf_b"
	LeafChroma            QuantityName = "leaf_chroma"
	GreenIndex            QuantityName = "green_index"
	ExcessGreen           QuantityName = "excess_green"
	ColourChange          QuantityName = "colour_change"
)

// Quantities of the roots behind a clear wall.
const (
	RootLength     QuantityName = "root_length"
	RootOld        QuantityName = "root_old"
	RootLongest    QuantityName = "root_longest"
	RootTips       QuantityName = "root_tips"
	RootTipsGreen  QuantityName = "root_tips_green"
	RootDiameter   QuantityName = "root_diameter"
	RootIntersect  QuantityName = "root_intersect"
	RootNew        QuantityName = "root_new"
	RootGone       QuantityName = "root_gone"
	WallCoverShare QuantityName = "wall_cover_share"
	WallSeenShare  QuantityName = "wall_seen_share"
)

// Quantities of parts.
const (
	PartLength QuantityName = "part_length"
	PartWidth  QuantityName = "part_width"
	PartBend   QuantityName = "part_bend"
	PartAngle  QuantityName = "part_angle"
	CountOf    QuantityName = "count"
)

// Quantities of the photo itself.
const (
	CardScale      QuantityName = "scale"
	CardTilt       QuantityName = "tilt"
	CameraDistance QuantityName = "camera_distance"
	ColourError    QuantityName = "colour_error"
)

// IsOfPart says whether a quantity is one of a part's.
func IsOfPart(q QuantityName) bool {
	switch q {
	case PartLength, PartWidth, PartBend, PartAngle, CountOf:
		return true
	}
	return false
}
