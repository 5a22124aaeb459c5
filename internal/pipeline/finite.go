package pipeline

import (
	"math"
	"strings"

	"phototrack/internal/record"
)

// keepFinite takes out of a photo what is no finite number, and says so: a value that could not be worked out is none. It
// must never reach the store, an export or the pipe to the supervisor, which cannot hold it.
func keepFinite(p *record.Photo) {
	var gone []string
	kept := p.Quantities[:0]
	for _, q := range p.Quantities {
		sound := finite(q.Value) && finite(q.U95)
		for _, t := range q.Terms {
			sound = sound && finite(t.U)
		}
		if sound {
			kept = append(kept, q)
		} else {
			gone = append(gone, string(q.Name))
		}
	}
	p.Quantities = kept
	if len(gone) > 0 {
		p.Notes = append(p.Notes, "Could not be worked out and was left out: "+strings.Join(gone, ", ")+".")
	}
	if c := p.Calibration; c != nil {
		for _, v := range []*float64{&c.ScalePxPerMM, &c.TiltDeg, &c.DistanceMM, &c.ResidualPx, &c.EdgeSpreadPx, &c.FocalPx, &c.ColourMedian, &c.ColourWorst, &c.GradientPer100} {
			if !finite(*v) {
				*v = 0 // as where it was not found out
			}
		}
		if !allFinite(c.CardToPx) || !allFinite(c.RotationCardCam) || !allFinite(c.TranslationMM) {
			p.Calibration = nil
		}
	}
	p.Outlines = sweepOutlines(p.Outlines)
	roots := p.WallRoots[:0]
	for _, line := range p.WallRoots {
		if soundPoints(line) {
			roots = append(roots, line)
		}
	}
	p.WallRoots = roots
	if len(roots) == 0 {
		p.WallRoots = nil
	}
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
