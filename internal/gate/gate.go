// Package gate is the one table of quality gates: what can be wrong with a photo, in plain words, what to do about
// it, where the limit lies and why. The check command, the run, the report and the desk all speak from this table.
package gate

import (
	"fmt"
	"sort"
	"strings"

	"phototrack/internal/record"
)

// Gate is one row of the table.
type Gate struct {
	Code       string        // short and stable: it stands in measurements.csv
	Name       string        // a few words
	Sentence   string        // what is wrong, for a grower
	Hint       string        // what to do about it
	Status     record.Status // what a photo becomes: flagged or rejected
	NotCounted bool          // flagged, but its numbers stay out of the series
	Limit      string        // the limit with its unit
	Why        string        // why the limit lies there
}

// Gates of a photo's date, which many parts of the program ask for.
const (
	DateFuture = "date_future"
	DateEarly  = "date_early"
)

// Codes of photos on which some places wait for the grower's word.
const (
	Unsure    = "unsure"
	TooUnsure = "too_unsure"
)

// Undecided gives the reason for which a photo waits for the grower's word on what is leaf; ok is false where it does not.
func Undecided(p *record.Photo) (r record.Reason, ok bool) {
	for _, r := range p.Reasons {
		if r.Code == Unsure || r.Code == TooUnsure {
			return r, true
		}
	}
	return r, false
}

// DateInDoubt says that a photo's date cannot be right: no month, session or report may be placed by it.
func DateInDoubt(p *record.Photo) bool { return p.HasReason(DateFuture) || p.HasReason(DateEarly) }

// Limits are the numbers behind the table; each has its reason in the row that uses it.
const (
	MinScalePxPerMM     = 1.5  // hard: a 3 mm marker cell must be 4 to 5 px wide to be read and located
	MaxTiltDeg          = 45.0 // hard
	WarnTiltDeg         = 37.0
	MinMarkers          = 2
	WarnMarkers         = 4
	MaxEdgeSpreadMM     = 1.0 // 10 to 90 % edge width at the markers
	WarnEdgeSpreadMM    = 0.8
	FloorEdgeSpreadPx   = 2.5 // below this many px a spread is the camera's own sharpness, never "blurred"
	MaxClippedPatches   = 8   // of 24
	MaxColourMedian     = 6.0 // CIEDE2000, leave-one-out
	WarnColourMedian    = 3.0
	MaxGradientPer100MM = 0.60
	WarnBendMM          = 0.8
)

var table = []Gate{
	{"unreadable", "not readable", "The file could not be read as a photo.", "Copy it from the camera again; if it opens in a picture viewer, save it as JPEG there.", record.Rejected, false, "-", "A file that is cut short or damaged has no trustworthy pixels."},
	{"unknown_format", "unknown format", "This kind of file is not read.", "Save the photo as JPEG, PNG, TIFF, WebP or HEIC.", record.Rejected, false, "-", "Only formats whose colours are defined are measured."},
	{"unchecked", "cannot be checked", "This kind of file holds nothing by which damage to it could be seen.", "Drop the photo as the phone took it, or save it as PNG, which holds checksums.", record.Flagged, false, "lossless WebP; TIFF packed by LZW or PackBits", "One flipped bit in such a file can shift the colours of half the picture, and it still opens."},
	{"too_large", "too large", "The photo is larger than this program will open.", "Send the photo as the phone took it, not a panorama or a scan.", record.Rejected, false, "200 megapixels, 400 MB", "Memory must stay bounded whatever is dropped into the folder."},
	{"timeout", "took too long", "Measuring this photo took too long and was stopped.", "Try it alone with 'phototrack check'; if it repeats, save it as a plain JPEG.", record.Rejected, false, "60 s", "One photo must not hold up a month."},
	{"memory", "took too much memory", "Measuring this photo took too much memory and was stopped, twice.", "Save the photo smaller (12 megapixels are plenty) as a plain JPEG, or raise memory_limit_mb in settings.toml.", record.Rejected, false, "4000 MB", "One photo must not bring the computer to a halt."},
	{"crashed", "measuring failed", "The measuring process stopped while it worked on this photo, twice.", "Save the photo as a plain JPEG and drop it again; please report it.", record.Rejected, false, "2 tries", "A fault in a decoder must cost one photo, not the batch."},
	{"no_date", "no date", "The photo does not say when it was taken.", "Put it in a folder or give it a name with the date (2026-05-14), or run again with --date.", record.Rejected, false, "-", "The file's own clock changes when a photo is copied, so it is not used."},
	{DateFuture, "date in the future", "The photo says that it was taken after today.", "Set the camera's clock; correct the photo's date on the desk page. It is held until then, and counts nowhere.", record.Flagged, true, "a day after today", "A camera whose clock is wrong would move the report to a month that has not come."},
	{DateEarly, "date too early", "The photo says that it was taken before that can be.", "Set the camera's clock; correct the photo's date on the desk page, or the plant's date in plants.csv. It is held until then, and counts nowhere.", record.Flagged, true, "1995, or the first plant's date in plants.csv", "A camera whose clock was never set dates its photos 1970, 1980 or 2000."},
	{"no_card", "no card", "No scale card was found in the photo.", "Stand the card beside the plant, face to the camera, all of it in the frame.", record.Rejected, false, "0 markers seen", "Without the card there is neither scale nor colour."},
	{"few_markers", "card mostly hidden", "Too little of the scale card can be seen.", "Keep the whole card in the frame with nothing in front of it.", record.Rejected, false, "2 of 6 markers needed", "One marker gives a scale but no check on it."},
	{"some_markers", "card partly hidden", "Part of the scale card is hidden.", "Move leaves and fingers off the card: all six black squares should show.", record.Flagged, false, "under 4 of 6 markers", "Scale and tilt from fewer markers, or from one row of them, are less sure; the uncertainty is widened."},
	{"card_covered", "leaf over the card", "Something lies over the scale card.", "Move leaves off the card.", record.Flagged, false, "a marker and patches hidden", "What lies over the card is cut out of the leaf with the card."},
	{"card_hidden", "card hidden", "Too much of the scale card is hidden to correct the colours by it.", "Move leaves, fingers and shadows off the card: all of it should show.", record.Rejected, false, "14 of 24 patches needed", "A correction from a few patches says nothing about the colours between them."},
	{"card_small", "card too small", "The card is too small in the photo.", "Go closer, until plant and card fill the frame.", record.Rejected, false, "1.5 px per mm", "Below this a marker cell is under 5 px and cannot be placed well."},
	{"oblique", "too oblique", "The card is seen at too steep an angle.", "Hold the camera square to the card.", record.Rejected, false, "45 degrees", "At 45 degrees a leaf that tips by 10 degrees changes its seen area by a sixth."},
	{"tilted", "tilted", "The card is seen at a steep angle.", "Hold the camera more square to the card.", record.Flagged, false, "37 degrees", "Depth and slope errors grow with the tangent of the angle."},
	{"blurred", "blurred", "The photo is not sharp at the card.", "Hold still or rest the camera, tap on the card to focus, and shoot again.", record.Rejected, false, "edge spread 1.0 mm at the card, at least 2.5 px", "An edge that is a millimetre wide moves the outline of a leaf by a good part of that."},
	{"soft", "a little soft", "The photo is a little soft at the card.", "Tap on the card to focus.", record.Flagged, false, "edge spread 0.8 mm at the card", "The outline is less sure; the uncertainty is widened."},
	{"clipped", "overexposed", "The photo is overexposed: light patches of the card are washed out.", "Tap on the white of the card to set the exposure, or make the photo darker.", record.Flagged, true, "more than 2 of 24 patches", "Where the camera is at its limit, colour and edges are lost."},
	{"clipped_hard", "badly overexposed", "The photo is badly overexposed.", "Tap on the white of the card to set the exposure, and shoot again.", record.Rejected, false, "more than 8 of 24 patches", "Too few patches are left to correct the colours."},
	{"dark", "too dark", "The photo is too dark.", "Give more light, or let the camera expose longer with the camera at rest.", record.Rejected, false, "card white under 30 of 255", "Noise and rounding rule the dark end."},
	{"colour_cast", "colours uncertain", "The colours of the card could not be brought back well.", "Use one kind of light: daylight or lamps, not both.", record.Flagged, false, "CIEDE2000 median over 3", "Mixed light colours different parts of the photo differently; shares of colour classes are then not to be trusted."},
	{"colour_lost", "colours lost", "The colours of the card cannot be brought back.", "Use one kind of light, no coloured lamp, no flash on the card.", record.Rejected, false, "CIEDE2000 median over 6", "Beyond this a green leaf may be called yellow."},
	{"card_colours", "card's colours not known", "The file that cards.csv names for this card's colours could not be used; the colours of the drawing were taken instead.", "Check the file and its name in cards.csv: a CGATS.17 list of readings, a photo of the card, or a photo of the old card on the left and the new one on the right.", record.Flagged, true, "14 of 24 patches needed", "Numbers that rest on other colours than the plant's other photos would look like a change."},
	{"gradient", "uneven light", "The light falls off strongly over the card.", "Move away from the lamp, or turn so that light falls evenly.", record.Flagged, false, "60 % over 100 mm", "The plant is not lit as the card is."},
	{"bent_card", "card not flat", "The card seems to be bent.", "Glue the card on stiff board.", record.Flagged, false, "0.8 mm off its plane", "A bent card has no one scale."},
	{"two_cards", "two cards", "Two scale cards are in the photo.", "Leave one card in the frame, and shoot again.", record.Rejected, false, "1 card", "Only one card can lie in the plane of the leaves, and which one cannot be told: the wrong one gives an area more than twice too large."},
	{"no_tag", "no tag", "No plant tag was found.", "Put the plant's numbered tag beside it, face to the camera; or say the number on the desk page.", record.Rejected, false, "-", "A number guessed from the order of photos would poison a series."},
	{"two_tags", "two tags", "More than one plant tag is in the photo.", "Leave only the tag of the plant that is measured.", record.Rejected, false, "1 tag", "Which plant it is cannot be told."},
	{"unknown_tag", "tag not in the list", "The tag's number is not in plants.csv.", "Add a line for it to plants.csv, or check the tag.", record.Flagged, false, "-", "The photo is measured and kept; it joins the series when the plant is listed."},
	{"no_plant", "no plant found", "Nothing that looks like leaves was found.", "Use a plain backdrop that is not green; check that the leaves are in the frame.", record.Rejected, false, "1 cm2 of leaf", "Less than that is a speck."},
	{"cut_off", "plant cut off", "Leaves touch the edge of the photo.", "Step back until all leaves are in the frame.", record.Flagged, false, "3 % of the outline", "What is outside the frame is not measured."},
	{Unsure, "partly unsure", "The program is not sure what some places of the photo are: leaf or root of this plant, or something else.", "Look at the outlined places on the desk and say leaf or not leaf, root or not root; a plain backdrop and more distance to other plants help.", record.Flagged, false, "5 % of the leaf area or of the root length", "What may have been judged wrongly is in the interval; a look settles it."},
	{TooUnsure, "too unsure", "The program cannot tell this plant's leaves or roots from what is around them.", "Look at the outlined places on the desk and say leaf or not leaf, root or not root, or photograph again: leaves before a plain backdrop, roots through a wiped wall.", record.Flagged, true, "25 % of the leaf area or of the root length", "So much doubt is no measurement; the numbers count once the places are decided."},
	{"no_pot", "pot not found", "The clear pot was not found in the photo.", "Stand the card beside the pot, level with its middle; fill in the pot's sizes in plants.csv.", record.Rejected, false, "wall edges unseen", "Lengths on a round wall need the wall."},
	{"pot_guess", "pot size estimated", "The pot's size is not in plants.csv; it was estimated from the photo.", "Measure the pot's inside diameters at rim and base and its height once.", record.Flagged, false, "-", "An estimated radius widens the uncertainty of lengths."},
	{"pot_shape", "pot not round", "The pot does not look round: its foot or rim runs otherwise than that of a round pot.", "Root lengths are measured on the wall of a round pot. If this one is round, write its inside diameters at rim and base and its height into plants.csv (pot_top_mm, pot_bottom_mm, pot_height_mm) and shoot again with rim and foot free; of an oval or square pot take leaf photos only.", record.Flagged, true, "another depth fits rim and foot better by a fifth", "On a flat or oval wall a picture's millimetre is another length in space than on a round one."},
	{"wall_hidden", "wall hidden", "Part of the pot's wall is hidden: by mist, a reflection, or what was left out.", "Wipe the wall, move away from the window's reflection, and shoot again.", record.Flagged, false, "under 70 % of the wall seen", "Roots behind glare are not counted and not guessed."},
	{"wall_blind", "wall not seen", "Nearly all of the pot's wall is hidden.", "Wipe the wall, take labels off the side that faces the camera, move away from reflections, and shoot again.", record.Rejected, false, "under 15 % of the wall seen", "A length from a few strips of wall says nothing of the pot."},
	{"pot_opaque", "pot not clear", "The pot's wall shows one plain colour: no roots can be seen through it.", "Only roots behind a clear wall are measured; leave root photos of this plant out, or put it in a clear pot.", record.Rejected, false, "lightness varies by less than 1.6 L*", "Behind a clear wall medium and roots have light and shade."},
	{"pot_cut", "pot cut off", "Part of the pot's wall lies outside the photo.", "Step back until rim, base and both sides of the pot are in the frame.", record.Flagged, false, "3 % of the wall", "What is outside the frame is not measured."},
	{"water", "water in the pot", "A level line runs round the wall with darker wall under it, as where water stands.", "Let the water run off before the photo; if it is a ring of the pot, it can stay.", record.Flagged, false, "a line across 60 % of the wall", "Under water roots look darker and nearer than they are."},
	{"root_check", "root lengths disagree", "Two ways to measure root length disagree.", "Look at the overlay: something that is no root may have been taken for one.", record.Flagged, false, "both intervals together", "A mask that is not made of tubes gives different answers by skeleton and by line count."},
	{"excluded", "left out by hand", "The photo was left out by hand.", "Include it again on the desk page if that was a slip.", record.Flagged, true, "-", "The grower's word counts."},
}

// All returns a copy of the table, in the order in which a photo meets the gates.
func All() []Gate { return append([]Gate(nil), table...) }

// Lookup finds a gate by its code; ok is false for a code that is not in the table.
func Lookup(code string) (g Gate, ok bool) {
	for _, g := range table {
		if g.Code == code {
			return g, true
		}
	}
	return Gate{Code: code, Name: code, Sentence: code}, false
}

// StatusOf gives the outcome of a photo with these reasons: the worst of its gates, accepted where there is none.
func StatusOf(reasons []record.Reason) record.Status {
	s := record.Accepted
	for _, r := range reasons {
		g, _ := Lookup(r.Code)
		if g.Status == record.Rejected {
			return record.Rejected
		}
		s = record.Flagged
	}
	return s
}

// Counts says whether a photo's numbers go into its series: accepted, or flagged by gates that do not forbid it.
func Counts(status record.Status, reasons []record.Reason) bool {
	if status == record.Rejected {
		return false
	}
	for _, r := range reasons {
		if g, ok := Lookup(r.Code); ok && g.NotCounted {
			return false
		}
	}
	return true
}

// Text is the reason as one line for a person: the sentence and, where there are figures, the figures.
func Text(r record.Reason) string {
	g, _ := Lookup(r.Code)
	if r.Detail == "" {
		return g.Sentence
	}
	if bare, ok := strings.CutSuffix(g.Sentence, "."); ok {
		return fmt.Sprintf("%s (%s).", bare, r.Detail)
	}
	return fmt.Sprintf("%s (%s)", g.Sentence, r.Detail)
}

// Codes joins the reasons' codes with semicolons, sorted, each once: the form of the CSV files.
func Codes(reasons []record.Reason) string {
	seen := map[string]bool{}
	var out []string
	for _, r := range reasons {
		if !seen[r.Code] {
			seen[r.Code] = true
			out = append(out, r.Code)
		}
	}
	sort.Strings(out)
	s := ""
	for i, c := range out {
		if i > 0 {
			s += ";"
		}
		s += c
	}
	return s
}
