package change

import (
	"fmt"
	"math"
	"strings"

	"phototrack/internal/quantity"
	"phototrack/internal/record"
	"phototrack/internal/words"
)

// caution ends what is said of an event.
const caution = "This is association, not proof of a cause: something else may have changed too."

// effectSentence says what moved, by how much, what else happened, and that this is association; sure is what statistics
// say of it, for those who ask.
func (a *analysis) effectSentence(f *record.EventEffect) (sentence, sure string) {
	q := quantity.OfPart(f.Quantity, f.Part, f.Unit)
	parts := []string{fmt.Sprintf("%s, %s after %s:", who(f.Plant, a.names[f.Plant]), q.Title, happened(f.Date, f.Event)), a.beforeAndAfter(f, q)}
	if math.IsNaN(f.Difference) {
		parts = append(parts, "There is no plant to compare with (same group, no such event in that time), so what the season and the light did is part of this.")
	} else {
		parts = append(parts, againstOthers(f, q))
		sure = howSure(f)
	}
	if !math.IsNaN(f.PTogether) {
		sure = strings.TrimSpace(sure + " " + fmt.Sprintf("The %d plants that had it then, taken together and compared with those that had not: p = %.2g (with so many plants p cannot be smaller than %.2g).",
			f.Together, f.PTogether, f.PTogetherMin))
	}
	switch {
	case math.IsNaN(f.SlopeBefore):
		parts = append(parts, "There were fewer than three sessions before it, too few for a trend.")
	case !math.IsNaN(f.SlopeAfter):
		parts = append(parts, fmt.Sprintf("Trend: %s a month before it, %s a month after it.", q.Delta(f.SlopeBefore, 0), q.Delta(f.SlopeAfter, 0)))
	}
	if f.OtherEvents != "" {
		parts = append(parts, "Also in that time: "+f.OtherEvents+".")
	}
	return strings.Join(append(parts, caution), " "), sure
}

// beforeAndAfter is the change from the last session before the event to the last one of its window.
func (a *analysis) beforeAndAfter(f *record.EventEffect, q quantity.Info) string {
	s := a.at[key{shotKey{f.Plant, f.View}, f.Quantity, f.Part}]
	i, j := s.lastUpTo(f.Date), s.lastUpTo(plusMonths(f.Date, a.in.Settings.EventMonths))
	if i < 0 {
		return "no photo from before it counts, so there is nothing to compare with."
	}
	c := a.compare(s, &s.points[i], &s.points[j], record.BasisEvent, f.Date+" "+f.Event)
	if c.Verdict == record.NoChange {
		return fmt.Sprintf("no detectable change from %s to %s (%s).", words.LongDay(c.FromDate), words.LongDay(c.ToDate), q.Delta(c.Change, c.U95))
	}
	return fmt.Sprintf("it %s by %s from %s to %s.", c.Verdict, unsigned(q.Delta(c.Change, c.U95)), words.LongDay(c.FromDate), words.LongDay(c.ToDate))
}

// againstOthers says how the plant stands against its comparison plants.
func againstOthers(f *record.EventEffect, q quantity.Info) string {
	others, which := "plant "+numbers(f.ComparisonPlants), "which is of the same group and had no such event in that time"
	if len(f.ComparisonPlants) > 1 {
		others, which = "plants "+numbers(f.ComparisonPlants), "which are of the same group and had no such event in that time"
	}
	by := q.Delta(f.Difference, (f.High-f.Low)/2)
	switch {
	case f.Low > 0:
		return fmt.Sprintf("That is %s more than if it had changed as %s did, %s.", unsigned(by), others, which)
	case f.High < 0:
		return fmt.Sprintf("That is %s less than if it had changed as %s did, %s.", unsigned(by), others, which)
	default:
		return fmt.Sprintf("Compared with %s, %s, no difference is certain (%s).", others, which, by)
	}
}

// howSure says what the number of comparison plants allows.
func howSure(f *record.EventEffect) string {
	const alone = "The ± covers how photos differ, not how plants differ from each other anyway."
	switch n := len(f.ComparisonPlants); n {
	case 1:
		return "With one plant to compare with, nobody can say how often chance alone would do as much. " + alone
	case 2:
		return fmt.Sprintf("p = %.2g; with two plants to compare with, p cannot be smaller than %.2g. %s", f.P, f.PSmallest, alone)
	default:
		return fmt.Sprintf("p = %.2g; with %d plants to compare with, p cannot be smaller than %.2g.", f.P, n, f.PSmallest)
	}
}

// happened is an event in words.
func happened(day, kind string) string {
	return "the " + words.EventDoing(kind) + " of " + words.LongDay(day)
}

// unsigned takes the sign off a printed difference.
func unsigned(s string) string { return strings.TrimLeft(s, "+"+quantity.Minus) }

func numbers(list []int) string {
	s := make([]string, len(list))
	for i, n := range list {
		s[i] = fmt.Sprint(n)
	}
	return strings.Join(s, ", ")
}
