package record

import (
	"strconv"
	"strings"
)

// The values on the telling side: sessions, change, trend, effect of events, watch rules, and what is missing.
// Package change computes them from photos and the grower's files; report, plate and the exports show them.

// Plant is a row of plants.csv.
type Plant struct {
	Number int    `json:"number"`
	Name   string `json:"name"`
	Group  string `json:"group"`
	Pot    Pot    `json:"pot"`
	From   string `json:"from"`  // YYYY-MM-DD or ""
	Until  string `json:"until"` // YYYY-MM-DD or ""
	Note   string `json:"note"`
}

// Pot is a clear pot: inside diameters at rim and base and the height of the wall, mm. Zero where unknown.
type Pot struct {
	TopMM    float64 `json:"top_mm"`
	BottomMM float64 `json:"bottom_mm"`
	HeightMM float64 `json:"height_mm"`
}

// Known says that all three sizes are given.
func (p Pot) Known() bool { return p.TopMM > 0 && p.BottomMM > 0 && p.HeightMM > 0 }

// Event is a row of events.csv: something done to a plant on a day.
type Event struct {
	Date  string `json:"date"` // YYYY-MM-DD
	Plant int    `json:"plant"`
	Kind  string `json:"kind"` // repot, medium, feed, water, light, move, treat, cut, other
	Note  string `json:"note"`
	Pot   Pot    `json:"pot"` // the new clear pot from that date on, zero where none
}

// WatchRule is a row of watch.csv.
type WatchRule struct {
	Line       int          `json:"line"` // in watch.csv, from 2
	Quantity   QuantityName `json:"quantity"`
	Part       string       `json:"part,omitempty"` // the name of a part or a kind of parts, "" for the whole plant (of a part's quantity: all parts)
	Of         string       `json:"of"`             // value | change | trend
	Condition  string       `json:"condition"`      // >= | <=
	Limit      float64      `json:"limit"`
	Detectable bool         `json:"detectable"` // the limit is the smallest detectable change
	Message    string       `json:"message"`
	Plants     []int        `json:"plants"` // empty with Group empty: all
	Group      string       `json:"group"`
	Except     []int        `json:"except,omitempty"` // plants of these that it does not watch
	Off        bool         `json:"off,omitempty"`    // it watches none
}

// Key is the rule in words, "root_longest value >= 75": what corrections.csv names it by, so that an answer outlives the
// rule's place in the file.
func (w WatchRule) Key() string {
	limit := strconv.FormatFloat(w.Limit, 'g', -1, 64)
	if w.Detectable {
		limit = "detectable"
	}
	words := []string{string(w.Quantity), w.Of, w.Condition, limit}
	if w.Part != "" {
		words = append(words, "of", strings.ToLower(w.Part))
	}
	return strings.Join(words, " ")
}

// Session is the photos of one plant and view on one calendar day, reduced to one value for one quantity.
type Session struct {
	Plant    int          `json:"plant"`
	View     View         `json:"view"`
	Date     string       `json:"date"` // YYYY-MM-DD
	Quantity QuantityName `json:"quantity"`
	Part     string       `json:"part,omitempty"` // "" for the whole plant; of a count: what is counted
	Unit     string       `json:"unit"`
	Value    float64      `json:"value"`
	U95      float64      `json:"u95"`       // absolute: budget and repeatability
	UVarying float64      `json:"u_varying"` // standard uncertainty of what varies between sessions (goes into a change)
	UCommon  float64      `json:"u_common"`  // standard uncertainty of what is common to all sessions of the plant
	Photos   int          `json:"photos"`    // that count
	Names    []string     `json:"names"`     // their base names
}

// Verdict is what is said about a change, in one of four fixed wordings.
type Verdict string

// The four verdicts.
const (
	Rose     Verdict = "rose"
	Fell     Verdict = "fell"
	NoChange Verdict = "no detectable change"
	TooFew   Verdict = "too few photos"
)

// Bases of comparison.
const (
	BasisLast     = "last session"
	BasisYear     = "year before"
	BasisBaseline = "baseline"
	BasisEvent    = "event"
)

// Change is the difference of two sessions of one plant and quantity.
type Change struct {
	Plant              int          `json:"plant"`
	Name               string       `json:"name"`
	View               View         `json:"view"`
	Quantity           QuantityName `json:"quantity"`
	Part               string       `json:"part,omitempty"`
	FromDate           string       `json:"from_date"`
	ToDate             string       `json:"to_date"`
	FromValue          float64      `json:"from_value"`
	ToValue            float64      `json:"to_value"`
	Change             float64      `json:"change"`
	Unit               string       `json:"unit"`
	U95                float64      `json:"u95"`
	SmallestDetectable float64      `json:"smallest_detectable"`
	Verdict            Verdict      `json:"verdict"`
	Basis              string       `json:"basis"`
	Event              string       `json:"event"` // "2026-04-18 repot" where the basis is an event
	P                  float64      `json:"p"`     // two-sided, of no change
	Q                  float64      `json:"q"`     // Benjamini-Hochberg over the month's comparisons of that basis
	Sentence           string       `json:"sentence"`
	Areas              string       `json:"areas,omitempty"` // where areas drawn by hand differ between the two sessions, so that they cannot be compared
}

// MonthDays is the length of a mean month in days (365.25 / 12): slopes and growth rates are per such a month.
const MonthDays = 30.4375

// Trend is the slope of one quantity within one phase between events.
type Trend struct {
	Plant                                    int          `json:"plant"`
	View                                     View         `json:"view"`
	Quantity                                 QuantityName `json:"quantity"`
	Part                                     string       `json:"part,omitempty"`
	Unit                                     string       `json:"unit"`
	Phase                                    string       `json:"phase"` // all | before <event> | after <event> | between ...
	FromDate, ToDate                         string
	Sessions                                 int
	SlopePerMonth, SlopeLow, SlopeHigh       float64 // Theil-Sen per MonthDays; low and high NaN below 5 sessions
	Level                                    float64 // confidence level actually reached
	MKp, MKq                                 float64 // exact Mann-Kendall, NaN where undefined
	RelGrowthPerMonth, GrowthLow, GrowthHigh float64 // NaN where undefined
	DoublingMonths                           float64 // NaN where it means nothing
}

// EventEffect is what moved around an event, against comparison plants where there are any.
type EventEffect struct {
	Plant                   int
	View                    View
	Event, Date             string
	Quantity                QuantityName
	Part                    string
	Unit                    string
	SlopeBefore, SlopeAfter float64 // NaN where fewer than three sessions
	LevelChange             float64
	LevelU95                float64
	ComparisonPlants        []int
	Difference, Low, High   float64 // difference in differences; NaN without comparison plants
	P, PSmallest, Q         float64
	OtherEvents             string
	Sentence                string
	Sure                    string  // what statistics say of it, "" for nothing
	Together                int     // plants of the group with this kind of event within a week, this one included
	PTogether, PTogetherMin float64 // exact p of all of them against the comparison plants, and the smallest reachable; NaN where none
}

// PooledEffect is one event kind over all plants that had it, month by month from the event.
type PooledEffect struct {
	Event, Group            string
	Quantity                QuantityName
	Part                    string // the kind of part: spikes of all plants together
	MonthFromEvent          int
	Plants                  int
	MedianChange, Low, High float64
	ShareRose, ShareFell    float64
	Unit                    string // of MedianChange: the quantity's, or "relative" (0.1 is 10 %) for areas and lengths
}

// WatchHit is a watch rule that fired or is near.
type WatchHit struct {
	Rule       WatchRule
	Plant      int
	Part       string
	Name       string
	State      string // fired | near
	Since      string // date of the session that fired first
	Eased      string // date of the latest session, where the rule no longer holds on it; "" while it does
	Value      float64
	U95        float64
	Unit       string
	Evidence   string // a sentence with the figures
	Answered   bool
	AnswerNote string
}

// Missing is a gap of the month: a plant and view without a counted photo, or photos that did not pass.
type Missing struct {
	Plant   int
	Name    string
	View    View
	Kind    string // no photo | rejected | flagged | one photo only
	Photo   string // base name, where it is about one photo
	Reasons []Reason
	LastDay string // last session that counted, "" if none
	Note    string // a sentence for the reader, "" where the kind says it all
}
