package desk

import (
	"fmt"
	"html/template"
	"strings"
	"time"

	"phototrack/internal/change"
	"phototrack/internal/chart"
	"phototrack/internal/collection"
	"phototrack/internal/quantity"
	"phototrack/internal/record"
)

// plotted is one chart of a plant's page: one quantity, or the discoloured shares together.
type plotted struct {
	title   string
	names   []string
	floor   bool
	minSpan float64 // in the shown unit; 0: a fifth of the value, so that a steady plant looks steady
}

var plots = map[record.View][]plotted{
	record.Leaf: {
		{"Leaf area", []string{"leaf_area"}, false, 0},
		{"Yellow, purple and brown shares", []string{"yellow_share", "purple_share", "brown_share"}, true, 6},
		{"Leaf hue", []string{"leaf_hue"}, false, 10},
	},
	record.Root: {
		{"Visible root length", []string{"root_length"}, false, 0},
		{"Longest root", []string{"root_longest"}, false, 0},
	},
}

// plot is a chart ready for the page.
type plot struct {
	ID, Title, Unit, Latest string
	SVG                     template.HTML
	Key                     []plotKey
}

type plotKey struct{ Class, Text string }

// letter names the events of a plant a, b, c ... on charts and in lists.
func letter(i int) string { return string(rune('a' + i%26)) }

func plotsOf(an *change.Analysis, plant record.Plant, view record.View, events []collection.EventLine) ([]plot, error) {
	var out []plot
	for i, pl := range plots[view] {
		spec := chart.Spec{ID: fmt.Sprintf("c%.1s%d", view, i), Floor: pl.floor, MinSpan: pl.minSpan, W: 380, H: 200,
			Title: fmt.Sprintf("%s of plant %d, %s", pl.title, plant.Number, plantTitle(plant))}
		q := quantity.Of(pl.names[0], "")
		box := plot{ID: spec.ID, Title: pl.title, Unit: q.Shown}
		for _, name := range pl.names {
			line, latest := lineOf(an, plant.Number, view, name, len(pl.names) > 1)
			if len(line.Points) == 0 {
				continue
			}
			spec.Series = append(spec.Series, line)
			box.Latest += latest + " "
			if len(pl.names) > 1 {
				box.Key = append(box.Key, plotKey{"k-" + line.Kind, line.Kind})
			}
		}
		if len(spec.Series) == 0 {
			continue
		}
		for k, e := range events {
			if at, err := time.Parse(time.DateOnly, e.Date); err == nil {
				spec.Marks = append(spec.Marks, chart.Mark{At: at, Letter: letter(k), Words: fmt.Sprintf("%s: %s, %s. %s", letter(k), eventWords(e.Kind), longDay(e.Date), e.Note)})
			}
		}
		if spec.MinSpan == 0 {
			spec.MinSpan = 0.2 * spec.Series[0].Points[0].Value
		}
		spec.Desc = fmt.Sprintf("%d sessions. Latest: %s", len(spec.Series[0].Points), box.Latest)
		svg, err := chart.SVG(spec)
		if err != nil {
			return nil, err
		}
		box.SVG = template.HTML(svg) // package chart escapes every text that it is given
		out = append(out, box)
	}
	return out, nil
}

// lineOf is a series as points with their words, and the latest value in words.
func lineOf(an *change.Analysis, plant int, view record.View, name string, named bool) (chart.Series, string) {
	kind := strings.TrimSuffix(name, "_share")
	if !strings.HasSuffix(name, "_share") {
		kind = "value"
	}
	out := chart.Series{Kind: kind}
	latest := ""
	for _, s := range an.Sessions {
		if s.Plant != plant || s.View != view || s.Quantity != name {
			continue
		}
		at, err := time.Parse(time.DateOnly, s.Date)
		if err != nil {
			continue
		}
		q := quantity.Of(s.Quantity, s.Unit)
		value := q.Value(s.Value, s.U95)
		if named {
			value = kind + " " + value
		}
		latest = value
		if !named {
			latest = longDay(s.Date) + ": " + value
		}
		out.Points = append(out.Points, chart.Point{At: at, Value: s.Value * q.Scale, U95: s.U95 * q.Scale, Words: longDay(s.Date) + ": " + value})
	}
	return out, latest
}
