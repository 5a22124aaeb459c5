// Package calib turns a photo with a scale card in it into a calibration: which plant and which view, where the
// card's plane lies, how long a pixel is, what the colours should be, and how sure each of these is.
package calib

import (
	"errors"
	"math"
	"strconv"
	"strings"

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
			return c, []record.Reason{gate.Because(gate.Blurred, "the sharpest edges are %.0f px wide; neither card nor tag can be read", spread)}, nil
		}
		if top := brightest(img); top < gate.MinWhite {
			return c, []record.Reason{gate.Because(gate.Dark, "the brightest parts are %d of 255; neither card nor tag can be read", top)}, nil
		}
	}
	why := c.readTags(ms)
	more, ok := c.placeCard(ms, f35, img.W, img.H, s)
	why = append(why, more...)
	if ok {
		why = append(why, c.setColour(img, s)...)
	}
	return c, why, nil
}

// placeCard chooses the card among the markers and fits all geometry; ok is false where there is no card to fit.
func (c *Calibration) placeCard(ms []Marker, f35 float64, w, h int, s Settings) (why []record.Reason, ok bool) {
	chosen, second, err := chooseCard(ms)
	c.Card, c.Side = chosen.markers, chosen.side
	c.View = map[card.Side]record.View{card.SideLeaf: record.Leaf, card.SideRoot: record.Root}[chosen.side]
	switch {
	case errors.Is(err, ErrNoCard):
		return []record.Reason{gate.Because(gate.NoCard, "0 of 6 markers seen")}, false
	case errors.Is(err, ErrFewMarkers):
		return []record.Reason{gate.Because(gate.FewMarkers, "%d of 6 markers seen, %d needed", len(chosen.markers), gate.MinMarkers)}, false
	}
	if second {
		why = append(why, gate.Because(gate.TwoCards, "the larger is %.0f px wide", chosen.sizePx()*card.WidthMM/card.MarkerMM))
	}
	prior := PriorFocal(f35, w, h)
	fit, err := fitCard(chosen, prior, s.Print, w, h)
	if err != nil {
		return append(why, gate.Because(gate.FewMarkers, "the markers do not lie on a plane")), false
	}
	c.setGeometry(fit, s, prior)
	return append(why, c.geometryGates()...), true
}

// FromMarkers is the geometry of a calibration alone, from markers that were seen in a photo of w by h px: no light and
// no colour. f35 and s are as for Calibrate; ok is false where the markers make no card.
func FromMarkers(ms []Marker, f35 float64, w, h int, s Settings) (c *Calibration, why []record.Reason, ok bool) {
	c = &Calibration{PrintRelU: s.Print.RelU}
	why, ok = c.placeCard(ms, f35, w, h, s)
	return c, why, ok
}

// readTags takes the plant's number from the tags; the reasons say why there is none.
func (c *Calibration) readTags(ms []Marker) []record.Reason {
	seen := map[int]bool{}
	var numbers []string
	for _, m := range ms {
		if card.IsPlant(m.ID) {
			c.Tags = append(c.Tags, m)
			seen[m.ID] = true
			numbers = append(numbers, strconv.Itoa(m.ID))
		}
	}
	switch {
	case len(seen) == 0:
		return []record.Reason{gate.Because(gate.NoTag, "")}
	case len(seen) > 1:
		return []record.Reason{gate.Because(gate.TwoTags, "tags %s", strings.Join(numbers, ", "))}
	}
	c.Plant = c.Tags[0].ID
	if len(c.Tags) > 1 {
		return []record.Reason{gate.Because(gate.TwoTags, "the tag %d is there %d times", c.Plant, len(c.Tags))}
	}
	return nil
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

// sureBend is how many of its standard uncertainties a card must be bowed by before it is called bent: one card in 16,000 by chance.
const sureBend = 4

// geometryGates are the gates of the card's place and sharpness that the photo does not pass.
func (c *Calibration) geometryGates() (why []record.Reason) {
	if n := len(c.Card); n < gate.WarnMarkers {
		why = append(why, gate.Because(gate.SomeMarkers, "%d of 6 markers seen", n))
	} else if n < card.MarkersPerSide && c.fit.outliers > 0 {
		why = append(why, gate.Because(gate.CardCovered, "%d of 6 markers seen", n))
	}
	if c.ScalePxPerMM < gate.MinScalePxPerMM {
		why = append(why, gate.Because(gate.CardSmall, "%.2f px per mm, %.1f needed", c.ScalePxPerMM, gate.MinScalePxPerMM))
	}
	switch {
	case c.TiltDeg > gate.MaxTiltDeg:
		why = append(why, gate.Because(gate.Oblique, "%.0f degrees, the limit is %.0f", c.TiltDeg, gate.MaxTiltDeg))
	case c.TiltDeg > gate.WarnTiltDeg:
		why = append(why, gate.Because(gate.Tilted, "%.0f degrees", c.TiltDeg))
	}
	spreadMM := c.EdgeSpreadPx / c.ScalePxPerMM
	switch {
	case math.IsNaN(spreadMM):
		why = append(why, gate.Because(gate.Blurred, "no clear edge at the markers"))
	case c.EdgeSpreadPx < gate.FloorEdgeSpreadPx:
	case spreadMM > c.mostSpreadMM():
		why = append(why, gate.Because(gate.Blurred, "edges are %.1f mm wide at the card, %.1f px", spreadMM, c.EdgeSpreadPx))
	case spreadMM > gate.WarnEdgeSpreadMM:
		why = append(why, gate.Because(gate.Soft, "edges are %.1f mm wide at the card", spreadMM))
	}
	if b := c.fit.bendMM; math.Abs(b) > gate.WarnBendMM && math.Abs(b) > sureBend*c.fit.bendU {
		why = append(why, gate.Because(gate.BentCard, "bowed by about %.1f mm", math.Abs(b)))
	}
	return why
}

// mostSpreadMM is the width of an edge from which the photo is refused. A leaf photo with few pixels a mm is small rather than unsharp.
func (c *Calibration) mostSpreadMM() float64 {
	if c.View == record.Leaf && c.EdgeSpreadPx < gate.UnsharpEdgePx {
		return gate.UnsharpEdgeMM
	}
	return gate.MaxEdgeSpreadMM
}

// setColour fits light and colours to the card; the reasons are the gates of light and colour that the photo does not pass.
func (c *Calibration) setColour(img raster.BGR, s Settings) (why []record.Reason) {
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
	// Washed-out patches are what the fit lacks only where nothing hides the others.
	washedOut := !ok && hidden == 0 && clipped > 0 && len(obs)+clipped >= gate.MinPatches
	white := math.Max(l.whiteMedian[0], math.Max(l.whiteMedian[1], l.whiteMedian[2]))
	switch {
	case white < gate.MinWhite:
		why = append(why, gate.Because(gate.Dark, "white paper is %.0f of 255", white))
	case clipped > gate.MaxClippedPatches || washedOut:
		why = append(why, gate.Because(gate.ClippedHard, "%d of 24 patches washed out", clipped))
	case clipped > gate.WarnClippedPatches:
		why = append(why, gate.Because(gate.Clipped, "%d of 24 patches washed out", clipped))
	}
	switch {
	case hidden > 0 && !ok:
		return append(why, gate.Because(gate.CardHidden, "at least %d patches", hidden))
	case hidden > 0:
		why = append(why, gate.Because(gate.CardCovered, "%d of 24 patches hidden", hidden))
	}
	if !ok {
		return append(why, gate.Because(gate.ColourLost, "%d of 24 patches can be used, %d needed", len(obs), gate.MinPatches))
	}
	return append(why, c.colourGates(hidden)...)
}

// colourGates are the gates of a colour correction that could be fitted; hidden is the number of patches left out of it.
func (c *Calibration) colourGates(hidden int) (why []record.Reason) {
	switch median := c.Colour.Median; {
	case median > gate.MaxColourMedian:
		why = append(why, gate.Because(gate.ColourLost, "CIEDE2000 median %.1f", median))
	case median > gate.WarnColourMedian:
		why = append(why, gate.Because(gate.ColourCast, "CIEDE2000 median %.1f", median))
	case c.ChromaPer100 > maxChromaPer100:
		why = append(why, gate.Because(gate.ColourCast, "the light's colour changes by %.0f %% over 100 mm of card", 100*c.ChromaPer100))
	}
	if hidden == 0 && c.GradientPer100 > gate.MaxGradientPer100MM {
		why = append(why, gate.Because(gate.Gradient, "%.0f %% over 100 mm", 100*c.GradientPer100))
	}
	return why
}

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
