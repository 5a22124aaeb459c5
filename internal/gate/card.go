package gate

import (
	"fmt"

	"phototrack/internal/record"
)

var patchesNeeded = fmt.Sprintf("%d of %d patches needed", MinPatches, cardPatches)

// cardRows are the rows of the card and the tag.
var cardRows = []Gate{
	{
		Code: NoCard, Name: "no card", Status: record.Rejected,
		Sentence: "No scale card was found in the photo.",
		Hint:     "Stand the card beside the plant, face to the camera, all of it in the frame.",
		Limit:    "0 markers seen",
		Why:      "Without the card there is neither scale nor colour.",
	},
	{
		Code: FewMarkers, Name: "card mostly hidden", Status: record.Rejected,
		Sentence: "Too little of the scale card can be seen.",
		Hint:     "Keep the whole card in the frame with nothing in front of it.",
		Limit:    fmt.Sprintf("%d of %d markers needed", MinMarkers, cardMarkers),
		Why:      "One marker gives a scale but no check on it.",
	},
	{
		Code: SomeMarkers, Name: "card partly hidden", Status: record.Flagged,
		Sentence: "Part of the scale card is hidden.",
		Hint:     "Move leaves and fingers off the card: all six black squares should show.",
		Limit:    fmt.Sprintf("under %d of %d markers", WarnMarkers, cardMarkers),
		Why:      "Scale and tilt from fewer markers, or from one row of them, are less sure; the uncertainty is widened.",
	},
	{
		Code: CardCovered, Name: "leaf over the card", Status: record.Flagged,
		Sentence: "Something lies over the scale card.",
		Hint:     "Move leaves off the card.",
		Limit:    "a marker and patches hidden",
		Why:      "What lies over the card is cut out of the leaf with the card.",
	},
	{
		Code: CardHidden, Name: "card hidden", Status: record.Rejected,
		Sentence: "Too much of the scale card is hidden to correct the colours by it.",
		Hint:     "Move leaves, fingers and shadows off the card: all of it should show.",
		Limit:    patchesNeeded,
		Why:      "A correction from a few patches says nothing about the colours between them.",
	},
	{
		Code: CardSmall, Name: "card too small", Status: record.Rejected,
		Sentence: "The card is too small in the photo.",
		Hint:     "Go closer, until plant and card fill the frame.",
		Limit:    fmt.Sprintf("%.1f px per mm", MinScalePxPerMM),
		Why:      "Below this a marker cell is under 5 px and cannot be placed well.",
	},
	{
		Code: Oblique, Name: "too oblique", Status: record.Rejected,
		Sentence: "The card is seen at too steep an angle.",
		Hint:     "Hold the camera square to the card.",
		Limit:    fmt.Sprintf("%.0f degrees", MaxTiltDeg),
		Why:      "At 45 degrees a leaf that tips by 10 degrees changes its seen area by a sixth.",
	},
	{
		Code: Tilted, Name: "tilted", Status: record.Flagged,
		Sentence: "The card is seen at a steep angle.",
		Hint:     "Hold the camera more square to the card.",
		Limit:    fmt.Sprintf("%.0f degrees", WarnTiltDeg),
		Why:      "Depth and slope errors grow with the tangent of the angle.",
	},
	{
		Code: Blurred, Name: "blurred", Status: record.Rejected,
		Sentence: "The photo is not sharp at the card.",
		Hint:     "Hold still or rest the camera, tap on the card to focus, and shoot again.",
		Limit:    fmt.Sprintf("edge spread %.1f mm at the card, at least %.1f px; of leaves %.1f mm where that is under %.1f px", MaxEdgeSpreadMM, FloorEdgeSpreadPx, UnsharpEdgeMM, UnsharpEdgePx),
		Why:      "An edge that is a millimetre wide moves the outline of a leaf by a good part of that. Where its pixels are few, the photo is small rather than unsharp: leaves are then measured, with the outline's doubt, and flagged; roots are hardly wider than such an edge.",
	},
	{
		Code: Soft, Name: "a little soft", Status: record.Flagged,
		Sentence: "The photo is a little soft at the card.",
		Hint:     "Tap on the card to focus.",
		Limit:    fmt.Sprintf("edge spread %.1f mm at the card", WarnEdgeSpreadMM),
		Why:      "The outline is less sure; the uncertainty is widened.",
	},
	{
		Code: Clipped, Name: "overexposed", Status: record.Flagged, NotCounted: true,
		Sentence: "The photo is overexposed: light patches of the card are washed out.",
		Hint:     "Tap on the white of the card to set the exposure, or make the photo darker.",
		Limit:    fmt.Sprintf("more than %d of %d patches", WarnClippedPatches, cardPatches),
		Why:      "Where the camera is at its limit, colour and edges are lost.",
	},
	{
		Code: ClippedHard, Name: "badly overexposed", Status: record.Rejected,
		Sentence: "The photo is badly overexposed.",
		Hint:     "Tap on the white of the card to set the exposure, and shoot again.",
		Limit:    fmt.Sprintf("more than %d of %d patches", MaxClippedPatches, cardPatches),
		Why:      "Too few patches are left to correct the colours.",
	},
	{
		Code: Dark, Name: "too dark", Status: record.Rejected,
		Sentence: "The photo is too dark.",
		Hint:     "Give more light, or let the camera expose longer with the camera at rest.",
		Limit:    fmt.Sprintf("card white under %d of 255", MinWhite),
		Why:      "Noise and rounding rule the dark end.",
	},
	{
		Code: ColourCast, Name: "colours uncertain", Status: record.Flagged,
		Sentence: "The colours of the card could not be brought back well.",
		Hint:     "Use one kind of light: daylight or lamps, not both.",
		Limit:    fmt.Sprintf("CIEDE2000 median over %.0f", WarnColourMedian),
		Why:      "Mixed light colours different parts of the photo differently; shares of colour classes are then not to be trusted.",
	},
	{
		Code: ColourLost, Name: "colours lost", Status: record.Rejected,
		Sentence: "The colours of the card cannot be brought back.",
		Hint:     "Use one kind of light, no coloured lamp, no flash on the card.",
		Limit:    fmt.Sprintf("CIEDE2000 median over %.0f", MaxColourMedian),
		Why:      "Beyond this a green leaf may be called yellow.",
	},
	{
		Code: CardColours, Name: "card's colours not known", Status: record.Flagged, NotCounted: true,
		Sentence: "The file that cards.csv names for this card's colours could not be used; the colours of the drawing were taken instead.",
		Hint:     "Check the file and its name in cards.csv: a CGATS.17 list of readings, a photo of the card, or a photo of the old card on the left and the new one on the right.",
		Limit:    patchesNeeded,
		Why:      "Numbers that rest on other colours than the plant's other photos would look like a change.",
	},
	{
		Code: Gradient, Name: "uneven light", Status: record.Flagged,
		Sentence: "The light falls off strongly over the card.",
		Hint:     "Move away from the lamp, or turn so that light falls evenly.",
		Limit:    fmt.Sprintf("%.0f %% over 100 mm", 100*MaxGradientPer100MM),
		Why:      "The plant is not lit as the card is.",
	},
	{
		Code: BentCard, Name: "card not flat", Status: record.Flagged,
		Sentence: "The card seems to be bent.",
		Hint:     "Glue the card on stiff board.",
		Limit:    fmt.Sprintf("%.1f mm off its plane", WarnBendMM),
		Why:      "A bent card has no one scale.",
	},
	{
		Code: TwoCards, Name: "two cards", Status: record.Rejected,
		Sentence: "Two scale cards are in the photo.",
		Hint:     "Leave one card in the frame, and shoot again.",
		Limit:    "1 card",
		Why:      "Only one card can lie in the plane of the leaves, and which one cannot be told: the wrong one gives an area more than twice too large.",
	},
	{
		Code: NoTag, Name: "no tag", Status: record.Rejected,
		Sentence: "No plant tag was found.",
		Hint:     "Put the plant's numbered tag beside it, face to the camera; or say the number on the desk page.",
		Limit:    "-",
		Why:      "A number guessed from the order of photos would poison a series.",
	},
	{
		Code: TwoTags, Name: "two tags", Status: record.Rejected,
		Sentence: "More than one plant tag is in the photo.",
		Hint:     "Leave only the tag of the plant that is measured.",
		Limit:    "1 tag",
		Why:      "Which plant it is cannot be told.",
	},
	{
		Code: UnknownTag, Name: "tag not in the list", Status: record.Flagged,
		Sentence: "The tag's number is not in plants.csv.",
		Hint:     "Add a line for it to plants.csv, or check the tag.",
		Limit:    "-",
		Why:      "The photo is measured and kept; it joins the series when the plant is listed.",
	},
}
