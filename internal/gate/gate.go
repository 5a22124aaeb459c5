// Package gate is the one table of quality gates: what can be wrong with a photo, in plain words, what to do about
// it, where the limit lies and why. The check command, the run, the report and the desk all speak from this table.
package gate

import (
	"fmt"
	"slices"
	"strings"

	"phototrack/internal/record"
)

// Gate is one row of the table.
type Gate struct {
	Code       record.GateCode // short and stable: it stands in measurements.csv
	Name       string          // a few words
	Sentence   string          // what is wrong, for a grower
	Hint       string          // what to do about it
	Status     record.Status   // what a photo becomes: flagged or rejected
	NotCounted bool            // flagged, but its numbers stay out of the series
	Limit      string          // the limit with its unit
	Why        string          // why the limit lies there
}

// Undecided gives the reason for which a photo waits for the grower's word on what is leaf; ok is false where it does not.
func Undecided(p *record.Photo) (r record.Reason, ok bool) {
	for _, r := range p.Reasons {
		if r.Code == Unsure || r.Code == TooUnsure {
			return r, true
		}
	}
	return r, false
}

// DateInDoubt says that a photo's date cannot be right: no month, session or report may be placed by it.
func DateInDoubt(p *record.Photo) bool { return p.HasReason(DateFuture) || p.HasReason(DateEarly) }

// table holds the rows in the order in which a photo meets the gates.
var table = slices.Concat(photoRows, cardRows, plantRows, potRows, handRows)

// All returns a copy of the table, in the order in which a photo meets the gates.
func All() []Gate { return append([]Gate(nil), table...) }

// Lookup finds a gate by its code; ok is false for a code that is not in the table.
func Lookup(code record.GateCode) (g Gate, ok bool) {
	for _, g := range table {
		if g.Code == code {
			return g, true
		}
	}
	return Gate{Code: code, Name: string(code), Sentence: string(code)}, false
}

// StatusOf gives the outcome of a photo with these reasons: the worst of its gates, accepted where there is none.
func StatusOf(reasons []record.Reason) record.Status {
	s := record.Accepted
	for _, r := range reasons {
		g, _ := Lookup(r.Code)
		if g.Status == record.Rejected {
			return record.Rejected
		}
		s = record.Flagged
	}
	return s
}

// Counts says whether a photo's numbers go into its series: accepted, or flagged by gates that do not forbid it.
func Counts(status record.Status, reasons []record.Reason) bool {
	if status == record.Rejected {
		return false
	}
	for _, r := range reasons {
		if g, ok := Lookup(r.Code); ok && g.NotCounted {
			return false
		}
	}
	return true
}

// Because is the reason that a photo does not pass a gate, with its figures as fmt.Sprintf prints them.
func Because(code record.GateCode, format string, args ...any) record.Reason {
	return record.Reason{Code: code, Detail: fmt.Sprintf(format, args...)}
}

// Text is the reason as one line for a person: the sentence and, where there are figures, the figures.
func Text(r record.Reason) string {
	g, _ := Lookup(r.Code)
	if r.Detail == "" {
		return g.Sentence
	}
	if bare, ok := strings.CutSuffix(g.Sentence, "."); ok {
		return fmt.Sprintf("%s (%s).", bare, r.Detail)
	}
	return fmt.Sprintf("%s (%s)", g.Sentence, r.Detail)
}

// Codes joins the reasons' codes with semicolons, sorted, each once: the form of the CSV files.
func Codes(reasons []record.Reason) string {
	var codes []string
	for _, r := range reasons {
		codes = append(codes, string(r.Code))
	}
	slices.Sort(codes)
	return strings.Join(slices.Compact(codes), ";")
}
