package record

import (
	"slices"
	"strings"
)

// Part is a row of parts.csv: one thing on a plant that is followed from month to month.
type Part struct {
	Line  int    `json:"line"` // in parts.csv, from 2; 0 before it is written
	Plant int    `json:"plant"`
	Part  string `json:"part"` // a short name that is unique on the plant, such as "spike 1"
	Kind  string `json:"kind"` // one of PartKinds
	Name  string `json:"name"` // the grower's words, "" for none
	From  string `json:"from"` // YYYY-MM-DD or ""
	Until string `json:"until"`
	Note  string `json:"note"`
}

// Gone says that the part is no longer there on a day (YYYY-MM-DD): it is there on its last day.
func (p Part) Gone(day string) bool { return p.Until != "" && day != "" && day > p.Until }

// partKinds are the words that a part can be: the field's terms for what grows on a plant.
var partKinds = []string{"leaf", "growth", "spike", "bulb", "offset", "root", "bloom", "other"}

// PartKinds gives the kinds of parts.
func PartKinds() []string { return slices.Clone(partKinds) }

// IsPartKind says whether a word is a kind of part.
func IsPartKind(s string) bool { return slices.Contains(partKinds, s) }

// SamePart says whether two names mean the same part: upper and lower case and blanks at the ends do not matter.
func SamePart(a, b string) bool { return strings.EqualFold(strings.TrimSpace(a), strings.TrimSpace(b)) }

// Count is a row of counts.csv: how many of something there were on a day.
type Count struct {
	Line  int    `json:"line"`
	Date  string `json:"date"` // YYYY-MM-DD
	Plant int    `json:"plant"`
	What  string `json:"what"` // spikes, buds, flowers, growths, leaves, offsets, or the grower's own word
	Count int    `json:"count"`
	Note  string `json:"note"`
}

// News is what a month brought that is no difference of measured values: a part that was not there before, a part that
// is gone, a count that is another.
type News struct {
	Plant    int
	Name     string // of the plant
	Part     string // the part, or what is counted
	Kind     string // new | gone | count
	Date     string
	From, To int // of a count
	Sentence string
}
