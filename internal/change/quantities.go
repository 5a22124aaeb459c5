package change

import (
	"math"

	"phototrack/internal/record"
)

// kind is how a quantity is compared: on which scale, and with what noise between days while there are no data.
type kind struct {
	name     record.QuantityName
	relative bool    // growth is exponential and noise in proportion: noise and effects are judged on the log scale
	circular bool    // an angle, 0..360
	absolute float64 // prior noise between days, standard deviation in the quantity's unit
	share    float64 // the same in proportion to the value
	whole    bool    // the prior is all noise between days; else (area) what the changed view adds to the budget
	exact    bool    // typed, not measured: no interval, a difference is a difference
	first    bool    // may stand on the first screen, and effects of events are worked out
}

// kinds are the quantities that are compared. What describes the photo (scale, tilt, distance, colour error, wall seen)
// is not. The first screen leaves out what repeats another quantity (line count, chroma) and what depends on how the
// light falls on tilted leaves (lightness, the green indices, which contain it): changes of colour are judged by hue,
// a*, b* and shares. Priors for area, root length and shares are settings; the others are plain judgement, replaced by
// the collection's own data as they come.
func kinds(s Settings) map[record.QuantityName]kind {
	list := []kind{
		{name: record.LeafArea, relative: true, absolute: 20, share: s.NoiseArea, first: true},
		{name: record.GreenShare, absolute: s.NoiseShare, first: true},
		{name: record.YellowShare, absolute: s.NoiseShare, first: true},
		{name: record.PurpleShare, absolute: s.NoiseShare, first: true},
		{name: record.BrownShare, absolute: s.NoiseShare, first: true},
		{name: record.UnjudgedShare, absolute: 2 * s.NoiseShare},
		{name: record.OuterDiscolouredShare, absolute: 2 * s.NoiseShare},
		{name: record.InnerDiscolouredShare, absolute: 2 * s.NoiseShare},
		{name: record.LeafHue, circular: true, absolute: 1.5, first: true},
		{name: record.LeafA, absolute: 1, first: true},
		{name: record.LeafB, absolute: 1.5, first: true},
		{name: record.LeafChroma, absolute: 1.5},
		{name: record.LeafLightness, absolute: 2},
		{name: record.GreenIndex, absolute: 0.02},
		{name: record.ExcessGreen, absolute: 0.02},
		{name: record.RootLength, relative: true, absolute: 5, share: s.NoiseRootLength, first: true},
		{name: record.RootLongest, relative: true, absolute: 4, share: s.NoiseRootLength, first: true},
		{name: record.RootIntersect, relative: true, absolute: 8, share: s.NoiseRootLength},
		{name: record.RootDiameter, absolute: 0.1, share: 0.03, first: true},
		{name: record.RootTips, absolute: 0.7, share: 0.1, first: true},
		{name: record.RootTipsGreen, absolute: 0.7, share: 0.1, first: true},
		{name: record.WallCoverShare, absolute: s.NoiseShare},
		{name: record.PartLength, relative: true, absolute: 0.2, share: s.NoisePartLength, first: true},
		{name: record.PartWidth, absolute: s.NoisePartWidth, first: true},
		{name: record.PartBend, absolute: s.NoisePartDeg, first: true},
		{name: record.PartAngle, circular: true, absolute: s.NoisePartDeg, first: true},
		{name: record.CountOf, exact: true},
	}
	out := make(map[record.QuantityName]kind, len(list))
	for _, k := range list {
		k.whole = k.name != record.LeafArea && !record.IsOfPart(k.name)
		out[k.name] = k
	}
	return out
}

// noise is the predicted noise of a session of this value whose budget varies by u. That of area is the budget (depth and
// edge vary from photo to photo) and what a slightly other view shows of the plant, that of parts likewise; the other priors are of all noise
// together, and a budget that is larger takes their place.
func (k kind) noise(value, u float64) float64 {
	p := k.prior(value)
	if k.whole {
		return math.Max(p, u)
	}
	return math.Hypot(p, u)
}

// prior is the assumed noise of a session of this value.
func (k kind) prior(value float64) float64 { return math.Hypot(k.absolute, k.share*value) }

// difference is to - from; of angles the shorter way round.
func (k kind) difference(from, to float64) float64 {
	d := to - from
	if k.circular {
		d = math.Mod(d+540, 360) - 180
	}
	return d
}

// onFirstScreen also lets in what is computed elsewhere.
func onFirstScreen(quantity record.QuantityName, view record.View, table map[record.QuantityName]kind) bool {
	k, ok := table[quantity]
	return !ok || k.first
}
