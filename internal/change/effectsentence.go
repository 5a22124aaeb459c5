package change

import (
	"fmt"
	"math"
	"strings"

	"phototrack/internal/quantity"
	"phototrack/internal/record"
)

// caution ends what is said of an event.
const caution = "This is association only: something else may have changed too."

// effectSentence says what moved, by how much, how sure, what else happened, and that this is association.
func (a *analysis) effectSentence(f *record.EventEffect) string {
	q := quantity.Of(f.Quantity, f.Unit)
	parts := []string{fmt.Sprintf("%s, %s after %s:", who(f.Plant, a.names[f.Plant]), q.Title, happened(f.Date, f.Event)), a.beforeAndAfter(f, q)}
	if math.IsNaN(f.Difference) {
		parts = append(parts, "There is no comparison plant (same group, no such event in that time), so season and light are in this.")
	} else {
		parts = append(parts, againstOthers(f, q), howSure(f))
	}
	if !math.IsNaN(f.PTogether) {
		parts = append(parts, fmt.Sprintf("The %d plants that had it then, taken together against the comparison plants: p = %.2g (not less than %.2g can be reached).",
			f.Together, f.PTogether, f.PTogetherMin))
	}
	switch {
	case math.IsNaN(f.SlopeBefore):
		parts = append(parts, "Fewer than three sessions before it give no slope before.")
	case !math.IsNaN(f.SlopeAfter):
		parts = append(parts, fmt.Sprintf("Slope: %s a month before, %s a month after.", q.Delta(f.SlopeBefore, 0), q.Delta(f.SlopeAfter, 0)))
	}
	if f.OtherEvents != "" {
		parts = append(parts, "In the same time: "+f.OtherEvents+".")
	}
	return strings.Join(append(parts, caution), " ")
}

// beforeAndAfter is the change from the last session before the event to the last one of its window.
func (a *analysis) beforeAndAfter(f *record.EventEffect, q quantity.Info) string {
	s := a.at[key{shotKey{f.Plant, f.View}, f.Quantity}]
	i, j := s.lastUpTo(f.Date), s.lastUpTo(plusMonths(f.Date, a.in.Settings.EventMonths))
	if i < 0 {
		return "no photo before it counted."
	}
	c := a.compare(s, &s.points[i], &s.points[j], record.BasisEvent, f.Date+" "+f.Event)
	if c.Verdict == record.NoChange {
		return fmt.Sprintf("no detectable change from %s to %s (%s).", date(c.FromDate), date(c.ToDate), q.Delta(c.Change, c.U95))
	}
	return fmt.Sprintf("it %s by %s from %s to %s.", c.Verdict, unsigned(q.Delta(c.Change, c.U95)), date(c.FromDate), date(c.ToDate))
}

// againstOthers says how the plant stands against its comparison plants.
func againstOthers(f *record.EventEffect, q quantity.Info) string {
	others := "plant " + numbers(f.ComparisonPlants)
	if len(f.ComparisonPlants) > 1 {
		others = "plants " + numbers(f.ComparisonPlants)
	}
	by := q.Delta(f.Difference, (f.High-f.Low)/2)
	switch {
	case f.Low > 0:
		return fmt.Sprintf("That is %s above what it would be, had it moved as comparison %s did.", unsigned(by), others)
	case f.High < 0:
		return fmt.Sprintf("That is %s below what it would be, had it moved as comparison %s did.", unsigned(by), others)
	default:
		return fmt.Sprintf("Against comparison %s no difference is sure (%s).", others, by)
	}
}

// howSure says what the number of comparison plants allows.
func howSure(f *record.EventEffect) string {
	switch n := len(f.ComparisonPlants); n {
	case 1:
		return "One comparison plant gives no p; the interval holds the noise of the photos, not how plants differ."
	case 2:
		return fmt.Sprintf("p = %.2g, and two comparison plants cannot reach less than %.2g; the interval holds the noise of the photos, not how plants differ.", f.P, f.PSmallest)
	default:
		return fmt.Sprintf("p = %.2g; %d comparison plants cannot reach less than %.2g.", f.P, n, f.PSmallest)
	}
}

// happened is an event in words.
func happened(day, kind string) string {
	words := map[string]string{"repot": "repotting", "medium": "change of medium", "feed": "feeding", "water": "watering", "light": "change of light",
		"move": "move", "treat": "treatment", "cut": "cutting"}
	w, ok := words[kind]
	if !ok {
		w = "event"
	}
	return "the " + w + " of " + date(day)
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
