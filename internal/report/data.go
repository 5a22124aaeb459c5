// Package report writes what the numbers say for a person: the month's page, the sheet for the next round of photos,
// and the dictionary of the exported columns. It gets plain values and knows neither the store nor OpenCV.
//
// WriteFiles is the place to begin: it turns a Data into an index of the month and a page for each plant, HTML files that
// open from disk each by itself, need no network, read on a phone, in the dark and on paper, and say everything without
// scripts too.
package report

import (
	"image"
	"time"

	"phototrack/internal/digest"
	"phototrack/internal/gate"
	"phototrack/internal/record"
	"phototrack/internal/words"
)

// Data is all that a report shows. Slices may be empty; a first month has no changes. Every text in it may come from
// outside and is escaped.
type Data struct {
	Collection string    // the collection's name, for the title
	Title      string    // the period in words: "July 2026"; made from From and To where empty
	From, To   string    // the period, YYYY-MM-DD, both included
	Made       time.Time // when the report was written
	Version    string    // of the program

	Plants   []record.Plant
	Parts    []record.Part // the lines of parts.csv
	Events   []record.Event
	Photos   []record.Photo   // all photos, without their pictures; those of the period and those that series rest on
	Sessions []record.Session // all sessions up to To
	Changes  []record.Change
	Trends   []record.Trend
	Effects  []record.EventEffect
	Pooled   []record.PooledEffect
	Watch    []record.WatchHit
	Missing  []record.Missing
	Faults   []string // lines of the grower's files that could not be used, one sentence each

	Digest *digest.Digest // the month at one glance; made from the fields above where nil
	Season string         // what can be said of the season, a sentence
	FDR    float64        // false discovery rate of what is called changed; 0.10 where zero

	Noise      []NoiseRow  // what the collection's own photos say of the noise between days
	Classes    []ClassRow  // the colour classes' limits
	Gates      []gate.Gate // the limits used; gate.All() where nil
	Settings   []Setting   // what was tuned away from its default, or all
	Method     []Topic     // what was measured and how
	ColourMode string      // "nominal", or the ways in which the cards' colours are known
	Next       []string    // what comes next, one sentence each
	Links      []Link      // exports and plates beside the report
	Before     *Link       // the report of the month before, from this one's folder
	After      *Link       // that of the month after
	Months     string      // the page of all months, "" for none

	// Picture gives a stored working picture as JPEG, or nil. Kinds: plain, overlay, wall, wall_overlay. It is called
	// from one goroutine at a time.
	Picture func(sha256, kind string) []byte
	// Whole gives a photo with its outlines, where Photos come without them; nil for none. It is asked for each plant's
	// latest photo, to find the plant in the picture.
	Whole func(sha256 string) (record.Photo, bool)
	// Original gives a photo that could not be measured, small and upright; nil for none.
	Original func(p *record.Photo) *image.NRGBA
	// PhotoLink gives the relative path of the kept original, or ""; nil for none.
	PhotoLink func(p record.Photo) string
}

// ClassRow is one colour class: the hue angles from which and up to which a leaf pixel belongs to it.
type ClassRow struct {
	Name           string
	FromDeg, ToDeg float64
	Reason         string
}

// NoiseRow is what a quantity's noise between days was taken to be.
type NoiseRow struct {
	Quantity record.QuantityName
	Factor   float64 // over the declared noise; 1 while the photos do not say
	DF       float64 // degrees of freedom behind the factor
	Plants   int     // that it rests on
}

// Setting is one line of settings.toml.
type Setting struct {
	Name, Value, Default, Why string
}

// Topic is a headed paragraph.
type Topic struct {
	Title string
	Text  string
}

// Link is a file beside the report.
type Link struct {
	Text, Href string
	Plant      int // 0: of the collection
}

func (d *Data) defaults() {
	if d.FDR == 0 {
		d.FDR = 0.10
	}
	if d.Gates == nil {
		d.Gates = gate.All()
	}
	if d.Made.IsZero() {
		d.Made = time.Now()
	}
	if d.Title == "" {
		d.Title = words.Period(d.From, d.To)
	}
	if d.Collection == "" {
		d.Collection = "The collection"
	}
	if len(d.Method) == 0 {
		d.Method = Method()
	}
	if d.Digest == nil {
		d.Digest = digestOf(d)
	}
}
