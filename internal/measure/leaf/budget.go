package leaf

import (
	"math"

	"phototrack/internal/colour"
	"phototrack/internal/record"
	"phototrack/internal/uncert"
)

const (
	// edgePx is the standard uncertainty of the whole outline's place, in fine pixels of a sharp photo: what is left of
	// the edge of a rendered leaf after halving the contrast is 0.05 to 0.2 px, one way round the leaf or the other.
	edgePx = 0.15
	// borderPx is the same for a border between two colour classes, whose colours JPEG keeps at half resolution.
	borderPx = 1.3
	// passingPx: between green and purple tissue the colour passes through yellow and brown on about a tenth each of a
	// border that is a pixel wide, whether those classes are there or not.
	passingPx = 0.1
	// borderShot is the part of the two that differs from photo to photo: the same border on the same leaf is misplaced in
	// much the same way each time. On rendered plants photographed on several days (package scenebank) a fifth to a third.
	borderShot = 0.3
	// regionShare is what small misplaced parts (bark between leaves, stems) make of a share.
	regionShare = 0.0006
	sharpPx     = 1.8 // edge spread of a sharp photo, 10 to 90 %
	// hueFloorDeg: light from other leaves and from the ground colours a leaf; no patch shows it.
	hueFloorDeg = 1.0
	// Shading: how light falls on tilted leaves moves L* by 10 units and more between lights at one and the same patch fit,
	// and gloss takes up to 9 units of chroma.
	shadeL, shadeChroma = 5.5, 3.0
	// glossShot is the part of what gloss takes that differs from photo to photo: a plant's leaves shine alike in each. Plants of the sample series that
	// keep their colour repeat within a quarter to a third of it.
	glossShot = 0.3
	// darkL is the lightness below which excess green is taken to be shaded as at this one: one over lightness grows without bound. By eye.
	darkL = 20
)

// regionsShot is the part of what may have been judged wrongly that varies from photo to photo of a plant: a dead tip, a pale margin or a
// stake before a leaf is in doubt in every one, and judged alike. By the bank of photos (internal/scenebank) the area of plants that do not
// change repeats to 1 to 2 % where its doubt is twice that; half of the variance is kept as varying.
const regionsShot = 0.7

// areaTerms is the budget of the leaf area.
func areaTerms(in *Input, s *Settings, t *tally, k int) []record.Term {
	a := t.area
	d := math.Max(1, in.DistanceMM)
	// Tangent of the angle at which the camera sees the leaves' centre.
	tan := 0.0
	if in.Eye[2] != 0 {
		tan = math.Hypot(t.centre.X-in.Eye[0], t.centre.Y-in.Eye[1]) / math.Abs(in.Eye[2])
	}
	return []record.Term{
		uncert.Normal("scale fit", a*in.AreaRelU),
		uncert.Common(uncert.Normal("print", 2*a*in.PrintRelU)),
		uncert.Common(uncert.Rectangular("depth common", 2*a*s.DepthCommonMM/d)),
		uncert.Rectangular("depth shot", 2*a*s.DepthShotMM/d),
		// A plant keeps the slope of its leaves and a grower the side to shoot from, so this cancels in a change; what
		// a slightly other angle does is in the noise between days (0.7 % to begin with).
		uncert.Common(uncert.Rectangular("leaf slope", a*math.Tan(s.SlopeDeg*math.Pi/180)*tan)),
		uncert.Normal("mask edge", edgePx*blurFactor(in, k)*t.outline*t.pxMM),
		uncert.Common(uncert.Normal("regions", t.doubt*math.Sqrt(1-regionsShot*regionsShot))),
		uncert.Normal("regions shot", t.doubt*regionsShot),
	}
}

// blurFactor is how much wider edges are than in a sharp photo, in fine pixels of k photo pixels; at least 1.
func blurFactor(in *Input, k int) float64 {
	return math.Max(1, in.EdgeSpreadPx/float64(k)/sharpPx)
}

// turned are the shares of each class over the judged area by the palette: as they are, and with every hue turned back
// and forth by the colour fit's error.
type turned struct{ lo, mid, hi [5]float64 }

func turn(cells []cell, ct *ClassTable, deg float64) (t turned) {
	t.lo, t.mid, t.hi = shares(cells, ct, -deg), shares(cells, ct, 0), shares(cells, ct, deg)
	return
}

func shares(cells []cell, ct *ClassTable, deg float64) (out [5]float64) {
	f := newFastClasses(ct)
	s64, c64 := math.Sincos(deg * math.Pi / 180)
	sin, cos := float32(s64), float32(c64)
	sum := 0.0
	for i := range cells {
		c := &cells[i]
		a, b := float32(c.lab.A), float32(c.lab.B)
		k := f.of(float32(c.lab.L), a*cos-b*sin, a*sin+b*cos)
		out[k] += c.mm2
		if k != NoClass {
			sum += c.mm2
		}
	}
	for i := range out {
		if sum > 0 {
			out[i] /= sum
		}
	}
	return
}

// classShare is a class's share of the judged area, of all leaves or of a part of them, and what it is with every hue turned back and
// forth by the colour fit's error.
type classShare struct {
	class         uint8
	share, lo, hi float64
}

// terms is the budget of the share, on pixels of k x k photo pixels: what happens when the limits move by the colour fit's own error, and
// where the borders between classes lie. The latter is mostly common to all photos of a plant.
func (s *classShare) terms(in *Input, t *tally, k int) []record.Term {
	judged := math.Max(noArea, t.area-t.class[NoClass])
	px := t.pxMM * blurFactor(in, k)
	regions := t.doubt / judged * math.Abs(t.doubtful[s.class]-s.share)
	border := px / judged * math.Hypot(borderPx*t.border[s.class], passingPx*t.borders()/2)
	return []record.Term{
		uncert.Normal("colour fit", math.Max(math.Abs(s.hi-s.share), math.Abs(s.share-s.lo))),
		uncert.Common(uncert.Normal("class border", border*math.Sqrt(1-borderShot*borderShot))),
		uncert.Normal("class border shot", border*borderShot),
		uncert.Normal("mask edge", edgePx*px*t.outline/judged*(2*s.share*(1-s.share)+0.02)),
		// What is in doubt has other colours than the leaves, by doubtful; how much of it is wrong is t.doubt.
		uncert.Common(uncert.Normal("regions", math.Sqrt(1-regionsShot*regionsShot)*regions)),
		uncert.Normal("regions shot", math.Hypot(regionsShot*regions, regionShare)),
	}
}

// borders is twice the length of all borders between classes, mm: each border counts for both its classes.
func (t *tally) borders() (sum float64) {
	for _, l := range t.border {
		sum += l
	}
	return
}

func hueU(in *Input) float64 { return math.Hypot(in.HueDegU, hueFloorDeg) }

// colourStats are area-weighted medians over the leaves.
type colourStats struct {
	L, A, B, Chroma, Hue, DGCI, ExG             float64
	spreadL, spreadC, spreadH, spreadA, spreadB float64 // half the distance between quartiles
}

func statsOf(cells []cell) (s colourStats) {
	v, w := make([]float64, 0, len(cells)), make([]float64, 0, len(cells))
	med := func(f func(c *cell) float64) (m, spread float64) {
		v, w = v[:0], w[:0]
		for i := range cells {
			if x := f(&cells[i]); cells[i].mm2 > 0 && !math.IsNaN(x) {
				v, w = append(v, x), append(w, cells[i].mm2)
			}
		}
		q := weightedQuantiles(v, w, 0.25, 0.5, 0.75)
		return q[1], (q[2] - q[0]) / 2
	}
	s.L, s.spreadL = med(func(c *cell) float64 { return c.lab.L })
	s.A, s.spreadA = med(func(c *cell) float64 { return c.lab.A })
	s.B, s.spreadB = med(func(c *cell) float64 { return c.lab.B })
	s.Chroma, s.spreadC = med(func(c *cell) float64 { return c.lab.Chroma() })
	// Hue is an angle: its median is taken about the direction of the mean colour.
	var sa, sb float64
	for i := range cells {
		c := &cells[i]
		sa += c.mm2 * c.lab.A
		sb += c.mm2 * c.lab.B
	}
	mid := math.Atan2(sb, sa) * 180 / math.Pi
	var d float64
	d, s.spreadH = med(func(c *cell) float64 {
		if c.class == NoClass {
			return math.NaN()
		}
		return math.Remainder(c.lab.HueDeg()-mid, 360)
	})
	s.Hue = math.Mod(mid+d+720, 360)
	s.DGCI, _ = med(func(c *cell) float64 { return colour.DGCI(c.rgb[0], c.rgb[1], c.rgb[2]) })
	s.ExG, _ = med(func(c *cell) float64 { return colour.ExcessGreen(c.rgb[0], c.rgb[1], c.rgb[2]) })
	return
}

// colourQuantities are the continuous measures with their budgets.
func colourQuantities(in *Input, s colourStats) []record.Quantity {
	q := uncert.Quantity
	fit := func(u float64) record.Term { return uncert.Normal("colour fit", u) }
	shade := func(u float64) record.Term { return uncert.Normal("shading", u) }
	h := hueU(in) * math.Pi / 180
	au := math.Hypot(in.AU, h*math.Abs(s.B))
	bu := math.Hypot(in.BU, h*math.Abs(s.A))
	cu := math.Hypot(in.AU, in.BU) / math.Sqrt2
	// What gloss takes of chroma it takes of a* and b* in proportion.
	gloss := func(v, fit float64) []record.Term {
		u := shadeChroma * math.Abs(v) / math.Max(1, s.Chroma)
		return []record.Term{
			uncert.Normal("colour fit", fit),
			uncert.Common(uncert.Normal("shading", u*math.Sqrt(1-glossShot*glossShot))),
			uncert.Normal("shading shot", u*glossShot),
		}
	}
	return []record.Quantity{
		q(record.LeafLightness, "1", s.L, fit(in.LU), shade(shadeL)),
		q(record.LeafA, "1", s.A, gloss(s.A, au)...),
		q(record.LeafB, "1", s.B, gloss(s.B, bu)...),
		q(record.LeafChroma, "1", s.Chroma, fit(cu), shade(shadeChroma)),
		q(record.LeafHue, "deg", s.Hue, fit(hueU(in))),
		// One degree of HSB hue is 1/180 of the index, and saturation and brightness count a third each.
		q(record.GreenIndex, "1", s.DGCI, fit(math.Hypot(hueU(in)/180, in.LU/300)), shade(shadeL/100)),
		// At a given chroma excess green goes with one over lightness.
		q(record.ExcessGreen, "1", s.ExG, fit(0.01+h*math.Abs(s.ExG)), shade(math.Abs(s.ExG)*shadeL/math.Max(darkL, s.L))),
	}
}
