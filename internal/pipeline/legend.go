package pipeline

import (
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"math"
	"strings"
	"sync"

	"golang.org/x/image/font"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"

	"phototrack/internal/fonts"
	"phototrack/internal/quantity"
	"phototrack/internal/raster"
	"phototrack/internal/record"
)

var legendFont = sync.OnceValues(func() (*sfnt.Font, error) { return opentype.Parse(fonts.Sans.TTF()) })

// legendItems name the outlines of an overlay in plain words, in the order of a legend.
var legendItems = []struct {
	kind, text string
	ink        [3]uint8
}{
	{"leaf", "leaf", inkWhite},
	{"hole", "hole", inkSky},
	{KindUnsure, "leaf or not?", inkGreen},
	{"discoloured_yellow", "yellow", inkYellow},
	{"discoloured_purple", "purple", inkPink},
	{"discoloured_brown", "brown", inkRed},
	{"root", "root", inkYellow},
	{"root_old", "old root", inkRed},
	{"root_doubt", "in doubt", inkPink},
	{"tip", "growing tip", inkGreen},
	{"seen_limit", "60° limit", inkWhite},
	{"pot", "pot", inkWhite},
}

// How the legend is written (chosen by eye).
const (
	leastLetterPx = 12.0
	leastBarPx    = 3
	leastShare    = 0.005 // a share that rounds to nothing is not named
)

// annotate puts a footer under an overlay: what the lines mean, a scale bar of a round length in the card's plane, and
// the main numbers.
func (m *measuring) annotate(img raster.BGR) *image.NRGBA {
	w, h := img.W, img.H
	f, err := legendFont()
	if err != nil {
		return img.Image()
	}
	size := math.Max(leastLetterPx, float64(w)/66)
	face, err := opentype.NewFace(f, &opentype.FaceOptions{Size: size, DPI: 72})
	if err != nil {
		return img.Image()
	}
	defer face.Close()
	line := int(size * 1.5)
	out := image.NewNRGBA(image.Rect(0, 0, w, h+2*line+int(size*0.7)))
	img.Spread(out.Pix)
	foot := out.Pix[4*w*h:] // a whole picture: no row has a gap
	for i := 0; i+3 < len(foot); i += 4 {
		foot[i], foot[i+1], foot[i+2], foot[i+3] = 32, 36, 33, 255
	}
	pen := font.Drawer{Dst: out, Src: image.NewUniform(color.NRGBA{244, 241, 230, 255}), Face: face}
	text := func(x, row int, s string) int {
		pen.Dot = fixed.P(x, h+int(size*0.35)+line*row+int(size*1.05))
		pen.DrawString(s)
		return pen.Dot.X.Ceil()
	}
	bar := func(x0, x1, row, thick int, ink [3]uint8) {
		y := h + int(size*0.35) + line*row + int(size*0.7)
		draw.Draw(out, image.Rect(x0, y-thick/2, x1, y-thick/2+thick), image.NewUniform(color.NRGBA{ink[2], ink[1], ink[0], 255}), image.Point{}, draw.Src)
	}
	x, gap := int(size*0.6), int(size)
	text(x, 0, m.headline())
	x = int(size * 0.6)
	have := map[string]bool{}
	for _, o := range m.p.Outlines {
		have[o.Kind] = true
	}
	items := legendItems
	for _, it := range items {
		if have[it.kind] {
			if it.kind == "seen_limit" { // dashed, as it is drawn
				bar(x, x+int(size*0.65), 1, max(2, int(size/6)), it.ink)
				bar(x+int(size*0.95), x+int(size*1.6), 1, max(2, int(size/6)), it.ink)
			} else {
				bar(x, x+int(size*1.6), 1, max(2, int(size/6)), it.ink)
			}
			x = text(x+int(size*2), 1, it.text) + gap
		}
	}
	bar(x, x+int(size*1.6), 1, max(2, int(size/6)), inkSky)
	x = text(x+int(size*2), 1, "card") + gap
	bar(x, x+int(size*1.6), 1, max(2, int(size/6)), inkOrange)
	x = text(x+int(size*2), 1, "tag") + gap
	// The scale bar stands at the right end: the longest of 100, 50, 20, 10 mm that has room.
	s := m.cal.ScalePxPerMM * float64(w) / float64(m.frame.Img.W)
	for _, mm := range []int{100, 50, 20, 10} {
		label := fmt.Sprintf("%d mm at the card", mm)
		n := font.MeasureString(face, label).Ceil()
		x1 := w - int(size*0.6)
		x0 := x1 - int(float64(mm)*s+0.5)
		if s > 0 && x0-n-gap > x {
			bar(x0, x1, 1, max(leastBarPx, int(size/4)), inkWhite)
			text(x0-n-int(size*0.5), 1, label)
			break
		}
	}
	return out
}

// headline is the plant and its main numbers in a line.
func (m *measuring) headline() string {
	var parts []string
	if m.p.Plant > 0 {
		parts = append(parts, "no. "+quantity.Number(float64(m.p.Plant), 0))
	}
	if d := m.p.Taken.Day(); d != "" {
		parts = append(parts, d)
	}
	names := []record.QuantityName{record.LeafArea, record.YellowShare, record.PurpleShare, record.BrownShare}
	if m.p.View == record.Root {
		names = []record.QuantityName{record.RootLength, record.RootLongest, record.RootTips}
	}
	for i, n := range names {
		if q, ok := m.p.Find(n); ok && (i == 0 || q.Value > leastShare) {
			info := quantity.Of(q.Name, q.Unit)
			parts = append(parts, info.Title+" "+info.Value(q.Value, q.U95))
		}
	}
	return strings.Join(parts, "   ")
}
