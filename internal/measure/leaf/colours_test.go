package leaf

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/colour"
	"phototrack/internal/gate"
	"phototrack/internal/record"
)

func TestMoverDistance(t *testing.T) {
	g, y := ColourPart{45, -22, 28, 1}, ColourPart{65, -4, 55, 1}
	d := colour.DeltaE2000(g.lab(), y.lab())
	part := func(p ColourPart, share float64) ColourPart {
		p.Share = share
		return p
	}
	assert.Zero(t, moverDistance([]ColourPart{g}, []ColourPart{g}))
	assert.InDelta(t, d, moverDistance([]ColourPart{g}, []ColourPart{y}), 1e-9, "everything moves")
	assert.InDelta(t, 0.2*d, moverDistance([]ColourPart{g}, []ColourPart{part(g, 0.8), part(y, 0.2)}), 1e-6, "a fifth turns yellow")
	// Three places in a row: the cheapest way moves every part by one place, and not one part by two.
	a := []ColourPart{{50, 0, 0, 0.5}, {54, 0, 0, 0.5}}
	b := []ColourPart{{54, 0, 0, 0.5}, {58, 0, 0, 0.5}}
	s := func(x, y float64) float64 { return colour.DeltaE2000(colour.Lab{L: x}, colour.Lab{L: y}) }
	want := min(0.5*s(50, 54)+0.5*s(54, 58), 0.5*s(50, 58))
	assert.InDelta(t, want, moverDistance(a, b), 1e-9)
	assert.InDelta(t, moverDistance(a, b), moverDistance(b, a), 1e-9, "either way")
}

func TestColourChange(t *testing.T) {
	c := Colours{Parts: []ColourPart{{45, -22, 28, 0.7}, {50, -20, 30, 0.3}}, LU: 0.5, AU: 0.4, BU: 0.6}
	same := ColourChange(c, c)
	assert.Equal(t, record.ColourChange, same.Name)
	assert.Zero(t, same.Value)
	assert.Positive(t, same.U95)
	d := c
	d.Parts = []ColourPart{{45, -10, 40, 0.7}, {50, -8, 42, 0.3}}
	moved := ColourChange(c, d)
	assert.Greater(t, moved.Value, moved.U95, "green to yellowish is a change")
	assert.True(t, math.IsNaN(ColourChange(c, Colours{}).Value))
}

func TestColoursText(t *testing.T) {
	c := Colours{Parts: []ColourPart{{45.04, -22, 28, 0.7}, {50, -20, 30, 0.3}}, LU: 0.5, AU: 0.4, BU: 0.6}
	got, err := ParseColours(c.String())
	require.NoError(t, err)
	require.Len(t, got.Parts, 2)
	assert.InDelta(t, 45.0, got.Parts[0].L, 1e-9)
	assert.InDelta(t, 0.7, got.Parts[0].Share, 1e-9)
	assert.Equal(t, 0.4, got.AU)
	for _, bad := range []string{"", "{}", `{"format":"lab-parts-1","parts":[]}`, `{"format":"lab-parts-1","parts":[[1,2,3,-1]]}`, `{"format":"other","parts":[[1,2,3,1]]}`} {
		_, err := ParseColours(bad)
		assert.ErrorIs(t, err, ErrColours, bad)
	}
	// Many colours become few without losing area or the mean.
	var many []ColourPart
	for i := range 200 {
		many = append(many, ColourPart{40 + float64(i%20), -20 + float64(i%7), 25 + float64(i%11), 1.0 / 200})
	}
	mean := meanLab(many)
	p := PoolColours(Colours{Parts: many})
	assert.LessOrEqual(t, len(p.Parts), maxParts)
	assert.InDelta(t, mean.L, meanLab(p.Parts).L, 1e-9)
	assert.InDelta(t, mean.B, meanLab(p.Parts).B, 1e-9)
}

// A leaf drawn by its formula on a plain ground: area, shares and place of discoloration are known exactly.
func TestMeasureDrawnLeaf(t *testing.T) {
	const w, h, scale = 1200, 900, 4.0
	in := Input{Img: newPicture(w, h, 150, 150, 150), ScalePxPerMM: scale, DistanceMM: 600, EdgeSpreadPx: 1.8, Colour: SRGB(), HueDegU: 1, LU: 0.5, AU: 0.5, BU: 0.5}
	in.CardToPx[0], in.CardToPx[4], in.CardToPx[8] = scale, scale, 1
	in.Card = []record.Point{{X: 10, Y: 10}, {X: 60, Y: 10}, {X: 60, Y: 50}, {X: 10, Y: 50}} // with it a broad leaf is seen once
	a, b := 240.0, 110.0
	net := &told{w: w, h: h, leaf: make([]bool, w*h)}
	in.Net = net
	// Every pixel is the mean of 5 x 5 points of linear light.
	n := 5
	for y := range h {
		for x := range w {
			dx, dy := float64(x)-600, float64(y)-450
			net.leaf[y*w+x] = dx*dx/(a*a)+dy*dy/(b*b) <= 1
			var lin [3]float64
			for j := range n {
				for i := range n {
					px, py := float64(x)+(float64(i)+0.5)/float64(n)-0.5-600, float64(y)+(float64(j)+0.5)/float64(n)-0.5-450
					c := [3]uint8{150, 150, 150}
					if px*px/(a*a)+py*py/(b*b) <= 1 {
						c = [3]uint8{70, 110, 55}
						if px > 140 {
							c = [3]uint8{200, 170, 50}
						}
					}
					for k := range 3 {
						lin[k] += colour.LinearOf8[c[k]] / float64(n*n)
					}
				}
			}
			for k := range 3 {
				in.Img.Pix[3*(y*w+x)+2-k] = colour.Encode8(lin[k])
			}
		}
	}
	res, why, err := Measure(in, DefaultSettings())
	require.NoError(t, err)
	assert.Empty(t, why)
	area := math.Pi * a * b / (scale * scale)
	assert.InEpsilon(t, area, valueOf(t, res, record.LeafArea).Value, 0.002)
	// Segment of an ellipse beyond x = d: a b (acos(d/a) - d/a sqrt(1 - d2/a2)).
	d := 140 / a
	yellow := (math.Acos(d) - d*math.Sqrt(1-d*d)) / math.Pi
	assert.InDelta(t, yellow, valueOf(t, res, record.YellowShare).Value, 0.004)
	assert.InDelta(t, 1-yellow, valueOf(t, res, record.GreenShare).Value, 0.004)
	assert.Zero(t, valueOf(t, res, record.UnjudgedShare).Value)
	assert.Zero(t, valueOf(t, res, record.InnerDiscolouredShare).Value, "the middle is green")
	assert.Greater(t, valueOf(t, res, record.OuterDiscolouredShare).Value, 0.3, "the tip is yellow")
	green := colour.FromSRGB8(70, 110, 55).Lab()
	assert.InDelta(t, green.HueDeg(), valueOf(t, res, record.LeafHue).Value, 1)
	assert.InDelta(t, colour.DGCI(70, 110, 55), valueOf(t, res, record.GreenIndex).Value, 0.01)
	assert.InDelta(t, colour.ExcessGreen(70, 110, 55), valueOf(t, res, record.ExcessGreen).Value, 0.01)
	kinds := map[string]int{}
	for _, o := range res.Outlines {
		kinds[o.Kind]++
	}
	assert.Equal(t, map[string]int{"leaf": 1, "discoloured_yellow": 1}, kinds)
	again, _, err := Measure(in, DefaultSettings())
	require.NoError(t, err)
	assert.Equal(t, res, again, "the same photo gives the same result to the last digit")
}

func TestMeasureRefuses(t *testing.T) {
	in := Input{Img: newPicture(400, 300, 150, 150, 150), ScalePxPerMM: 4, Colour: SRGB(), Net: &told{w: 400, h: 300, leaf: make([]bool, 400*300)}}
	in.CardToPx[0], in.CardToPx[4], in.CardToPx[8] = 4, 4, 1
	res, why, err := Measure(in, DefaultSettings())
	require.NoError(t, err)
	require.Len(t, why, 1)
	assert.Equal(t, gate.NoPlant, why[0].Code)
	assert.Empty(t, res.Quantities)
	in.ScalePxPerMM = 0
	_, _, err = Measure(in, DefaultSettings())
	require.ErrorIs(t, err, ErrInput)
	in.ScalePxPerMM, in.CardToPx[0] = 4, 0
	_, _, err = Measure(in, DefaultSettings())
	require.ErrorIs(t, err, ErrInput)
}
