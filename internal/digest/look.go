package digest

import (
	"fmt"
	"slices"
	"strings"

	"phototrack/internal/quantity"
	"phototrack/internal/record"
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
	Line     int    // of watch.csv
}

// looks are the watch rules that are reached and not dealt with, then those that are near.
func looks(hits []record.WatchHit) (out []Look, answered int) {
	for _, w := range hits {
		if w.Answered {
			answered++
			continue
		}
		l := Look{Plant: w.Plant, Name: w.Name, View: quantity.Of(w.Rule.Quantity, w.Unit).View, Message: w.Rule.Message, Evidence: w.Evidence, Since: w.Since, Near: w.State != "fired", Line: w.Rule.Line}
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
	slices.SortStableFunc(out, func(a, b Look) int {
		switch {
		case a.Near == b.Near:
			return 0
		case a.Near:
			return 1
		}
		return -1
	})
	return out, answered
}

// sentence begins large and ends with a full stop.
func sentence(s string) string {
	if s == "" {
		return s
	}
	s = upper(s)
	if !strings.HasSuffix(s, ".") && !strings.HasSuffix(s, "!") && !strings.HasSuffix(s, "?") {
		s += "."
	}
	return s
}

func upper(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}
