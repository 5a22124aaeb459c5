package plate

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"phototrack/internal/caption"
	"phototrack/internal/words"
)

// filled gives the words of the page's head and foot; scale is that of an exact plate.
func (s *Spec) filled(scale string) caption.Filled {
	t := caption.Defaults()
	if s.Texts != nil {
		t = *s.Texts
	}
	w := s.days()
	w.Scale = scale
	if !s.Exact {
		w.Scale = ""
	}
	out := t.Fill(w)
	if s.hasNew() {
		out.Caption = strings.TrimSpace(out.Caption + " Orange and wider: root that is new since the picture before.")
	}
	return out
}

// days completes the words with what the frames show.
func (s *Spec) days() caption.Words {
	w := s.Words
	var first, last string
	seen := map[string]bool{}
	for _, f := range s.frames() {
		if f.Date == "" {
			continue
		}
		if !seen[f.Date] {
			seen[f.Date] = true
			w.Dates = append(w.Dates, f.Date)
		}
		if first == "" || f.Date < first {
			first = f.Date
		}
		last = max(last, f.Date)
	}
	slices.Sort(w.Dates)
	for i, d := range w.Dates {
		w.Dates[i] = words.LongDay(d)
	}
	w.From, w.To = words.LongDay(first), words.LongDay(last)
	for _, r := range s.Rows {
		for _, e := range r.Events {
			if e.Date >= first && e.Date < last {
				w.Events = append(w.Events, e.Kind+", "+words.LongDay(e.Date))
			}
		}
	}
	if len(s.Rows) == 1 {
		if f := s.frames(); len(f) > 0 && s.Words.Plant != 0 {
			w.First, w.Latest = f[0].Values, f[len(f)-1].Values
		}
	}
	return w
}

// Powers of ten of the shortest and the longest bar, mm.
const shortestBar, longestBar = -1.0, 3.0

// barLength is the round length, mm, that comes nearest to a fifth of what a panel shows.
func barLength(panelMM float64) float64 {
	want := panelMM / 5
	best := 1.0
	for e := shortestBar; e <= longestBar; e++ {
		for _, m := range []float64{1, 2, 5} {
			if v := m * math.Pow(10, e); math.Abs(math.Log(v/want)) < math.Abs(math.Log(best/want)) {
				best = v
			}
		}
	}
	return best
}

// ratios are the round scales of exact plates: paper mm to plant mm, largest first.
var ratios = []float64{1, 1.5, 2, 2.5, 3, 3.5, 4, 5, 6, 7, 8, 9, 10, 12, 15, 20, 30, 40, 50}

// rounding is what arithmetic may be off.
const rounding = 1e-7

// exactScale is the largest round scale that is not above the given px per mm; dpi are the paper's. The words are
// those of the caption.
func exactScale(scale, dpi float64) (float64, string) {
	paper := dpi / 25.4
	for _, r := range ratios {
		if paper/r <= scale*(1+rounding) {
			return paper / r, fmt.Sprintf("1 : %g", r)
		}
	}
	return scale, ""
}
