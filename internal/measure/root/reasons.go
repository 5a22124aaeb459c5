package root

import (
	"fmt"
	"math"

	"phototrack/internal/gate"
	"phototrack/internal/raster"
	"phototrack/internal/record"
	"phototrack/internal/uncert"
)

const (
	leastDoubtMM = 5.0   // doubt about less than this is not worth asking
	shortWallMM  = 40.0  // of less root than this doubt is told as a share of this; by eye, about one root
	leastApartMM = 40.0  // by which two ways to measure a length must differ to be told; by eye, about one root
	worthLeft    = 0.005 // share of the wall left out that is told: what rounds to a per cent
	worthHidden  = 0.03  // share of the wall hidden that is told; by eye

	clearMM     = 25.0 // of root that is sure: what shows it is clear, however plain
	calmRange   = 2.5  // units of L*: what varies by less over three mm is paper or paint, whatever is written on it elsewhere
	waterMark   = 0.25 // probability of a mark on the wall above which a pixel may be of the line round the water
	waterDarker = 0.93 // lightness under the line over that above it
)

// contrast is how much the wall differs from its own surroundings of some mm, units of L*: what lies behind a clear wall
// has light and shade, an opaque wall has not.
func (f *found) contrast() float64 {
	s := f.sh
	cell := int(1/s.Step + 0.5) // means of a millimetre: noise is no contrast
	w, h := s.W/cell, s.H/cell
	fine, sure := raster.NewFloat(w, h), make([]bool, w*h)
	for y := range h {
		for x := range w {
			var l float32
			n := 0
			for v := y * cell; v < (y+1)*cell; v++ {
				for u := x * cell; u < (x+1)*cell; u++ {
					l += s.L.Pix[v*s.W+u]
					n += int(f.use.Pix[v*s.W+u])
				}
			}
			i := y*w + x
			fine.Pix[i] = l / float32(cell*cell)
			sure[i] = n == cell*cell && f.reg.hidden.Pix[(y*cell+cell/2)*s.W+x*cell+cell/2] < 0.5
		}
	}
	wide := raster.Float{W: w, H: h, Pix: append([]float32(nil), fine.Pix...)}
	blur(wide, 3)
	var d []float64
	for i, v := range fine.Pix {
		if sure[i] {
			d = append(d, math.Abs(float64(v-wide.Pix[i])))
		}
	}
	if len(d) < 50 {
		return gate.MinContrastL
	}
	return uncert.Median(d) / 0.6745 // of a Gaussian
}

// calm is the share of the wall, apart from what is known to hide it, that has no light and shade over three by three mm.
func (f *found) calm() float64 {
	w, h, mean, ok := f.cells()
	all, still := 0, 0
	for y := 1; y < h-1; y++ {
		for x := 1; x < w-1; x++ {
			lo, hi, whole := math.Inf(1), math.Inf(-1), true
			for _, o := range [9]int{-w - 1, -w, -w + 1, -1, 0, 1, w - 1, w, w + 1} {
				i := y*w + x + o
				whole = whole && ok[i]
				lo, hi = math.Min(lo, mean[i]), math.Max(hi, mean[i])
			}
			if !whole {
				continue
			}
			all++
			if hi-lo < calmRange {
				still++
			}
		}
	}
	return float64(still) / math.Max(1, float64(all))
}

// cells are the wall in w x h cells of a mm: the mean lightness of each, and whether it is wall as a whole with nothing known to hide it.
func (f *found) cells() (w, h int, mean []float64, ok []bool) {
	s := f.sh
	cell := int(1/s.Step + 0.5)
	w, h = s.W/cell, s.H/cell
	mean, ok = make([]float64, w*h), make([]bool, w*h)
	for y := range h {
		for x := range w {
			var l float64
			n := 0
			for v := y * cell; v < (y+1)*cell; v++ {
				for u := x * cell; u < (x+1)*cell; u++ {
					l += float64(s.L.Pix[v*s.W+u])
					n += int(f.use.Pix[v*s.W+u])
				}
			}
			mean[y*w+x], ok[y*w+x] = l/float64(cell*cell), n == cell*cell && f.reg.any.Pix[(y*cell+cell/2)*s.W+x*cell+cell/2] < 0.5
		}
	}
	return w, h, mean, ok
}

// waterLine looks for a level line right across the wall with darker wall under it.
func (f *found) waterLine() (depthMM float64, ok bool) {
	s := f.sh
	n := s.H
	mark, light := f.rows()
	reach := int(12 / s.Step)
	for y := reach + int(rimMM/s.Step); y < n-reach-int(f.foot/s.Step); y++ {
		if mark[y] < gate.MinWaterLineShare {
			continue
		}
		var up, down float64
		for k := int(2 / s.Step); k < reach; k++ {
			up += light[y-k]
			down += light[y+k]
		}
		if down < waterDarker*up {
			return float64(y) * s.Step, true
		}
	}
	return 0, false
}

// rows are, of each row of the wall, the share that may be marked on the wall and the mean lightness, of what nothing hides.
func (f *found) rows() (mark, light []float64) {
	s := f.sh
	n := s.H
	mark, light = make([]float64, n), make([]float64, n)
	for y := range n {
		var all, on, l float64
		for x := range s.W {
			i := y*s.W + x
			if f.use.Pix[i] == 0 || f.reg.any.Pix[i] > 0.5 || f.reg.hidden.Pix[i] > 0.5 {
				continue
			}
			all++
			l += float64(s.L.Pix[i])
			q := f.reg.onWall.Pix[i]
			if y > 0 && y < n-1 { // a line is a row or two wide
				q = max(q, f.reg.onWall.Pix[i-s.W], f.reg.onWall.Pix[i+s.W])
			}
			if q > waterMark {
				on++
			}
		}
		if all > 0 {
			mark[y], light[y] = on/all, l/all
		}
	}
	return mark, light
}

// reasons are the gates that the photo does not pass.
func (f *found) reasons(a areas, m measures, length, count record.Quantity) (why []record.Reason) {
	if a.cutShare > gate.MaxCutShare {
		why = append(why, record.Reason{Code: gate.PotCut, Detail: fmt.Sprintf("%.0f %% of the wall lies outside the photo", 100*a.cutShare)})
	}
	if a.seenShare < gate.MinSeenShare {
		return append(why, record.Reason{Code: gate.WallBlind, Detail: fmt.Sprintf("%.0f %% of the wall seen", 100*a.seenShare)})
	}
	if m.bare() {
		if m.contrastL < gate.MinContrastL {
			return append(why, record.Reason{Code: gate.PotOpaque, Detail: m.dull()})
		}
		if c := f.calm(); c > gate.MaxCalmShare {
			return append(why, record.Reason{Code: gate.PotOpaque, Detail: fmt.Sprintf("%.0f %% of the wall has no light and shade, as paper or paint has none", 100*c)})
		}
	}
	if y, ok := f.waterLine(); ok {
		why = append(why, record.Reason{Code: gate.Water, Detail: fmt.Sprintf("a line round the pot %.0f mm below the rim", y)})
	}
	if detail := m.unseen(a); detail != "" {
		why = append(why, record.Reason{Code: gate.WallHidden, Detail: detail})
	}
	if d := math.Abs(m.intersect - m.length); d > math.Hypot(length.U95, count.U95) && d > leastApartMM {
		why = append(why, record.Reason{Code: gate.RootCheck, Detail: fmt.Sprintf("%.0f mm by centreline, %.0f mm by line count", m.length, m.intersect)})
	}
	if in := m.doubtMM / math.Max(m.length, shortWallMM); in > gate.WarnDoubtShare && m.doubtMM > leastDoubtMM {
		code := gate.Unsure
		if in > gate.MaxDoubtShare {
			code = gate.TooUnsure
		}
		why = append(why, record.Reason{Code: code, Detail: fmt.Sprintf("%.0f mm of %.0f mm of root in doubt", m.doubtMM, m.length)})
	}
	return why
}

// unseen says what hides so much of the wall that it has to be told; on a wall without a plain root that is less.
func (m *measures) unseen(a areas) (detail string) {
	switch bare := m.bare(); {
	case a.seenShare < gate.WarnSeenShare, bare && a.seenShare < gate.WarnBareSeenShare:
		detail = fmt.Sprintf("%.0f %% of the wall seen", 100*a.seenShare)
		if a.leftShare > worthLeft {
			detail += fmt.Sprintf(", %.0f %% left out by hand", 100*a.leftShare)
		}
	case bare && a.oddShare > 1-gate.WarnBareSeenShare:
		detail = fmt.Sprintf("%.0f %% of the wall shows neither medium nor root", 100*a.oddShare)
	case m.misty():
		detail = m.dull()
	}
	return detail
}

// bare says that no root is plain: what shows one is clear, however dull.
func (m *measures) bare() bool { return m.length-m.doubtMM < clearMM }

// misty says that nothing plain was found on a wall so dull that mist may hide what is there.
func (m *measures) misty() bool { return m.bare() && m.contrastL < gate.WarnContrastL }

func (m *measures) dull() string {
	return fmt.Sprintf("the wall's lightness varies by %.1f units of L* only", m.contrastL)
}

// notes are plain sentences on the wall.
func (f *found) notes(a areas) (out []string) {
	if a.leftShare > worthLeft {
		out = append(out, fmt.Sprintf("%.0f %% of the wall was left out by hand: the length is that of the roots outside, and its interval allows for what may lie within.", 100*a.leftShare))
	}
	if a.hiddenShare > worthHidden {
		out = append(out, fmt.Sprintf("Labels, film, mist or glare hide %.0f %% of the wall.", 100*a.hiddenShare))
	}
	if f.ignored > 0 {
		out = append(out, fmt.Sprintf("%d of your clicks on roots lie%s where no course of a root is seen; they change nothing.", f.ignored, map[bool]string{true: "s", false: ""}[f.ignored == 1]))
	}
	return out
}

func value(q []record.Quantity, name record.QuantityName) record.Quantity {
	for _, v := range q {
		if v.Name == name {
			return v
		}
	}
	return record.Quantity{}
}

// noPotDetail says what would help to find the pot.
func noPotDetail(in Input) string {
	if in.Pot.Known() {
		return "no outline of a pot of the size in plants.csv beside the card"
	}
	return "no outline of a round pot beside the card; write the pot's inside diameters and height into plants.csv (pot_top_mm, pot_bottom_mm, pot_height_mm)"
}
