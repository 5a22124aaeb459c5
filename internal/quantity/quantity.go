// Package quantity is the one list of what is measured: the name that stands in the files, the words and the unit a
// grower reads, and how many digits of a number its uncertainty justifies. Reports and plates speak from this list, so
// that a number looks the same wherever it is shown.
package quantity

import (
	"phototrack/internal/record"
)

// Info is what is known of a quantity apart from its value.
type Info struct {
	Name     record.QuantityName // as in the exports: leaf_area
	Title    string              // for a person: leaf area
	View     record.View         // leaf, root, or "" for properties of the photo
	Unit     string              // of the stored value: mm2, mm, 1, deg, px_per_mm, CIEDE2000
	Shown    string              // unit as printed: cm², mm, %, °
	Scale    float64             // stored value times Scale is the printed one
	Relative bool                // a change makes sense in per cent of the earlier value
	Angle    bool                // wraps at 360 degrees
	Ratio    bool                // per cent of something else: a difference is in per cent too, not in points
	Means    string              // one sentence: what it is
}

var table = []Info{
	{record.LeafArea, "leaf area", record.Leaf, "mm2", "cm²", 0.01, true, false, false, "Visible leaf surface, projected square onto the plane of the card."},
	{record.GreenShare, "green share", record.Leaf, "1", "%", 100, false, false, false, "Share of the judged leaf area whose hue is green."},
	{record.YellowShare, "yellow share", record.Leaf, "1", "%", 100, false, false, false, "Share of the judged leaf area whose hue is yellow."},
	{record.PurpleShare, "purple share", record.Leaf, "1", "%", 100, false, false, false, "Share of the judged leaf area whose hue is purple or red."},
	{record.BrownShare, "brown share", record.Leaf, "1", "%", 100, false, false, false, "Share of the judged leaf area whose hue is brown."},
	{record.UnjudgedShare, "share not judged", record.Leaf, "1", "%", 100, false, false, false, "Share of the leaf area too grey or too glossy to be given a colour class; outside the other shares."},
	{record.OuterDiscolouredShare, "discoloured, outer third", record.Leaf, "1", "%", 100, false, false, false, "Share of the outer third of the plant that is not green."},
	{record.InnerDiscolouredShare, "discoloured, inner third", record.Leaf, "1", "%", 100, false, false, false, "Share of the inner third of the plant that is not green."},
	{record.LeafHue, "leaf hue", record.Leaf, "deg", "°", 1, false, true, false, "Median CIELAB hue angle of the leaves: about 90° is yellow, 120° to 140° leaf green."},
	{record.LeafLightness, "leaf lightness L*", record.Leaf, "1", "", 1, false, false, false, "Median CIELAB lightness; it also depends on how the light falls on tilted leaves."},
	{record.LeafA, "leaf a*", record.Leaf, "1", "", 1, false, false, false, "Median CIELAB a*: negative is green, positive red."},
	{record.LeafB, "leaf b*", record.Leaf, "1", "", 1, false, false, false, "Median CIELAB b*: positive is yellow, negative blue."},
	{record.LeafChroma, "leaf chroma", record.Leaf, "1", "", 1, false, false, false, "Median CIELAB chroma: how far the colour is from grey."},
	{record.GreenIndex, "green index", record.Leaf, "1", "", 1, false, false, false, "Dark green colour index (Karcher & Richardson 2003); contains lightness."},
	{record.ExcessGreen, "excess green", record.Leaf, "1", "", 1, false, false, false, "Excess green index (Woebbecke et al. 1995)."},
	{record.ColourChange, "colour change", record.Leaf, "CIEDE2000", "ΔE₀₀", 1, false, false, false, "Mean CIEDE2000 difference by which the leaves' colours moved, area for area, at equal mean lightness; about 1 is just visible side by side."},
	{record.RootLength, "visible root length", record.Root, "mm", "mm", 1, true, false, false, "Length in space of the root centrelines seen through the wall within 60° of azimuth."},
	{record.RootOld, "old root length", record.Root, "mm", "mm", 1, true, false, false, "That part of the visible root length that is brown or dry root."},
	{record.RootLongest, "longest root", record.Root, "mm", "mm", 1, true, false, false, "Length of the longest single root that is seen."},
	{record.RootTips, "root tips", record.Root, "1", "", 1, false, false, false, "Growing root tips of any colour."},
	{record.RootTipsGreen, "green root tips", record.Root, "1", "", 1, false, false, false, "Growing root tips that are green."},
	{record.RootDiameter, "mean root diameter", record.Root, "mm", "mm", 1, false, false, false, "Mean width of the roots that are seen."},
	{record.RootIntersect, "root length by line count", record.Root, "mm", "mm", 1, true, false, false, "The same roots by the line-intersect estimate (Newman 1966; Tennant 1975): a check on root length."},
	{record.RootNew, "new root", record.Root, "mm", "mm", 1, false, false, false, "Root seen now where there was none on the same stretch of wall."},
	{record.RootGone, "root gone", record.Root, "mm", "mm", 1, false, false, false, "Root seen before and not now on the same stretch of wall."},
	{record.WallCoverShare, "wall covered by root", record.Root, "1", "%", 100, false, false, false, "Share of the seen wall that is covered by root."},
	{record.WallSeenShare, "wall seen", record.Root, "1", "%", 100, false, false, false, "Share of the wall within 60° of azimuth that glare and mist left open."},
	{record.PartLength, "length", "", "mm", "mm", 1, true, false, false, "Length along the line drawn on the part, in the card's plane; on a root photo along the pot's wall. A part that leans towards or away from the camera is longer than it looks."},
	{record.PartWidth, "width", "", "mm", "mm", 1, true, false, false, "Width of the part from edge to edge along the line drawn across it, the median of several sections side by side."},
	{record.PartBend, "bend", "", "deg", "°", 1, false, false, false, "How far the line turns from its first third to its last: a limp leaf bends more."},
	{record.PartAngle, "angle", "", "deg", "°", 1, false, true, false, "Direction from the part's foot to its tip against the card's upright, clockwise as seen: 0° is upright, 90° level to the right."},
	{record.CountOf, "count", "", "1", "", 1, false, false, false, "How many there were, as the grower counted."},
	{record.CardScale, "scale at the card", "", "px_per_mm", "px/mm", 1, false, false, false, "Pixels per millimetre at the card."},
	{record.CardTilt, "tilt of the card", "", "deg", "°", 1, false, false, false, "Angle between the card's normal and the view axis."},
	{record.CameraDistance, "camera distance", "", "mm", "mm", 1, false, false, false, "Distance from the camera to the card's centre."},
	{record.ColourError, "colour error", "", "CIEDE2000", "ΔE₀₀", 1, false, false, false, "Median CIEDE2000 of the card's patches after correction, leave-one-out."},
}

// All returns a copy of the list, in the order in which quantities are shown.
func All() []Info { return append([]Info(nil), table...) }

// Of returns what is known of a quantity; a name that is not in the list is shown as it is, in its own unit.
func Of(name record.QuantityName, unit string) Info {
	for _, q := range table {
		if q.Name == name {
			return q
		}
	}
	shown := unit
	if unit == "1" {
		shown = ""
	}
	return Info{Name: name, Title: string(name), Unit: unit, Shown: shown, Scale: 1}
}

// OfPart is Of with the part named in its title: "length of spike 1". For the whole plant it is Of.
func OfPart(name record.QuantityName, part, unit string) Info {
	q := Of(name, unit)
	switch {
	case part == "":
	case name == record.CountOf:
		q.Title = "number of " + part
	default:
		q.Title = q.Title + " of " + part
	}
	return q
}

// Order is the place of a quantity in the list; unknown names come last.
func Order(name record.QuantityName) int {
	for i, q := range table {
		if q.Name == name {
			return i
		}
	}
	return len(table)
}
