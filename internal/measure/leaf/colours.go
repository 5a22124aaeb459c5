package leaf

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"slices"

	"phototrack/internal/colour"
)

// ColourPart is one colour of the leaves and the share of the leaf area that has it.
type ColourPart struct {
	L, A, B float64 // CIELAB
	Share   float64 // of the leaf area; all parts together are 1
}

// Colours is the distribution of the leaves' colours, reduced to a few parts: small enough to be kept with every photo,
// fine enough to tell a change that crosses no class border.
type Colours struct {
	Parts []ColourPart
	// Standard uncertainties of these colours by the colour fit.
	LU, AU, BU float64
}

const (
	maxParts          = 24
	partL, partAB     = 6.0, 5.0 // CIELAB size of the cells that parts are made of
	shareUnits        = 10000    // shares are whole ten-thousandths, so that they survive being written
	minimumPartShare  = 0.0005
	coloursDecimals   = 10.0
	coloursFormatName = "lab-parts-1"
)

// colours reduces the palette.
func coloursOf(in *Input, cells []cell) Colours {
	type key [3]int
	sum := map[key]*ColourPart{}
	total := 0.0
	for i := range cells {
		c := &cells[i]
		if c.mm2 <= 0 {
			continue
		}
		k := key{int(math.Floor(c.lab.L / partL)), int(math.Floor(c.lab.A / partAB)), int(math.Floor(c.lab.B / partAB))}
		p := sum[k]
		if p == nil {
			p = &ColourPart{}
			sum[k] = p
		}
		p.L, p.A, p.B, p.Share = p.L+c.mm2*c.lab.L, p.A+c.mm2*c.lab.A, p.B+c.mm2*c.lab.B, p.Share+c.mm2
		total += c.mm2
	}
	var parts []ColourPart
	for _, p := range sum {
		parts = append(parts, ColourPart{p.L / p.Share, p.A / p.Share, p.B / p.Share, p.Share / total})
	}
	return Colours{Parts: mergeParts(parts), LU: in.LU, AU: in.AU, BU: in.BU}
}

// mergeParts joins the smallest part with the one nearest to it until there are few enough.
func mergeParts(p []ColourPart) []ColourPart {
	order := func(a, b ColourPart) int {
		for _, d := range [4]float64{b.Share - a.Share, a.L - b.L, a.A - b.A, a.B - b.B} {
			if d < 0 {
				return -1
			} else if d > 0 {
				return 1
			}
		}
		return 0
	}
	slices.SortFunc(p, order)
	for len(p) > 1 && (len(p) > maxParts || p[len(p)-1].Share < minimumPartShare) {
		s := p[len(p)-1]
		p = p[:len(p)-1]
		best, bd := 0, math.Inf(1)
		for i, q := range p {
			if d := (q.L-s.L)*(q.L-s.L) + (q.A-s.A)*(q.A-s.A) + (q.B-s.B)*(q.B-s.B); d < bd {
				best, bd = i, d
			}
		}
		q := &p[best]
		w := q.Share + s.Share
		mix := func(x, y float64) float64 { return (x*q.Share + y*s.Share) / w }
		*q = ColourPart{mix(q.L, s.L), mix(q.A, s.A), mix(q.B, s.B), w}
		slices.SortFunc(p, order)
	}
	return p
}

type coloursText struct {
	Format string       `json:"format"`
	U      [3]float64   `json:"u"`
	Parts  [][4]float64 `json:"parts"`
}

// String writes the distribution as one line of JSON, to a tenth of a CIELAB unit.
func (c Colours) String() string {
	r := func(x float64) float64 { return math.Round(x*coloursDecimals) / coloursDecimals }
	t := coloursText{Format: coloursFormatName, U: [3]float64{round2(c.LU), round2(c.AU), round2(c.BU)}}
	for _, p := range c.Parts {
		t.Parts = append(t.Parts, [4]float64{r(p.L), r(p.A), r(p.B), math.Round(p.Share*shareUnits) / shareUnits})
	}
	b, err := json.Marshal(t)
	if err != nil {
		return "" // a colour that is no number
	}
	return string(b)
}

// ErrColours says that a text is no distribution of colours.
var ErrColours = errors.New("not a distribution of leaf colours")

// ParseColours reads what String wrote. Errors: ErrColours.
func ParseColours(s string) (Colours, error) {
	var t coloursText
	if err := json.Unmarshal([]byte(s), &t); err != nil {
		return Colours{}, fmt.Errorf("%w: %w", ErrColours, err)
	}
	if t.Format != coloursFormatName || len(t.Parts) == 0 || len(t.Parts) > 10*maxParts {
		return Colours{}, fmt.Errorf("%w: format %q with %d parts", ErrColours, t.Format, len(t.Parts))
	}
	c := Colours{LU: t.U[0], AU: t.U[1], BU: t.U[2]}
	sum := 0.0
	for _, p := range t.Parts {
		if p[3] < 0 || math.IsNaN(p[0]+p[1]+p[2]+p[3]) {
			return Colours{}, fmt.Errorf("%w: a share of %v", ErrColours, p[3])
		}
		sum += p[3]
		c.Parts = append(c.Parts, ColourPart{p[0], p[1], p[2], p[3]})
	}
	if sum <= 0 {
		return Colours{}, fmt.Errorf("%w: no area", ErrColours)
	}
	for i := range c.Parts {
		c.Parts[i].Share /= sum
	}
	return c, nil
}

// PoolColours is the distribution of a session: the mean of its photos'.
func PoolColours(cs ...Colours) Colours {
	var out Colours
	n := float64(len(cs))
	for _, c := range cs {
		for _, p := range c.Parts {
			p.Share /= n
			out.Parts = append(out.Parts, p)
		}
		// The fits of one card under one light err alike: their mean is not surer than one of them.
		out.LU, out.AU, out.BU = math.Max(out.LU, c.LU), math.Max(out.AU, c.AU), math.Max(out.BU, c.BU)
	}
	out.Parts = mergeParts(out.Parts)
	return out
}

func (p *ColourPart) lab() colour.Lab { return colour.Lab{L: p.L, A: p.A, B: p.B} }
