package change

import (
	"fmt"
	"math"
	"slices"
	"sort"
	"strconv"
	"strings"

	"phototrack/internal/quantity"
	"phototrack/internal/record"
	"phototrack/internal/words"
)

// reading is what a rule looks at on one day.
type reading struct {
	day         string
	value, half float64
	unit        string
	sure        bool // detectable: the verdict decides, not a limit
	evidence    string
	short       string // the figure alone, with what it counts from
}

// watch follows every rule through each plant's sessions. A rule fires when the whole interval is past the limit, once,
// and stays until it is answered; after an answer it can fire again when it has been at rest in between. It is near
// when the limit lies inside the latest interval of the period.
func (a *analysis) watch() []record.WatchHit {
	var out []record.WatchHit
	for _, w := range a.in.Rules {
		for _, plant := range a.watched(w) {
			for _, part := range a.watchedParts(w, plant) {
				readings := a.readings(w, plant, part)
				if hit, ok := a.follow(w, plant, readings); ok {
					hit.Part = part
					out = append(out, hit)
				}
			}
		}
	}
	sort.SliceStable(out, func(i, j int) bool { return rank(&out[i]) < rank(&out[j]) })
	return out
}

// rank puts what waits for an answer first.
func rank(h *record.WatchHit) int {
	switch {
	case h.State == "fired" && !h.Answered && h.Eased == "":
		return 0
	case h.State == "fired" && !h.Answered:
		return 1
	case h.State == "near":
		return 2
	default:
		return 3
	}
}

// watched are the plants of a rule: those it names, those of its group, else all.
func (a *analysis) watched(w record.WatchRule) []int {
	seen := map[int]bool{}
	add := func(n int) {
		if !slices.Contains(w.Except, n) {
			seen[n] = true
		}
	}
	switch {
	case w.Off:
	case len(w.Plants) > 0:
		for _, n := range w.Plants {
			add(n)
		}
	case w.Group != "":
		for _, p := range a.in.Plants {
			if strings.EqualFold(p.Group, w.Group) {
				add(p.Number)
			}
		}
	default:
		for k := range a.shots {
			add(k.plant)
		}
		for _, c := range a.in.Extra {
			add(c.Plant)
		}
		for _, c := range a.in.Counts {
			add(c.Plant)
		}
	}
	out := make([]int, 0, len(seen))
	for n := range seen {
		out = append(out, n)
	}
	sort.Ints(out)
	return out
}

// past says whether a reading is wholly past the limit, and whether the limit lies inside its interval.
func past(w record.WatchRule, r reading) (fired, near bool) {
	d := r.value - w.Limit
	if w.Condition == "<=" {
		d = -d
	}
	if w.Detectable {
		return r.sure, false
	}
	if math.IsNaN(d) || math.IsNaN(r.half) {
		return false, false
	}
	return d >= r.half, math.Abs(d) < r.half
}

// follow runs a rule through its readings.
func (a *analysis) follow(w record.WatchRule, plant int, readings []reading) (record.WatchHit, bool) {
	hit := record.WatchHit{Rule: w, Plant: plant, Name: a.names[plant]}
	seen := "" // the day that the evidence is of
	fill := func(r reading) {
		hit.Value, hit.U95, hit.Unit, hit.Eased, seen = r.value, r.half, r.unit, "", r.day
		hit.Evidence = fmt.Sprintf("%s: %s", who(plant, a.names[plant]), r.evidence)
	}
	for _, r := range readings {
		fired, near := past(w, r)
		switch {
		case hit.State == "" && fired:
			hit.State, hit.Since = "fired", r.day
			hit.Answered, hit.AnswerNote = a.answered(w, plant, r.day)
			fill(r)
		case hit.State == "fired" && hit.Answered && !fired && a.answerDay(w, plant, hit.Since) <= r.day:
			hit = record.WatchHit{Rule: w, Plant: plant, Name: a.names[plant]}
		case hit.State == "fired" && fired:
			fill(r) // the latest figures
		case hit.State == "fired" && !near:
			hit.Eased = r.day
		}
	}
	if hit.State != "" {
		if hit.Eased != "" {
			hit.Evidence += a.easedWords(w, readings, seen, hit.Eased)
		}
		return hit, true
	}
	last, near := a.endsNear(w, readings)
	if near {
		hit.State, hit.Since = "near", last.day
		fill(last)
	}
	return hit, near
}

// endsNear says whether the last reading is near the rule's limit, and of the period.
func (a *analysis) endsNear(w record.WatchRule, readings []reading) (last reading, near bool) {
	if len(readings) == 0 {
		return last, false
	}
	last = readings[len(readings)-1]
	_, near = past(w, last)
	return last, near && a.inPeriod(last.day)
}

// easedWords say that what a rule saw on one day is not so on the latest: who goes to look should know.
func (a *analysis) easedWords(w record.WatchRule, readings []reading, seen, now string) string {
	out := "; not so any more on " + words.LongDay(now)
	if w.Of != "value" && w.Of != "" { // a value's evidence names its day
		out = ", seen on " + words.LongDay(seen) + out
	}
	if last := readings[len(readings)-1]; last.day == now && last.short != "" {
		out += ": " + last.short
	}
	return out
}

// answered says whether a rule that fired on a day has been answered since.
func (a *analysis) answered(w record.WatchRule, plant int, since string) (bool, string) {
	for _, x := range a.in.Answers {
		if a.answers(x, w, plant, since) {
			return true, x.Note
		}
	}
	return false, ""
}

func (a *analysis) answers(x Answer, w record.WatchRule, plant int, since string) bool {
	rule := strings.TrimSpace(x.Rule)
	named := rule == w.Key() || rule == strconv.Itoa(w.Line) || (rule != "" && rule == w.Message)
	return x.Plant == plant && named && len(x.Time) >= 10 && x.Time[:10] >= since
}

// answerDay is the day of the first answer after a firing.
func (a *analysis) answerDay(w record.WatchRule, plant int, since string) string {
	day := "9999-12-31"
	for _, x := range a.in.Answers {
		if a.answers(x, w, plant, since) {
			day = min(day, x.Time[:10])
		}
	}
	return day
}

// readings are what the rule sees, in order of time.
func (a *analysis) readings(w record.WatchRule, plant int, part string) []reading {
	var out []reading
	for _, s := range a.watchedSeries(w, plant, part) {
		out = append(out, a.seriesReadings(w, s)...)
	}
	for i := range a.in.Extra {
		c := &a.in.Extra[i]
		if c.Plant != plant || c.Quantity != w.Quantity || w.Of == "trend" || (a.in.To != "" && c.ToDate > a.in.To) {
			continue
		}
		full := a.complete(*c)
		q := quantity.Of(c.Quantity, c.Unit)
		out = append(out, reading{c.ToDate, c.Change, c.U95, c.Unit, asked(w, full.Verdict),
			fmt.Sprintf("%s %s %s", q.Title, q.Value(c.Change, c.U95), since(&full)), ""})
	}
	sort.SliceStable(out, func(i, j int) bool { return out[i].day < out[j].day })
	return out
}

// asked says whether a verdict is the one that a rule with the limit 'detectable' waits for.
func asked(w record.WatchRule, v record.Verdict) bool {
	if w.Condition == "<=" {
		return v == record.Fell
	}
	return v == record.Rose
}

// seriesReadings are a series' values, its changes since the last session, or the slope of its latest phase as it was
// known after each session. A detectable change may also have crept up: then it is seen against the baseline.
func (a *analysis) seriesReadings(w record.WatchRule, s *series) []reading {
	q := s.words(s.unit)
	var out []reading
	for i := range s.points {
		p := &s.points[i]
		switch w.Of {
		case "change":
			if i == 0 {
				continue
			}
			c := a.compare(s, &s.points[i-1], p, record.BasisLast, "")
			if j := a.baseline(s); w.Detectable && !asked(w, c.Verdict) && j >= 0 && j < i-1 {
				if b := a.compare(s, &s.points[j], p, record.BasisBaseline, ""); asked(w, b.Verdict) {
					c = b
				}
			}
			out = append(out, reading{p.Date, c.Change, c.U95, s.unit, asked(w, c.Verdict),
				fmt.Sprintf("%s %s %s", q.Title, q.Delta(c.Change, c.U95), since(&c)), q.Delta(c.Change, c.U95) + " since " + words.LongDay(c.FromDate)})
		case "trend":
			if r, ok := a.slopeReading(s, i); ok {
				out = append(out, r)
			}
		default:
			out = append(out, reading{p.Date, p.Value, p.U95, s.unit, false,
				fmt.Sprintf("%s %s on %s", q.Title, q.Value(p.Value, p.U95), words.LongDay(p.Date)), q.Value(p.Value, p.U95)})
		}
	}
	return out
}

// slopeReading is the slope of the phase that session i belongs to, up to it; five sessions are needed.
func (a *analysis) slopeReading(s *series, i int) (reading, bool) {
	from := 0
	for _, e := range a.splitting(s.plant) {
		if e.Date < s.points[i].Date {
			from = s.lastUpTo(e.Date) + 1
		}
	}
	t := s.trend(s.points[from:i+1], a.nulls)
	if math.IsNaN(t.SlopeLow) {
		return reading{}, false
	}
	q := s.words(s.unit)
	half := (t.SlopeHigh - t.SlopeLow) / 2
	return reading{s.points[i].Date, (t.SlopeHigh + t.SlopeLow) / 2, half, s.unit, false,
		fmt.Sprintf("%s %s a month over %d sessions since %s", q.Title, q.Delta(t.SlopePerMonth, half), t.Sessions, words.LongDay(t.FromDate)), ""}, true
}
