// Package change says what a collection's photos can and cannot show: sessions from replicates, change beyond noise
// against four comparisons, trends by phase between events, before and after an event against comparison plants, what
// a watch rule waits for, and what is missing. It is pure computing on plain records; the same input gives the same
// output to the last digit.
//
// Analyze is the place to begin. The statistics it rests on (TheilSen, Kendall, GrowthLine, PermutationP,
// BenjaminiHochberg) stand on their own and are checked against R, SciPy and full enumeration. WriteSessions,
// WriteChanges and their neighbours write the exports.
//
// All wording is of association: the photos show that something moved, never why.
package change

import (
	"math"
	"sort"
	"time"

	"phototrack/internal/record"
)

// Answer is a fired watch rule that the grower has dealt with.
type Answer struct {
	Plant int
	Rule  string // RuleKey of the rule
	Time  string // when it was answered, ISO 8601; only its day counts
	Note  string
}

// Settings tune what counts as a change. The zero value is not usable: begin with DefaultSettings.
type Settings struct {
	NoiseArea       float64 // relative noise of leaf area between days until there are data: 0.007
	NoiseRootLength float64 // the same for root length: 0.08
	NoiseShare      float64 // the same for shares, absolute: 0.01
	NoisePartLength float64 // the same for lengths of parts, relative and beyond the budget: 0.005
	NoisePartWidth  float64 // the same for widths, mm: 0.15
	NoisePartDeg    float64 // the same for bends and angles, degrees: 1.5
	FaceSampling    float64 // relative noise added to root lengths where the two sides of a pot differ: 0.25
	FalseDiscovery  float64 // of the first screen: 0.10
	Baseline        string  // first, or a date: the first session on or after it
	BaselineOf      map[int]string
	EventMonths     int // months after an event that count as its effect: 3
	QuietMonths     int // months before it in which a comparison plant had no such event: 3
}

// DefaultSettings are the declared priors and limits of the measurement model.
func DefaultSettings() Settings {
	return Settings{NoiseArea: 0.007, NoiseRootLength: 0.08, NoiseShare: 0.01, NoisePartLength: 0.005, NoisePartWidth: 0.15, NoisePartDeg: 1.5, FaceSampling: 0.25, FalseDiscovery: 0.10,
		Baseline: "first", EventMonths: 3, QuietMonths: 3}
}

// Input is all that an analysis rests on.
type Input struct {
	Photos   []record.Photo // all of the store, rejected ones too; pictures are not needed
	Plants   []record.Plant
	Events   []record.Event
	Rules    []record.WatchRule
	Parts    []record.Part
	Counts   []record.Count
	Answers  []Answer
	Extra    []record.Change // computed elsewhere from pictures: root_new, root_gone, colour_change
	NewCards []string        // dates from which a new print of the card was used, YYYY-MM-DD
	From, To string          // the period, YYYY-MM-DD, both included; empty: open. What came after To is not looked at
	Settings Settings
}

// Month gives the first and the last day of a month written YYYY-MM.
func Month(month string) (from, to string, err error) {
	t, err := time.Parse("2006-01", month)
	if err != nil {
		return "", "", err
	}
	return t.Format(time.DateOnly), t.AddDate(0, 1, -1).Format(time.DateOnly), nil
}

// Analysis is all that is said. Sessions are of all time up to To; changes, watch hits and gaps are of the period.
type Analysis struct {
	From, To    string
	Sessions    []record.Session
	Changes     []record.Change
	Trends      []record.Trend
	Effects     []record.EventEffect
	Pooled      []record.PooledEffect
	Watch       []record.WatchHit
	Missing     []record.Missing
	FirstScreen []record.Change // those that survive the false discovery rate, the surest first; one a plant and quantity
	Noise       []Noise         // what a session's noise was taken to be, and from how much
	News        []record.News   // parts that are new or gone, counts that are others
	Season      string          // what can be said of the season
}

// analysis is the working state behind Analyze.
type analysis struct {
	in     Input
	names  map[int]string
	groups map[int]string
	events map[int][]record.Event // of a plant, by date
	series []*series              // by plant, view and quantity
	at     map[key]*series
	shots  map[shotKey]*shots // photos of a plant and view
	noise  map[record.QuantityName]*Noise
	nulls  *nulls
	parts  map[partKey]record.Part
	splits map[int][]record.Event // those that part a plant's series into phases
}

// Analyze computes everything. It does not change its input.
func Analyze(in Input) Analysis {
	if in.Settings.EventMonths == 0 {
		in.Settings = DefaultSettings()
	}
	a := &analysis{in: in, names: map[int]string{}, groups: map[int]string{}, events: map[int][]record.Event{}, at: map[key]*series{},
		splits: map[int][]record.Event{}, nulls: &nulls{}}
	for _, p := range in.Plants {
		a.names[p.Number], a.groups[p.Number] = p.Name, p.Group
	}
	for _, e := range in.Events {
		if in.To == "" || e.Date <= in.To {
			a.events[e.Plant] = append(a.events[e.Plant], e)
		}
	}
	for _, list := range a.events {
		sort.SliceStable(list, func(i, j int) bool { return list[i].Date < list[j].Date })
	}
	a.split()
	a.readParts()
	a.buildSeries()
	a.estimateNoise()
	out := Analysis{From: in.From, To: in.To, Sessions: a.sessions(), Noise: a.noises()}
	out.Changes = a.changes()
	out.Trends = a.trends()
	out.Effects = a.effects()
	out.Pooled = a.pooled()
	out.Watch = a.watch()
	out.Missing = a.missing()
	out.FirstScreen = firstScreen(out.Changes, in.Settings.FalseDiscovery)
	out.News = a.news()
	out.Season = a.season()
	return out
}

// inPeriod says whether a day lies in the period.
func (a *analysis) inPeriod(day string) bool {
	return (a.in.From == "" || day >= a.in.From) && (a.in.To == "" || day <= a.in.To)
}

// dayNumber counts days; differences are what matters. A bad date gives NaN.
func dayNumber(day string) float64 {
	t, err := time.Parse(time.DateOnly, day)
	if err != nil {
		return math.NaN()
	}
	return float64(t.Unix() / 86400)
}

// plusMonths moves a day by calendar months.
func plusMonths(day string, months int) string {
	t, err := time.Parse(time.DateOnly, day)
	if err != nil {
		return day
	}
	return t.AddDate(0, months, 0).Format(time.DateOnly)
}
