package root

import (
	"encoding/json"
	"fmt"
	"math"

	"phototrack/internal/raster"
	"phototrack/internal/record"
)

// wallMeta is what Wall.Meta writes.
type wallMeta struct {
	PxPerMM  float64    `json:"px_per_mm"`
	ZeroPx   float64    `json:"zero_px"`
	Pot      record.Pot `json:"pot"`
	LengthMM []float64  `json:"length_mm"`
	SeenMM   float64    `json:"seen_mm"`
	Traits   []string   `json:"traits,omitempty"`
	VeilW    int        `json:"veil_w,omitempty"`
	VeilH    int        `json:"veil_h,omitempty"`
	Veil     []byte     `json:"veil,omitempty"`

	Doubt [][]record.Point `json:"doubt,omitempty"`

	FaintW   int     `json:"faint_w,omitempty"`
	FaintH   int     `json:"faint_h,omitempty"`
	Faint    []byte  `json:"faint,omitempty"`
	NotSeenU float64 `json:"not_seen_u,omitempty"`
}

// Meta is the small text that, with the wall's picture and its centrelines, makes the Wall again.
func (w *Wall) Meta() string {
	b, err := json.Marshal(wallMeta{w.PxPerMM, w.ZeroPx, w.Pot, w.LengthMM, w.SeenMM, w.Traits, w.Veil.W, w.Veil.H, w.Veil.Bits, w.Doubt, w.Faint.W, w.Faint.H, w.Faint.Bits, w.NotSeenU})
	if err != nil {
		return ""
	}
	return string(b)
}

// ParseWall puts a stored wall together again: the text of Meta, the picture (JPEG is good enough) and the centrelines.
func ParseWall(meta string, pic raster.BGR, roots [][]record.Point) (Wall, error) {
	var m wallMeta
	if err := json.Unmarshal([]byte(meta), &m); err != nil {
		return Wall{}, fmt.Errorf("stored wall: %w", err)
	}
	if m.PxPerMM <= 0 || !m.Pot.Known() || len(pic.Pix) != 3*pic.W*pic.H {
		return Wall{}, fmt.Errorf("stored wall: sizes do not fit")
	}
	return Wall{Pic: pic, PxPerMM: m.PxPerMM, ZeroPx: m.ZeroPx, Pot: m.Pot, Roots: roots, LengthMM: m.LengthMM, SeenMM: m.SeenMM, Traits: m.Traits, Veil: Veil{m.VeilW, m.VeilH, m.Veil}, Doubt: m.Doubt, Faint: Veil{m.FaintW, m.FaintH, m.Faint}, NotSeenU: m.NotSeenU}, nil
}

// Registration says how the wall of a later session lies on that of an earlier one.
type Registration struct {
	OK           bool
	Why          string  // in words, where it could not be done
	RotationDeg  float64 // the pot was turned by this much, to the right as seen from the camera
	ShiftMM      float64 // and lies this much lower on the wall
	Score        float64 // correlation of the two patterns, -1..1
	Distinct     float64 // how far the score stands above those of other rotations, in their standard deviations
	OverlapShare float64 // of the later wall that is on both

	NewMM, GoneMM, KeptMM float64          // on the common wall
	NewU, GoneU           float64          // standard uncertainties, mm
	New, Gone, Kept       [][]record.Point // on the later wall, mm
}

const (
	gridMM       = 0.75 // of the grid the patterns are compared on
	leastOverlap = 50.0 * math.Pi / 180
	leastScore   = 0.22
	leastStands  = 6.0
	maxShiftMM   = 4.5
	samePotMM    = 3.0 // by which the diameters of one pot may be given apart: a rim is measured to a millimetre or two (by eye)
	samePotTall  = 6.0 // mm, the same for its height, of which rim and moulded foot leave more room
	mostGrey     = 40  // grey levels from the surroundings beyond which a glint or a label says no more than a root; by eye
	peakColumns  = 8   // of the grid, 6 mm, to either side of the best turn: what fits there is the same turn
)

// Register finds by how much the pot was turned between two sessions from the wall's own pattern of roots and bark, and
// what is new, gone and kept on the stretch of wall both show. Another pot, or a pattern that fits nowhere better than
// by chance, gives OK false with the reason in words.
func Register(before, after *Wall) Registration {
	if math.Abs(before.Pot.TopMM-after.Pot.TopMM) > samePotMM || math.Abs(before.Pot.BottomMM-after.Pot.BottomMM) > samePotMM || math.Abs(before.Pot.HeightMM-after.Pot.HeightMM) > samePotTall {
		return Registration{Why: "the pot is another one"}
	}
	a, b := newPattern(before), newPattern(after)
	best, mean, sd := match(a, b)
	r := Registration{Score: best.score, RotationDeg: best.turn * 180 / math.Pi, ShiftMM: best.shift}
	if sd > 0 {
		r.Distinct = (best.score - mean) / sd
	}
	if r.Score < leastScore || r.Distinct < leastStands {
		r.Why = fmt.Sprintf("the pattern of the wall fits nowhere (correlation %.2f, %.1f standard deviations above chance)", r.Score, r.Distinct)
		return r
	}
	r.OK = true
	r.OverlapShare = best.overlap
	r.compare(before, after, best)
	return r
}

// pattern is a wall on a grid of azimuth by depth, free of shading: what differs from its surroundings, in units of its
// own spread. NaN where nothing was seen.
type pattern struct {
	w, h int
	dAz  float64 // rad per column
	mid  int     // column of azimuth 0
	v    []float32
}

func newPattern(wl *Wall) *pattern {
	r := (wl.Pot.TopMM + wl.Pot.BottomMM) / 4
	p := &pattern{dAz: gridMM / r}
	p.mid = int(limitAzimuth / p.dAz)
	p.w, p.h = 2*p.mid+1, int(float64(wl.Pic.H)/wl.PxPerMM/gridMM)
	p.v = make([]float32, p.w*p.h)
	g := raster.NewFloat(p.w, p.h)
	seen := make([]bool, p.w*p.h)
	half := gridMM * wl.PxPerMM / 2
	for y := range p.h {
		depth := float64(y) * gridMM
		for x := range p.w {
			px, py := wl.px(record.Point{X: float64(x-p.mid) * p.dAz * wl.radius(depth), Y: depth})
			v, ok := meanGrey(wl.Pic, px, py, half)
			g.Pix[y*p.w+x], seen[y*p.w+x] = v, ok
		}
	}
	wide := raster.Float{W: g.W, H: g.H, Pix: append([]float32(nil), g.Pix...)}
	blur(wide, 7)                       // some 5 mm
	skip := int(math.Round(9 / gridMM)) // rim, leaves and the top of the filling change for other reasons
	for i := range p.v {
		d := g.Pix[i] - wide.Pix[i]
		p.v[i] = max(-mostGrey, min(mostGrey, d))
		if !seen[i] || i/p.w < skip || i/p.w >= p.h-int(math.Round(footMM/gridMM)) {
			p.v[i] = float32(math.NaN())
		}
	}
	return p
}

// meanGrey is the mean grey value over a small square.
func meanGrey(pic raster.BGR, x, y, half float64) (float32, bool) {
	var sum float64
	n := 0
	for v := int(y - half); v <= int(y+half); v++ {
		for u := int(x - half); u <= int(x+half); u++ {
			if u < 0 || v < 0 || u >= pic.W || v >= pic.H {
				continue
			}
			q := pic.Pix[3*(v*pic.W+u):]
			if max(q[0], q[1], q[2]) <= 4 { // nothing seen there, as a JPEG keeps it
				continue
			}
			sum += float64(q[0])*0.25 + float64(q[1])*0.5 + float64(q[2])*0.25
			n++
		}
	}
	if n == 0 {
		return 0, false
	}
	return float32(sum / float64(n)), true
}

type fitTurn struct {
	turn, shift, score, overlap float64 // rad, mm
}

// match tries all rotations with enough overlap and small shifts down; mean and sd are of the best scores at rotations
// away from the winner.
func match(a, b *pattern) (best fitTurn, mean, sd float64) {
	best.score = -1
	reach := a.w - int(leastOverlap/a.dAz)
	if reach < 0 {
		return best, 0, 0
	}
	ds := int(math.Round(maxShiftMM / gridMM))
	top := make([]float64, 2*reach+1) // by rotation, the best of all shifts
	for i := range top {
		top[i] = -1
	}
	at := reach
	c := newCorrelator(a, b, reach)
	scores := make([]float64, 2*reach+1)
	for dy := -ds; dy <= ds; dy++ {
		c.scores(dy, scores)
		for i, s := range scores {
			top[i] = math.Max(top[i], s)
			if s > best.score {
				best = fitTurn{turn: float64(i-reach) * a.dAz, shift: float64(dy) * gridMM, score: s, overlap: c.share(i - reach)}
				at = i
			}
		}
	}
	var v []float64
	for i, s := range top {
		if d := i - at; d < -peakColumns || d > peakColumns {
			v = append(v, s)
		}
	}
	mean, sd = moments(v)
	return best, mean, sd
}

func moments(v []float64) (mean, sd float64) {
	if len(v) < 2 {
		return 0, 0
	}
	for _, x := range v {
		mean += x / float64(len(v))
	}
	for _, x := range v {
		sd += (x - mean) * (x - mean) / float64(len(v)-1)
	}
	return mean, math.Sqrt(sd)
}
