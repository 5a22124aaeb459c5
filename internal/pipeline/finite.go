package pipeline

import (
	"math"
	"slices"
	"strings"

	"phototrack/internal/record"
)

// keepFinite takes out of a photo what is no finite number, and says so: a value that could not be worked out is none. It
// must never reach the store, an export or the pipe to the supervisor, which cannot hold it.
func keepFinite(p *record.Photo) {
	var gone []string
	p.Quantities = slices.DeleteFunc(p.Quantities, func(q record.Quantity) bool {
		if soundQuantity(q) {
			return false
		}
		gone = append(gone, string(q.Name))
		return true
	})
	if len(gone) > 0 {
		p.Notes = append(p.Notes, "Could not be worked out and was left out: "+strings.Join(gone, ", ")+".")
	}
	p.Calibration = soundCalibration(p.Calibration)
	p.Outlines = sweepOutlines(p.Outlines)
	p.WallRoots = slices.DeleteFunc(p.WallRoots, func(line []record.Point) bool { return !soundPoints(line) })
	if len(p.WallRoots) == 0 {
		p.WallRoots = nil
	}
}

func soundQuantity(q record.Quantity) bool {
	for _, t := range q.Terms {
		if !finite(t.U) {
			return false
		}
	}
	return finite(q.Value) && finite(q.U95)
}

// soundCalibration is a calibration without numbers that are none; nil where nothing can be placed by it.
func soundCalibration(c *record.Calibration) *record.Calibration {
	if c == nil || !allFinite(c.CardToPx) || !allFinite(c.RotationCardCam) || !allFinite(c.TranslationMM) {
		return nil
	}
	for _, v := range []*float64{&c.ScalePxPerMM, &c.TiltDeg, &c.DistanceMM, &c.ResidualPx, &c.EdgeSpreadPx, &c.FocalPx, &c.ColourMedian, &c.ColourWorst, &c.GradientPer100} {
		if !finite(*v) {
			*v = 0 // as where it was not found out
		}
	}
	return c
}

func sweepOutlines(list []record.Outline) []record.Outline {
	var out []record.Outline
	for _, o := range list {
		if soundPoints(o.Points) {
			out = append(out, o)
		}
	}
	return out
}

func soundPoints(list []record.Point) bool {
	for _, p := range list {
		if !finite(p.X) || !finite(p.Y) {
			return false
		}
	}
	return true
}

func allFinite(list []float64) bool {
	for _, v := range list {
		if !finite(v) {
			return false
		}
	}
	return true
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }
