package calib

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"phototrack/internal/card"
	"phototrack/internal/cgats"
	"phototrack/internal/colour"
	"phototrack/internal/gate"
	"phototrack/internal/geom"
	"phototrack/internal/raster"
)

// Names of the ways in which a card's colours are known; they stand in results and reports.
const (
	ModeNominal   = "nominal"
	ModeReadings  = "own card, instrument readings"
	ModeReference = "own card, reference photo"
	ModeBridged   = "own card, bridged from the card before by a photo of both"
)

// What can be wrong with the source of a card's own colours.
var (
	ErrNoPatches    = errors.New("too few of the card's patches are in the readings")
	ErrReference    = errors.New("the reference photo does not show the card well enough")
	ErrNotTwoCards  = errors.New("the photo does not show two whole cards")
	ErrTwiceReading = errors.New("a patch is in the readings twice")
)

// ReadingTargets matches instrument readings to the card's patches: by SAMPLE_NAME, then by SAMPLE_ID, each the
// patch's name ("deep green"), its place (A1..A12, B1..B12) or its number (1..24, row A first). Patches without a reading are
// NaN and are left out of fits. The error is ErrNoPatches or ErrTwiceReading, wrapped.
func ReadingTargets(f *cgats.File) (PatchTargets, error) {
	out := missingTargets()
	n := 0
	for _, s := range f.Samples {
		i, ok := patchByName(s.Name)
		if !ok {
			i, ok = patchByName(s.ID)
		}
		if !ok {
			continue
		}
		if !math.IsNaN(out[i][0]) {
			return nil, fmt.Errorf("%w: line %d, %s", ErrTwiceReading, s.Line, card.Patches()[i].Name)
		}
		out[i] = s.Linear
		n++
	}
	if n < gate.MinPatches {
		return nil, fmt.Errorf("%w: %d, %d are needed; name them as on the card (neutral 1, deep green) or A1 to A12, B1 to B12", ErrNoPatches, n, gate.MinPatches)
	}
	return out, nil
}

func missingTargets() PatchTargets {
	out := make(PatchTargets, 2*card.PatchesPerRow)
	for i := range out {
		out[i] = colour.RGB{math.NaN(), math.NaN(), math.NaN()}
	}
	return out
}

func patchByName(s string) (int, bool) {
	plain := func(s string) string {
		return strings.NewReplacer(" ", "", "_", "", "-", "", ".", "").Replace(strings.ToLower(s))
	}
	key := plain(s)
	if key == "" {
		return 0, false
	}
	for i, p := range card.Patches() {
		if key == plain(p.Name) {
			return i, true
		}
		if rest, on := strings.CutPrefix(key, strings.ToLower(p.Row)); on {
			if k, err := strconv.Atoi(rest); err == nil && k == p.K+1 {
				return i, true
			}
		}
	}
	if n, err := strconv.Atoi(key); err == nil && n >= 1 && n <= 2*card.PatchesPerRow {
		return n - 1, true
	}
	return 0, false
}

// seenCard is a card's patches as a photo shows them.
type seenCard struct {
	sighting
	obs   []patchObs
	light light
}

func seeCard(img raster.BGR, s sighting, f35 float64, print Print, targets PatchTargets) (seenCard, error) {
	fit, err := fitCard(s, PriorFocal(f35, img.W, img.H), print, img.W, img.H)
	if err != nil {
		return seenCard{}, err
	}
	v := seenCard{sighting: s, light: fitLight(img, fit.free)}
	scale := s.sizePx() / card.MarkerMM
	v.obs, _, _ = observePatches(img, fit.free, scale, v.light, targets)
	return v, nil
}

func (v sighting) centrePx() (c geom.PX) {
	for _, id := range sortedIDs(v.markers) {
		for _, p := range v.markers[id].Corners {
			c.X, c.Y = c.X+p.X/float64(4*len(v.markers)), c.Y+p.Y/float64(4*len(v.markers))
		}
	}
	return
}

// paper is the camera's linear light from bare paper at the card's centre.
func (v seenCard) paper() (rgb [3]float64) {
	const cx, cy = card.WidthMM / 2, card.HeightMM / 2
	g := v.light.surface[0].at(cx, cy)
	return [3]float64{math.Exp(g + v.light.surface[1].at(cx, cy)), math.Exp(g), math.Exp(g + v.light.surface[2].at(cx, cy))}
}

// ReferenceTargets takes a card's colours from a photo of it: each patch as it is when the greys are brought to neutral
// and to their nominal lightness. Photos that are corrected to them show colours as this photo showed them under a
// neutral light. f35 is EXIF's 35 mm equivalent, 0 where missing. The error is ErrReference, wrapped, or a fault.
func ReferenceTargets(img raster.BGR, f35 float64, print Print) (PatchTargets, error) {
	ms, err := FindMarkers(img)
	if err != nil {
		return nil, err
	}
	s, _, err := chooseCard(ms)
	if err != nil || len(s.markers) < card.MarkersPerSide {
		return nil, fmt.Errorf("%w: %d of %d markers seen", ErrReference, len(s.markers), card.MarkersPerSide)
	}
	v, err := seeCard(img, s, f35, print, NominalTargets())
	if err != nil {
		return nil, fmt.Errorf("%w: %v", ErrReference, err)
	}
	fit, ok := fitNeutrals(v.obs)
	if !ok {
		return nil, fmt.Errorf("%w: too few greys can be used", ErrReference)
	}
	return targetsBy(v.obs, func(o patchObs) colour.RGB { return fit.corrected(o) })
}

func targetsBy(obs []patchObs, colourOf func(patchObs) colour.RGB) (PatchTargets, error) {
	if len(obs) < gate.MinPatches {
		return nil, fmt.Errorf("%w: %d patches can be used, %d are needed", ErrReference, len(obs), gate.MinPatches)
	}
	out := missingTargets()
	for _, o := range obs {
		c := colourOf(o)
		for k := range c {
			c[k] = math.Max(c[k], darkest)
		}
		out[o.index] = c
	}
	return out, nil
}

// clearlyBest is how much better, as a share, a model with more parameters must foretell left-out greys to be taken (chosen by eye).
const clearlyBest = 0.7

// darkest linear light of a patch: black ink reflects more.
const darkest = 1e-4

// fitNeutrals corrects by the greys alone: a gain for each channel, and the tone that foretells a left-out grey clearly
// best, the simplest first.
func fitNeutrals(obs []patchObs) (best ColourFit, ok bool) {
	var greys []patchObs
	for _, o := range obs {
		if o.neutral {
			greys = append(greys, o)
		}
	}
	if len(greys) < minGreys {
		return best, false
	}
	curves := &curveCache{}
	least := math.Inf(1)
	for _, t := range []toneKind{toneSRGB, toneGlare, toneCurve} {
		f, fitted := fitModel(greys, t, matrixGains, curves)
		if !fitted {
			continue
		}
		leaveOneOut(greys, t, matrixGains, curves, &f)
		if f.Median > 0 && f.Median+f.Worst < clearlyBest*least {
			best, least, ok = f, f.Median+f.Worst, true
		}
	}
	return best, ok
}

// BridgedTargets takes a new card's colours from a photo that shows the card before it too, whose colours are known.
// The older card lies left of the newer one, or above it. Both are taken to be on like paper: white paper links the
// light at the two places. f35 as for Calibrate. The error is ErrNotTwoCards or ErrReference, wrapped, or a fault.
func BridgedTargets(img raster.BGR, f35 float64, print Print, older PatchTargets) (PatchTargets, error) {
	ms, err := FindMarkers(img)
	if err != nil {
		return nil, err
	}
	cards := wholeCards(ms)
	if len(cards) != 2 {
		return nil, fmt.Errorf("%w: %d seen", ErrNotTwoCards, len(cards))
	}
	a, err := seeCard(img, cards[0], f35, print, older)
	if err != nil {
		return nil, fmt.Errorf("%w: %v", ErrReference, err)
	}
	b, err := seeCard(img, cards[1], f35, print, NominalTargets())
	if err != nil {
		return nil, fmt.Errorf("%w: %v", ErrReference, err)
	}
	fit, ok := fitColour(a.obs)
	if !ok || !a.light.ok || !b.light.ok {
		return nil, fmt.Errorf("%w: too few patches or too little white paper can be used", ErrReference)
	}
	pa, pb := fit.tonedLight(a.paper()), fit.tonedLight(b.paper())
	return targetsBy(b.obs, func(o patchObs) colour.RGB {
		x := fit.toned(o)
		for c := range 3 {
			x[c] *= pa[c] / pb[c]
		}
		return fit.apply(x)
	})
}

// tonedLight passes linear camera light through the tone tables.
func (f *ColourFit) tonedLight(l [3]float64) colour.RGB {
	o := patchObs{gain: [3]float64{1, 1, 1}}
	for c := range 3 {
		o.rgb[c] = 255 * colour.Encode(l[c])
	}
	return f.toned(o)
}

// CountCards is the number of cards in a photo of which all markers are seen.
func CountCards(img raster.BGR) (int, error) {
	ms, err := FindMarkers(img)
	return len(wholeCards(ms)), err
}

// wholeCards gives the cards of which all markers are seen, the older one's place first: left to right, or top to
// bottom where they lie one above the other.
func wholeCards(ms []Marker) (out []sighting) {
	rest := slices.Clone(ms)
	for {
		s, _, err := chooseCard(rest)
		if err != nil || len(s.markers) < card.MarkersPerSide {
			break
		}
		out = append(out, s)
		rest = slices.DeleteFunc(rest, func(m Marker) bool {
			o, on := s.markers[m.ID]
			return on && o.Corners == m.Corners
		})
	}
	if len(out) == 2 {
		p, q := out[0].centrePx(), out[1].centrePx()
		dx, dy := q.X-p.X, q.Y-p.Y
		if math.Abs(dx) >= math.Abs(dy) && dx < 0 || math.Abs(dx) < math.Abs(dy) && dy < 0 {
			out[0], out[1] = out[1], out[0]
		}
	}
	return out
}
