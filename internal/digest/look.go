package digest

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"phototrack/internal/quantity"
	"phototrack/internal/record"
	"phototrack/internal/words"
)

// Look is a watch rule that asks for a person's eye.
type Look struct {
	Plant    int
	Name     string
	View     record.View
	Message  string // what the rule says
	Evidence string // the figures, a sentence
	Since    string // the day from which it has been so, YYYY-MM-DD
	Near     bool   // the limit lies within the interval: not reached yet, or not surely
	Eased    bool   // it was reached and is so no more; nobody has said yet that it was dealt with
	Line     int    // of watch.csv
}

// PlantLooks are the watch rules that ask for a look at one plant.
type PlantLooks struct {
	Plant int
	Name  string
	Near  bool // none of them is reached
	Looks []Look
}

// LooksByPlant gathers the looks plant by plant, in the order in which the plants come first.
func (d *Digest) LooksByPlant() []PlantLooks {
	var out []PlantLooks
	at := map[int]int{}
	for _, l := range d.Looks {
		i, ok := at[l.Plant]
		if !ok {
			i = len(out)
			at[l.Plant] = i
			out = append(out, PlantLooks{Plant: l.Plant, Name: l.Name, Near: true})
		}
		out[i].Looks = append(out[i].Looks, l)
		out[i].Near = out[i].Near && l.Near
	}
	return out
}

// looks are the watch rules that are reached and not dealt with, then those that are near.
func looks(hits []record.WatchHit) (out []Look, answered int) {
	for _, w := range hits {
		if w.Answered {
			answered++
			continue
		}
		l := Look{Plant: w.Plant, Name: w.Name, View: quantity.Of(w.Rule.Quantity, w.Unit).View, Message: w.Rule.Message, Evidence: w.Evidence, Since: w.Since, Near: w.State != "fired", Eased: w.Eased != "", Line: w.Rule.Line}
		if _, rest, ok := strings.Cut(l.Evidence, fmt.Sprintf("(%d): ", w.Plant)); ok {
			l.Evidence = rest
		} else if rest, ok := strings.CutPrefix(l.Evidence, fmt.Sprintf("plant %d: ", w.Plant)); ok {
			l.Evidence = rest
		}
		if l.Evidence == "" {
			q := quantity.Of(w.Rule.Quantity, w.Unit)
			l.Evidence = q.Title + ": " + q.Value(w.Value, w.U95)
		}
		l.Evidence, l.Message = sentence(l.Evidence), sentence(l.Message)
		if l.Near {
			l.Since = ""
		}
		out = append(out, l)
	}
	slices.SortStableFunc(out, func(a, b Look) int { return cmp.Compare(a.order(), b.order()) })
	return out, answered
}

// order puts what is so now first, then what was, then what is near.
func (l *Look) order() int {
	switch {
	case l.Near:
		return 2
	case l.Eased:
		return 1
	}
	return 0
}

// sentence begins large and ends with a full stop.
func sentence(s string) string {
	if s == "" {
		return s
	}
	s = words.Upper(s)
	if !strings.HasSuffix(s, ".") && !strings.HasSuffix(s, "!") && !strings.HasSuffix(s, "?") {
		s += "."
	}
	return s
}
