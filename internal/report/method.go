package report

// Method is what a report says of how its numbers came about, where the caller has nothing more exact to say.
func Method() []Topic {
	return []Topic{
		{"Scale", "The six black markers of the card give the scale and the camera's position. Leaf area is the visible leaf surface projected square onto the card's plane; a leaf that stands in front of or behind the card looks larger or smaller, and that is part of every interval."},
		{"Colour", "The card's 24 patches tell what the light and the camera did to the colours, and the photo is corrected until the patches have their known values. Every leaf pixel is then green, yellow, purple or brown by its hue."},
		{"Roots", "Roots are followed through the wall of a clear pot. Each is measured along its centreline in space, on the round wall, within 60 degrees of azimuth from the camera's direction. What glare or mist hides is neither counted nor guessed."},
		{"Intervals", "The figure after ± is the half-width of a 95 % interval. It holds what can be wrong with one photo (scale, print of the card, depth, slope of leaves, outline, colour) and how far repeated photos differ."},
		{"Change", "A change is called a rise or a fall where its interval leaves zero out. What is the same in all photos of a plant does not count as change. The first screen lists only what survives a false discovery rate, because among many comparisons some look large by chance (Benjamini & Hochberg 1995)."},
		{"Trend", "Slopes are Theil-Sen slopes with an interval, from five sessions on; the test is Mann-Kendall's, exact. Growth is the relative growth rate, the difference of the logarithms over time (Hunt 1982; Hoffmann & Poorter 2002)."},
		{"Plates", "All pictures on a plate have the same scale in the card's plane. Each is corrected by its own card, a light that falls off over the card is taken out, and the colour noise that JPEG leaves in even areas is smoothed over; brightness and drawing are untouched. Nothing is measured on plates."},
		{"Events", "What moved after an event is set against comparison plants, siblings of the same group to which nothing was done in that window, where there are any. After an event does not mean because of it: something else may have changed too."},
	}
}

// Cautions is what every report carries.
func Cautions() []string {
	return []string{
		"Measurements describe what a camera saw. They diagnose no disease and prescribe no product.",
		"A change after an event is an association, not proof of its cause: season, water, light and chance change too.",
		"Purple or red over green can be the plant's natural pigment; the same tint can be wanted or a warning. Where a number disagrees with a plant's own habit, the plant is right.",
		"Before treating plants with pesticides or concentrated feeds read the label and follow local rules; ask a qualified adviser where in doubt.",
	}
}
