package gate

import (
	"fmt"

	"phototrack/internal/record"
)

// potRows are the rows of the pot, its wall and the roots behind it.
var potRows = []Gate{
	{
		Code: NoPot, Name: "pot not found", Status: record.Rejected,
		Sentence: "The clear pot was not found in the photo.",
		Hint:     "Stand the card beside the pot, level with its middle; fill in the pot's sizes in plants.csv.",
		Limit:    "wall edges unseen",
		Why:      "Lengths on a round wall need the wall.",
	},
	{
		Code: PotGuess, Name: "pot size estimated", Status: record.Flagged,
		Sentence: "The pot's size is not in plants.csv; it was estimated from the photo.",
		Hint:     "Measure the pot's inside diameters at rim and base and its height once.",
		Limit:    "-",
		Why:      "An estimated radius widens the uncertainty of lengths.",
	},
	{
		Code: PotShape, Name: "pot not round", Status: record.Flagged, NotCounted: true,
		Sentence: "The pot does not look round: its foot or rim runs otherwise than that of a round pot.",
		Hint:     "Root lengths are measured on the wall of a round pot. If this one is round, write its inside diameters at rim and base and its height into plants.csv (pot_top_mm, pot_bottom_mm, pot_height_mm) and shoot again with rim and foot free; of an oval or square pot take leaf photos only.",
		Limit:    "another depth fits rim and foot better by a fifth",
		Why:      "On a flat or oval wall a picture's millimetre is another length in space than on a round one.",
	},
	{
		Code: WallHidden, Name: "wall hidden", Status: record.Flagged,
		Sentence: "Part of the pot's wall is hidden: by mist, a reflection, or what was left out.",
		Hint:     "Wipe the wall, move away from the window's reflection, and shoot again.",
		Limit:    fmt.Sprintf("under %.0f %% of the wall seen; where no root is plain, under %.0f %%, or lightness that varies by less than %.1f L*", 100*WarnSeenShare, 100*WarnBareSeenShare, WarnContrastL),
		Why:      "Roots behind glare or mist are not counted and not guessed.",
	},
	{
		Code: WallBlind, Name: "wall not seen", Status: record.Rejected,
		Sentence: "Nearly all of the pot's wall is hidden.",
		Hint:     "Wipe the wall, take labels off the side that faces the camera, move away from reflections, and shoot again.",
		Limit:    fmt.Sprintf("under %.0f %% of the wall seen", 100*MinSeenShare),
		Why:      "A length from a few strips of wall says nothing of the pot.",
	},
	{
		Code: PotOpaque, Name: "pot not clear", Status: record.Rejected,
		Sentence: "The pot's wall shows one plain colour, or paper all round: no roots can be seen through it.",
		Hint:     "Only roots behind a clear wall are measured; leave root photos of this plant out, or put it in a clear pot.",
		Limit:    fmt.Sprintf("lightness varies by less than %.1f L*, or %.0f %% of the wall has no light and shade", MinContrastL, 100*MaxCalmShare),
		Why:      "Behind a clear wall medium and roots have light and shade.",
	},
	{
		Code: PotCut, Name: "pot cut off", Status: record.Flagged,
		Sentence: "Part of the pot's wall lies outside the photo.",
		Hint:     "Step back until rim, base and both sides of the pot are in the frame.",
		Limit:    fmt.Sprintf("%.0f %% of the wall", 100*MaxCutShare),
		Why:      "What is outside the frame is not measured.",
	},
	{
		Code: Water, Name: "water in the pot", Status: record.Flagged,
		Sentence: "A level line runs round the wall with darker wall under it, as where water stands.",
		Hint:     "Let the water run off before the photo; if it is a ring of the pot, it can stay.",
		Limit:    fmt.Sprintf("a line across %.0f %% of the wall", 100*MinWaterLineShare),
		Why:      "Under water roots look darker and nearer than they are.",
	},
	{
		Code: RootCheck, Name: "root lengths disagree", Status: record.Flagged,
		Sentence: "Two ways to measure root length disagree.",
		Hint:     "Look at the overlay: something that is no root may have been taken for one.",
		Limit:    "both intervals together",
		Why:      "A mask that is not made of tubes gives different answers by skeleton and by line count.",
	},
}
