package change

import (
	"fmt"
	"math"
	"strings"

	"phototrack/internal/quantity"
	"phototrack/internal/record"
	"phototrack/internal/words"
)

func who(plant int, name string) string {
	if name == "" {
		return fmt.Sprintf("plant %d", plant)
	}
	return fmt.Sprintf("%s (%d)", name, plant)
}

// since says which comparison it was.
func since(c *record.Change) string {
	d := words.LongDay(c.FromDate)
	switch c.Basis {
	case record.BasisYear:
		return "against the same month a year earlier (" + d + ")"
	case record.BasisBaseline:
		return "since the start (" + d + ")"
	case record.BasisEvent:
		day, kind, _ := strings.Cut(c.Event, " ")
		return fmt.Sprintf("since %s, the last session before %s", d, happened(day, kind))
	default:
		return "since the last session (" + d + ")"
	}
}

// changeSentence is one line for the grower.
func changeSentence(c *record.Change) string {
	q := quantity.OfPart(c.Quantity, c.Part, c.Unit)
	name := who(c.Plant, c.Name)
	moved := q.Delta(c.Change, c.U95)
	if p, ok := q.Percent(c.FromValue, c.Change, c.U95); ok {
		moved += " (" + p + ")"
	}
	switch c.Verdict {
	case record.TooFew:
		switch {
		case c.Areas != "":
			return fmt.Sprintf("%s: %s cannot be compared: %s. Give the other photo the same areas on its page, and they can be.", name, q.Title, c.Areas)
		case math.IsNaN(c.ToValue) && !math.IsNaN(c.FromValue):
			return fmt.Sprintf("%s: no photo of %s counts, so %s cannot be compared with that of %s.", name, words.LongDay(c.ToDate), q.Title, words.LongDay(c.FromDate))
		case c.Basis == record.BasisEvent:
			day, kind, _ := strings.Cut(c.Event, " ")
			return fmt.Sprintf("%s: no photo from before %s counts, so there is nothing to compare %s with.", name, happened(day, kind), q.Title)
		default:
			return fmt.Sprintf("%s: there is no earlier session to compare %s with.", name, q.Title)
		}
	case record.NoChange:
		if c.Quantity == record.CountOf {
			return fmt.Sprintf("%s: %s is the same %s: %s.", name, q.Title, since(c), q.Bare(c.ToValue, 0))
		}
		return fmt.Sprintf("%s: no detectable change of %s %s: %s. A change of less than %s would not show.", name, q.Title, since(c), moved, size(q, c.SmallestDetectable))
	default:
		s := fmt.Sprintf("%s: %s %s by %s %s", name, q.Title, c.Verdict, unsigned(moved), since(c))
		if c.Basis == record.BasisEvent {
			return s + ". It came after the event; that does not show that it came from it."
		}
		return s + "."
	}
}

// size of a change without a sign; that of a share is in points.
func size(q quantity.Info, v float64) string {
	s := q.Bare(v, v)
	if q.Shown == "%" {
		s = strings.Replace(s, "%", "points", 1)
	}
	return s
}
