package pipeline

import (
	"phototrack/internal/calib"
	"phototrack/internal/collection"
	"phototrack/internal/measure/leaf"
)

// leafColour hands the fitted colour correction to the leaf measurement, in its float32 form.
func leafColour(f *calib.ColourFit) (c leaf.Colour) {
	for i := range 3 {
		for v := range 256 {
			c.Tone[i][v] = float32(f.Tone[i][v])
		}
		for k := range 6 {
			c.Mix[i][k] = float32(f.M[i][k])
		}
	}
	c.Root = f.Root
	return
}

// ClassTable is the collection's table of colour classes with the program's own reasons.
func ClassTable(s collection.ClassSettings) leaf.ClassTable {
	t := leaf.DefaultClasses()
	for i := range t.Classes {
		k := &t.Classes[i]
		switch k.Name {
		case "green":
			k.FromDeg, k.ToDeg = s.GreenFromDeg, s.PurpleFromDeg
		case "yellow":
			k.FromDeg, k.ToDeg = s.YellowFromDeg, s.GreenFromDeg
		case "brown":
			k.FromDeg, k.ToDeg = s.BrownFromDeg, s.YellowFromDeg
		case "purple":
			k.FromDeg, k.ToDeg = s.PurpleFromDeg, s.BrownFromDeg
		}
	}
	t.MinChroma = s.MinChroma
	return t
}
