package gate

import (
	"fmt"

	"phototrack/internal/record"
)

// plantRows are the rows of the leaves and of what could be leaf or root.
var plantRows = []Gate{
	{
		Code: NoPlant, Name: "no plant found", Status: record.Rejected,
		Sentence: "Nothing that looks like leaves was found.",
		Hint:     "Use a plain backdrop that is not green; check that the leaves are in the frame.",
		Limit:    fmt.Sprintf("%.0f cm2 of leaf", MinLeafMM2/100),
		Why:      "Less than that is a speck.",
	},
	{
		Code: CutOff, Name: "plant cut off", Status: record.Flagged,
		Sentence: "Leaves touch the edge of the photo.",
		Hint:     "Step back until all leaves are in the frame.",
		Limit:    fmt.Sprintf("%.0f %% of the outline", 100*MaxFrameShare),
		Why:      "What is outside the frame is not measured.",
	},
	{
		Code: Unsure, Name: "partly unsure", Status: record.Flagged,
		Sentence: "The program is not sure what some places of the photo are: leaf or root of this plant, or something else.",
		Hint:     "Look at the outlined places on the desk and say leaf or not leaf, root or not root; a plain backdrop and more distance to other plants help.",
		Limit:    fmt.Sprintf("%.0f %% of the leaf area or of the root length", 100*WarnDoubtShare),
		Why:      "What may have been judged wrongly is in the interval; a look settles it.",
	},
	{
		Code: TooUnsure, Name: "too unsure", Status: record.Flagged, NotCounted: true,
		Sentence: "The program cannot tell this plant's leaves or roots from what is around them.",
		Hint:     "Look at the outlined places on the desk and say leaf or not leaf, root or not root, or photograph again: leaves before a plain backdrop, roots through a wiped wall.",
		Limit:    fmt.Sprintf("%.0f %% of the leaf area or of the root length", 100*MaxDoubtShare),
		Why:      "So much doubt is no measurement; the numbers count once the places are decided.",
	},
}

// handRows are the rows of what the grower decided.
var handRows = []Gate{
	{
		Code: Excluded, Name: "left out by hand", Status: record.Flagged, NotCounted: true,
		Sentence: "The photo was left out by hand.",
		Hint:     "Include it again on the desk page if that was a slip.",
		Limit:    "-",
		Why:      "The grower's word counts.",
	},
}
