package card

import (
	"math"
	"sort"
)

const (
	// WhiteClearMM is how far a white sample's centre stays from ink and from the card's edge, so that
	// a small disc about it is bare paper even if the card was cut a little out of true.
	WhiteClearMM = 1.2
	// whiteSpacingMM keeps samples apart: enough of them to fit a light gradient, and no clumps.
	whiteSpacingMM = 6.0
	// clearEnoughMM caps the clearance that counts when samples are ranked, so that the middle of a
	// wide blank area is not preferred to the middle of the 5 mm margin.
	clearEnoughMM = 2.5
	whiteGridMM   = 0.5
)

// WhiteSamplesMM gives points of the card that are bare white paper on either side, spread over the
// whole card: at least WhiteClearMM from every printed thing and from the edge, and well apart from
// each other. They follow from the geometry by rule: of all points of a fine grid, those with the most
// room are taken first, each next one only if it keeps its distance. The order is by y, then x.
func WhiteSamplesMM() []MM {
	type candidate struct {
		p     MM
		clear float64
	}
	var all []candidate
	inked := inkedAreas()
	for y := whiteGridMM; y < HeightMM; y += whiteGridMM {
		for x := whiteGridMM; x < WidthMM; x += whiteGridMM {
			p := MM{x, y}
			if c := clearance(p, inked); c >= WhiteClearMM {
				all = append(all, candidate{p, math.Min(c, clearEnoughMM)})
			}
		}
	}
	sort.SliceStable(all, func(i, j int) bool { return all[i].clear > all[j].clear })
	var out []MM
	for _, c := range all {
		if farFromAll(c.p, out) {
			out = append(out, c.p)
		}
	}
	sort.Slice(out, func(i, j int) bool {
		if out[i].Y != out[j].Y {
			return out[i].Y < out[j].Y
		}
		return out[i].X < out[j].X
	})
	return out
}

func farFromAll(p MM, taken []MM) bool {
	for _, q := range taken {
		if math.Hypot(p.X-q.X, p.Y-q.Y) < whiteSpacingMM {
			return false
		}
	}
	return true
}

// inkedAreas lists what is printed: markers, patches, ruler, title areas.
func inkedAreas() []RectMM {
	var out []RectMM
	for _, p := range markerTopLeftMM {
		out = append(out, RectMM{p.X, p.Y, MarkerMM, MarkerMM})
	}
	for _, p := range Patches() {
		q := p.TopLeftMM()
		out = append(out, RectMM{q.X, q.Y, PatchSideMM, PatchSideMM})
	}
	titles := TitleAreasMM()
	return append(out, RulerAreaMM(), titles[0], titles[1])
}

// clearance is the distance from p to the nearest printed area or card edge, in mm.
func clearance(p MM, inked []RectMM) float64 {
	d := math.Min(math.Min(p.X, WidthMM-p.X), math.Min(p.Y, HeightMM-p.Y))
	for _, r := range inked {
		dx := math.Max(math.Max(r.X-p.X, p.X-r.X-r.W), 0)
		dy := math.Max(math.Max(r.Y-p.Y, p.Y-r.Y-r.H), 0)
		d = math.Min(d, math.Hypot(dx, dy))
	}
	return d
}
