// Package calib turns a photo with a scale card in it into a calibration: which plant and which view, where the
// card's plane lies, how long a pixel is, what the colours should be, and how sure each of these is.
package calib

import (
	"errors"
	"fmt"
	"math"

	"phototrack/internal/card"
	"phototrack/internal/gate"
	"phototrack/internal/geom"
	"phototrack/internal/raster"
	"phototrack/internal/record"
)

// Settings are the inputs of a calibration other than the photo.
type Settings struct {
	Print      Print        // what is known of the card's print
	Targets    PatchTargets // colours to correct to; nil: the nominal ones
	ColourMode string       // where Targets come from: ModeNominal, ModeReadings, ModeReference, ModeBridged
	OffsetMM   float64      // measured plane in front of the card's (towards the camera)
}

// Calibration is what the card says of a photo.
type Calibration struct {
	View    record.View
	Plant   int            // 0: no tag, or more than one
	Tags    []Marker       // plant tags seen
	Card    map[int]Marker // markers of the card used
	Side    card.Side
	Camera  geom.Camera     // pose relative to the card, true mm
	Plane   geom.Homography // measured plane (mm of the card's frame) to photo (px)
	ToPlane geom.ToPlane    // photo (px) to measured plane (mm)
	Colour  ColourFit

	ScalePxPerMM float64 // at the card's centre
	ScaleRelU    float64 // relative standard uncertainty of that, the print's apart
	PrintRelU    float64 // of the print
	TiltDeg      float64
	TiltU        float64
	DistanceMM   float64 // camera to the card's centre, along the line of sight
	DistanceU    float64
	FocalSource  string
	ResidualPx   float64
	BleedMM      float64
	EdgeSpreadPx float64
	ColourMode   string
	GradientPer100, ChromaPer100,
	WhiteClipped float64
	WhiteSRGB [3]float64

	fit cardFit
}

// AreaRelU is the relative standard uncertainty of an area at the point p of the plane by scale and pose alone (print,
// depth and slope are apart): it grows with the distance from the card.
func (c *Calibration) AreaRelU(p geom.MM) float64 {
	px := c.Plane.Px(p)
	return c.fit.standardU(func(cam geom.Camera, _ float64) float64 {
		g, err := cam.Plane(0).Inverse()
		if err != nil {
			return math.NaN()
		}
		return math.Log(g.AreaMM2(px))
	})
}

// Record is the part of a calibration that is stored.
func (c *Calibration) Record() *record.Calibration {
	return &record.Calibration{
		MarkersSeen: len(c.Card), ScalePxPerMM: c.ScalePxPerMM, TiltDeg: c.TiltDeg, DistanceMM: c.DistanceMM,
		ResidualPx: c.ResidualPx, EdgeSpreadPx: c.EdgeSpreadPx, FocalPx: c.Camera.F, FocalSource: c.FocalSource,
		ColourModel: c.Colour.Model, ColourMode: c.ColourMode, ColourMedian: c.Colour.Median, ColourWorst: c.Colour.Worst,
		GradientPer100: c.GradientPer100, ClippedPatches: c.Colour.Clipped,
		CardToPx: append([]float64(nil), c.Plane[:]...), RotationCardCam: append([]float64(nil), c.Camera.R[:]...),
		TranslationMM: append([]float64(nil), c.Camera.T[:]...),
	}
}

// Calibrate finds the card and tags in a photo and fits everything that can be. The reasons are those gates that the
// photo does not pass; a rejected photo may come with a partial calibration (never nil), good for an overlay only.
// f35 is EXIF's 35 mm equivalent, 0 where missing. The error is for faults of the program, not of the photo.
func Calibrate(img raster.BGR, f35 float64, s Settings) (*Calibration, []record.Reason, error) {
	c := &Calibration{ColourMode: s.ColourMode, PrintRelU: s.Print.RelU}
	if s.Targets == nil {
		s.Targets, c.ColourMode = NominalTargets(), ModeNominal
	}
	if s.Print.AcrossMM == 0 {
		s.Print = TruePrint(0.01)
		c.PrintRelU = s.Print.RelU
	}
	ms, err := FindMarkers(img)
	if err != nil {
		return c, nil, err
	}
	if len(ms) == 0 {
		// Nothing at all was read. Where the whole photo is soft, that is why, and it is what the grower should mend.
		if soft, spread := wholePhotoSoft(img); soft {
			return c, []record.Reason{{Code: "blurred", Detail: fmt.Sprintf("the sharpest edges are %.0f px wide; neither card nor tag can be read", spread)}}, nil
		}
		if top := brightest(img); top < darkWhite {
			return c, []record.Reason{{Code: "dark", Detail: fmt.Sprintf("the brightest parts are %d of 255; neither card nor tag can be read", top)}}, nil
		}
	}
	var why []record.Reason
	add := func(code, format string, args ...any) {
		why = append(why, record.Reason{Code: code, Detail: fmt.Sprintf(format, args...)})
	}
	c.readTags(ms, add)
	if !c.placeCard(ms, f35, img.W, img.H, s, add) {
		return c, why, nil
	}
	c.setColour(img, s, add)
	return c, why, nil
}

// placeCard chooses the card among the markers and fits all geometry; false where there is no card to fit.
func (c *Calibration) placeCard(ms []Marker, f35 float64, w, h int, s Settings, add func(string, string, ...any)) bool {
	chosen, second, err := chooseCard(ms)
	c.Card, c.Side = chosen.markers, chosen.side
	c.View = map[card.Side]record.View{card.SideLeaf: record.Leaf, card.SideRoot: record.Root}[chosen.side]
	switch {
	case errors.Is(err, ErrNoCard):
		add("no_card", "0 of 6 markers seen")
		return false
	case errors.Is(err, ErrFewMarkers):
		add("few_markers", "%d of 6 markers seen, %d needed", len(chosen.markers), gate.MinMarkers)
		return false
	}
	if second {
		add("two_cards", "the larger is %.0f px wide", chosen.sizePx()*card.WidthMM/card.MarkerMM)
	}
	prior := PriorFocal(f35, w, h)
	fit, err := fitCard(chosen, prior, s.Print, w, h)
	if err != nil {
		add("few_markers", "the markers do not lie on a plane")
		return false
	}
	c.setGeometry(fit, s, prior)
	c.geometryGates(add)
	return true
}

// FromMarkers is the geometry of a calibration alone, from markers that were seen in a photo of w by h px: no light and
// no colour. f35 and s are as for Calibrate; ok is false where the markers make no card.
func FromMarkers(ms []Marker, f35 float64, w, h int, s Settings) (c *Calibration, why []record.Reason, ok bool) {
	c = &Calibration{PrintRelU: s.Print.RelU}
	ok = c.placeCard(ms, f35, w, h, s, func(code, format string, args ...any) {
		why = append(why, record.Reason{Code: code, Detail: fmt.Sprintf(format, args...)})
	})
	return c, why, ok
}

func (c *Calibration) readTags(ms []Marker, add func(string, string, ...any)) {
	seen := map[int]bool{}
	for _, m := range ms {
		if card.IsPlant(m.ID) {
			c.Tags = append(c.Tags, m)
			seen[m.ID] = true
		}
	}
	switch len(seen) {
	case 0:
		add("no_tag", "")
	case 1:
		c.Plant = c.Tags[0].ID
		if len(c.Tags) > 1 {
			add("two_tags", "the tag %d is there %d times", c.Plant, len(c.Tags))
		}
	default:
		s := ""
		for i, m := range c.Tags {
			if i > 0 {
				s += ", "
			}
			s += fmt.Sprint(m.ID)
		}
		add("two_tags", "tags %s", s)
	}
}

// pinholeDistance is the distance from the camera to a point of the card.
func pinholeDistance(cam geom.Camera, p geom.MM) float64 {
	o := cam.Centre()
	return geom.Norm(geom.Vec3{p.X - o[0], p.Y - o[1], -o[2]})
}

func (c *Calibration) setGeometry(fit cardFit, s Settings, prior FocalPrior) {
	centre := geom.MM{X: card.WidthMM / 2 * s.Print.AcrossMM / 100, Y: card.HeightMM / 2 * s.Print.DownMM / 90}
	scale := func(cam geom.Camera, _ float64) float64 {
		h := cam.Plane(0)
		g, err := h.Inverse()
		if err != nil {
			return math.NaN()
		}
		return -0.5 * math.Log(g.AreaMM2(h.Px(centre)))
	}
	c.fit, c.Camera = fit, fit.cam
	c.Plane = fit.cam.Plane(s.OffsetMM)
	c.ToPlane, _ = c.Plane.Inverse()
	c.ScalePxPerMM = math.Exp(scale(fit.cam, 0))
	c.ScaleRelU = fit.standardU(scale)
	c.TiltDeg = fit.cam.TiltDeg()
	c.TiltU = fit.standardU(func(cam geom.Camera, _ float64) float64 { return cam.TiltDeg() })
	c.DistanceMM = pinholeDistance(fit.cam, centre)
	c.DistanceU = fit.standardU(func(cam geom.Camera, _ float64) float64 { return pinholeDistance(cam, centre) })
	c.FocalSource = prior.Source
	if r := fit.standardU(func(cam geom.Camera, _ float64) float64 { return math.Log(cam.F) }); r < prior.RelU/2 {
		c.FocalSource += ", refined by the card's tilt"
	}
	c.ResidualPx, c.BleedMM = fit.residualPx, fit.bleedMM
	var sum float64
	var n int
	for _, id := range sortedIDs(c.Card) {
		if m := c.Card[id]; !math.IsNaN(m.EdgeSpreadPx) {
			sum += m.EdgeSpreadPx
			n++
		}
	}
	c.EdgeSpreadPx = math.NaN()
	if n > 0 {
		c.EdgeSpreadPx = sum / float64(n)
	}
}

func (c *Calibration) geometryGates(add func(string, string, ...any)) {
	if n := len(c.Card); n < gate.WarnMarkers {
		add("some_markers", "%d of 6 markers seen", n)
	} else if n < 6 && c.fit.outliers > 0 {
		add("card_covered", "%d of 6 markers seen", n)
	}
	if c.ScalePxPerMM < gate.MinScalePxPerMM {
		add("card_small", "%.2f px per mm, %.1f needed", c.ScalePxPerMM, gate.MinScalePxPerMM)
	}
	switch {
	case c.TiltDeg > gate.MaxTiltDeg:
		add("oblique", "%.0f degrees, the limit is %.0f", c.TiltDeg, gate.MaxTiltDeg)
	case c.TiltDeg > gate.WarnTiltDeg:
		add("tilted", "%.0f degrees", c.TiltDeg)
	}
	spreadMM := c.EdgeSpreadPx / c.ScalePxPerMM
	switch {
	case math.IsNaN(spreadMM):
		add("blurred", "no clear edge at the markers")
	case c.EdgeSpreadPx < gate.FloorEdgeSpreadPx:
	case spreadMM > gate.MaxEdgeSpreadMM:
		add("blurred", "edges are %.1f mm wide at the card, %.1f px", spreadMM, c.EdgeSpreadPx)
	case spreadMM > gate.WarnEdgeSpreadMM:
		add("soft", "edges are %.1f mm wide at the card", spreadMM)
	}
	if b := c.fit.bendMM; math.Abs(b) > gate.WarnBendMM && math.Abs(b) > 4*c.fit.bendU {
		add("bent_card", "bowed by about %.1f mm", math.Abs(b))
	}
}

func (c *Calibration) setColour(img raster.BGR, s Settings, add func(string, string, ...any)) {
	// Samples are taken where the drawing lies on this print.
	print := c.fit.free
	l := fitLight(img, print)
	c.GradientPer100, c.ChromaPer100, c.WhiteClipped, c.WhiteSRGB = l.per100, l.chroma100, l.clipped, l.whiteMedian
	obs, clipped, glossy := observePatches(img, print, c.ScalePxPerMM, l, s.Targets)
	fit, ok := fitColour(obs)
	hidden := 0
	if len(c.Card) < card.MarkersPerSide {
		obs, fit, ok, hidden = withoutHidden(obs, fit, ok)
	}
	c.Colour = fit
	c.Colour.Clipped, c.Colour.Glossy = clipped, glossy
	white := math.Max(l.whiteMedian[0], math.Max(l.whiteMedian[1], l.whiteMedian[2]))
	switch {
	case white < darkWhite:
		add("dark", "white paper is %.0f of 255", white)
	case clipped > gate.MaxClippedPatches || !ok && clipped > 0:
		add("clipped_hard", "%d of 24 patches washed out", clipped)
	case clipped > 2:
		add("clipped", "%d of 24 patches washed out", clipped)
	}
	switch {
	case hidden > 0 && !ok:
		add("card_hidden", "at least %d patches", hidden)
		return
	case hidden > 0:
		add("card_covered", "%d of 24 patches hidden", hidden)
	}
	if !ok {
		add("colour_lost", "%d of 24 patches can be used, %d needed", len(obs), minPatches)
		return
	}
	switch {
	case fit.Median > gate.MaxColourMedian:
		add("colour_lost", "CIEDE2000 median %.1f", fit.Median)
	case fit.Median > gate.WarnColourMedian:
		add("colour_cast", "CIEDE2000 median %.1f", fit.Median)
	case c.ChromaPer100 > maxChromaPer100:
		add("colour_cast", "the light's colour changes by %.0f %% over 100 mm of card", 100*c.ChromaPer100)
	}
	if hidden == 0 && c.GradientPer100 > gate.MaxGradientPer100MM {
		add("gradient", "%.0f %% over 100 mm", 100*c.GradientPer100)
	}
}

// darkWhite is the camera value of white paper below which a photo is too dark: noise and rounding rule the patches.
const darkWhite = 30

// brightest is the luma that one pixel in two hundred exceeds.
func brightest(img raster.BGR) int {
	gray, _, _ := reducedGray(img, 1)
	var count [256]int
	for _, v := range gray {
		count[v]++
	}
	return rank(&count, len(gray)-1-len(gray)/200)
}

// maxChromaPer100 is the change of the ratio of red to blue light over 100 mm of card from which light counts as mixed:
// 10 % moves a grey by about 3 CIELAB units.
const maxChromaPer100 = 0.10

// Outline is the card's trimmed edge in the photo, grown by marginMM.
func (c *Calibration) Outline(marginMM float64) []geom.PX {
	m := marginMM
	var out []geom.PX
	for _, p := range []geom.MM{{X: -m, Y: -m}, {X: card.WidthMM + m, Y: -m}, {X: card.WidthMM + m, Y: card.HeightMM + m}, {X: -m, Y: card.HeightMM + m}} {
		out = append(out, c.fit.free.Px(p))
	}
	return out
}

// TagOutlines are the edges of the tags seen, grown by marginMM, by each tag's own homography.
func (c *Calibration) TagOutlines(marginMM float64) [][]geom.PX {
	var out [][]geom.PX
	corners := card.TagMarkerCornersMM()
	for _, t := range c.Tags {
		var mm []geom.MM
		for _, p := range corners {
			mm = append(mm, geom.MM{X: p[0], Y: p[1]})
		}
		h, err := geom.FitHomography(mm, t.Corners[:], nil)
		if err != nil {
			continue
		}
		m := marginMM
		var q []geom.PX
		for _, p := range []geom.MM{{X: -m, Y: -m}, {X: card.TagWidthMM + m, Y: -m}, {X: card.TagWidthMM + m, Y: card.TagHeightMM + m}, {X: -m, Y: card.TagHeightMM + m}} {
			q = append(q, h.Px(p))
		}
		out = append(out, q)
	}
	return out
}
