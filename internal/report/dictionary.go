package report

import (
	"encoding/json"
	"io"
	"strings"
	"time"

	"phototrack/internal/change"
	"phototrack/internal/gate"
	"phototrack/internal/quantity"
	"phototrack/internal/record"
)

// The dictionary of the exported columns is a Data Package (datapackage.json) whose resources carry a Table Schema:
// Frictionless Data, specs.frictionlessdata.io. R (frictionless) and Python (frictionless, pandas) read it as it is.

// Field is one column.
type Field struct {
	Name        string         `json:"name"`
	Type        string         `json:"type"` // string | integer | number | date | datetime
	Format      string         `json:"format,omitempty"`
	Title       string         `json:"title,omitempty"`
	Description string         `json:"description,omitempty"`
	Constraints map[string]any `json:"constraints,omitempty"`
}

// Schema is a Table Schema.
type Schema struct {
	Fields        []Field  `json:"fields"`
	MissingValues []string `json:"missingValues"`
	PrimaryKey    []string `json:"primaryKey,omitempty"`
}

// Resource is one file.
type Resource struct {
	Name        string            `json:"name"`
	Path        string            `json:"path"`
	Profile     string            `json:"profile"`
	Description string            `json:"description"`
	Format      string            `json:"format"`
	MediaType   string            `json:"mediatype"`
	Encoding    string            `json:"encoding"`
	Dialect     map[string]string `json:"dialect"`
	Schema      Schema            `json:"schema"`
}

// Package is a Data Package.
type Package struct {
	Profile     string                       `json:"profile"`
	Name        string                       `json:"name"`
	Title       string                       `json:"title"`
	Description string                       `json:"description"`
	Created     string                       `json:"created"`
	Resources   []Resource                   `json:"resources"`
	Quantities  map[string]map[string]string `json:"quantities"` // name -> title, unit, view, meaning
	Reasons     map[string]map[string]string `json:"reasons"`    // code -> sentence, limit, status
}

// WriteDictionary writes the dictionary of the exports as datapackage.json.
func WriteDictionary(w io.Writer, collection string, made time.Time) error {
	enc := json.NewEncoder(w)
	enc.SetIndent("", "  ")
	enc.SetEscapeHTML(false)
	return enc.Encode(Dictionary(collection, made))
}

// Dictionary describes every exported file and column.
func Dictionary(collection string, made time.Time) Package {
	p := Package{Profile: "tabular-data-package", Name: "phototrack-exports", Title: "Measurements of " + collection,
		Description: "Monthly photo measurements of numbered potted plants with 95 % intervals. Empty cells are missing values. Measurements describe what a camera saw; changes after events are associations.",
		Created:     made.Format(time.RFC3339), Quantities: map[string]map[string]string{}, Reasons: map[string]map[string]string{}}
	for _, t := range tables() {
		p.Resources = append(p.Resources, Resource{Name: t.name, Path: t.name + ".csv", Profile: "tabular-data-resource", Description: t.about,
			Format: "csv", MediaType: "text/csv", Encoding: "utf-8", Dialect: map[string]string{"delimiter": ",", "quoteChar": `"`},
			Schema: Schema{Fields: t.fields, MissingValues: []string{""}, PrimaryKey: t.key}})
	}
	for _, q := range quantity.All() {
		p.Quantities[string(q.Name)] = map[string]string{"title": q.Title, "unit": q.Unit, "view": string(q.View), "meaning": q.Means}
	}
	for _, g := range gate.All() {
		p.Reasons[string(g.Code)] = map[string]string{"sentence": g.Sentence, "limit": g.Limit, "status": string(g.Status)}
	}
	return p
}

type table struct {
	name, about string
	key         []string
	fields      []Field
}

func text(name, about string) Field {
	return Field{Name: name, Type: "string", Description: about}
}
func whole(name, about string) Field {
	return Field{Name: name, Type: "integer", Description: about}
}
func number(name, about string) Field {
	return Field{Name: name, Type: "number", Description: about}
}
func date(name, about string) Field {
	return Field{Name: name, Type: "date", Description: about}
}
func oneOf(name, about string, values ...string) Field {
	return Field{Name: name, Type: "string", Description: about, Constraints: map[string]any{"enum": values}}
}
func probabilityField(name, about string) Field {
	f := number(name, about)
	f.Constraints = map[string]any{"minimum": 0, "maximum": 1}
	return f
}

func viewField() Field {
	return oneOf("view", "what the photo measures: leaves, or roots through a clear pot", string(record.Leaf), string(record.Root))
}

func verdictField() Field {
	return oneOf("verdict", "what is said of this one comparison, unadjusted", string(record.Rose), string(record.Fell), string(record.NoChange), string(record.TooFew))
}

func plantField() Field {
	return whole("plant", "the permanent number on the plant's tag, 1 to 574")
}

// tables lists the exported files, column by column, in the order in which they are written.
func tables() []table {
	quantityField := text("quantity", "name of the quantity, see quantities")
	partField := text("part", "the part of the plant, a name of parts.csv, or what was counted; empty for the whole plant; over several plants: a kind of part")
	unitField := text("unit", "unit of the value: mm2, mm, 1, deg, px_per_mm, CIEDE2000")
	u95 := number("u95", "half-width of the 95 % interval, in the value's unit")
	return []table{
		{"measurements", "One row per photo and quantity; a rejected photo has one row without a value.", nil, []Field{
			text("photo", "base name of the file"),
			text("date", "local date and time, ISO 8601, with the offset where it is known"),
			plantField(), viewField(), quantityField, partField, number("value", "measured value"), unitField, u95,
			oneOf("status", "outcome of the photo", string(record.Accepted), string(record.Flagged), string(record.Rejected)),
			text("reasons", "codes of the gates that the photo did not pass, separated by semicolons, see reasons"),
			text("sha256", "content hash of the photo")}},
		{"sessions", "One row per plant, view, day and quantity: the mean of the day's photos that count; and one per count that was typed, without a view and an interval.", nil, []Field{
			plantField(), viewField(), date("date", "day of the session"), quantityField, partField, number("value", "mean of the counted photos"), unitField, u95,
			whole("photos", "photos that count")}},
		{"changes", "One row per comparison of two sessions.", nil, []Field{
			plantField(), text("name", "the plant's name"), viewField(), quantityField, partField, date("from_date", "earlier session"), date("to_date", "later session"),
			number("from_value", "value of the earlier session"), number("to_value", "value of the later session"), number("change", "later minus earlier"), unitField, u95,
			number("smallest_detectable", "smallest change that these two sessions could have shown"), verdictField(),
			oneOf("basis", "what is compared with", record.BasisLast, record.BasisYear, record.BasisBaseline, record.BasisEvent),
			text("event", "date and kind, where the basis is an event"), probabilityField("q", "Benjamini-Hochberg over the month's comparisons of that basis")}},
		{"trends", "One row per plant, quantity and phase between events.", nil, []Field{
			plantField(), viewField(), quantityField, partField, text("phase", "all, or before, between or after events"), date("from_date", "first session"), date("to_date", "last session"),
			whole("sessions", "sessions in the phase"), number("slope_per_month", "Theil-Sen slope per 30.4375 days, in the quantity's unit"),
			number("slope_low", "lower end of its interval"), number("slope_high", "upper end of its interval"),
			probabilityField("mk_p", "exact Mann-Kendall test"), probabilityField("mk_q", "the same, Benjamini-Hochberg"),
			number("relative_growth_per_month", "slope of the logarithm per 30.4375 days"), number("growth_low", "lower end of its interval"), number("growth_high", "upper end of its interval")}},
		{"events_effect", "One row per event and quantity: what moved around it. Association, not cause.", nil, []Field{
			plantField(), viewField(), text("event", "kind of the event"), date("date", "day of the event"), quantityField, partField,
			number("slope_before", "per month; empty with fewer than three sessions"), number("slope_after", "per month; empty with fewer than three sessions"),
			number("level_change", "step at the event"), text("comparison_plants", "numbers of the comparison plants"),
			number("difference", "difference in differences against them; empty where there are none"), number("low", "lower end of its interval"), number("high", "upper end of its interval"),
			probabilityField("p", "exact permutation p, where the numbers allow one"), probabilityField("p_smallest", "smallest p that the numbers allow"), probabilityField("q", "Benjamini-Hochberg"),
			text("other_events", "what else was done near it")}},
		{"parts", "The parts of plants that are followed, as the grower lists them.", nil, []Field{
			plantField(), text("part", "short name, unique on the plant"), oneOf("kind", "what it is", record.PartKinds()...), text("name", "the grower's words"),
			date("from", "first day"), date("until", "last day; empty while it is there"), text("note", "the grower's note")}},
		{"counts", "What the grower counted.", nil, []Field{
			date("date", "day of the count"), plantField(), text("what", "what was counted"), whole("count", "how many"), text("note", "the grower's note")}},
		{"events_pooled", "One row per kind of event, quantity and month after it, over all plants that had it.", nil, []Field{
			text("event", "kind of the event"), text("group", "group of plants, empty for all"), quantityField, partField, whole("month_from_event", "whole months from the event"),
			whole("plants", "plants that count"), number("median_change", "median over the plants, in the unit of the last column"), number("low", "lower end of its interval"), number("high", "upper end of its interval"),
			probabilityField("share_rose", "share of the plants that rose"), probabilityField("share_fell", "share of the plants that fell"),
			text("unit", "unit of the change, or relative: a share of what it was")}},
		{"digest", "One row per quantity of each plant that changed, in the order of the report's first screen: the change since the photos before beside that over the longer time.", nil, []Field{
			whole("rank", "place of the plant on the first screen"), plantField(), text("name", "the plant's name"), viewField(), quantityField, partField, unitField,
			date("last_from_date", "day of the photos before"), number("last_change", "change since then"), number("last_u95", "half-width of its 95 % interval"), text("last_verdict", "what is said of it"),
			text("long_basis", "what the longer time is: baseline (the start), year before, or the day and kind of an event"), date("long_from_date", "first day of the longer time"), number("long_change", "change over it"),
			number("long_u95", "half-width of its 95 % interval"), text("long_verdict", "what is said of it"), number("times_u95", "how many times its interval the surer of the two is")}},
		{"months", "For spreadsheets: one row per plant and month, and one for each of its parts and of what was counted, with the values of the month's last day that has some.", nil, monthFields()},
	}
}

// monthFields are the columns of months.csv.
func monthFields() []Field {
	said := map[string]string{"month": "month, YYYY-MM", "name": "the plant's name", "group": "the plant's group", "part": "the part of the plant, or what was counted; empty: the whole plant", "last photo": "day of the values",
		"count":  "how many there were, as typed",
		"photos": "photos of the month that count", "done to it": "what was done to the plant in the month"}
	var out []Field
	for _, n := range change.MonthsHeader() {
		switch {
		case n == "plant":
			out = append(out, plantField())
		case n == "last photo":
			out = append(out, date(n, said[n]))
		case n == "photos" || n == "count":
			out = append(out, whole(n, said[n]))
		case said[n] != "":
			out = append(out, text(n, said[n]))
		case strings.HasSuffix(n, " +-"):
			out = append(out, number(n, "half-width of its 95 % interval: the true value lies within this much in 19 of 20 cases"))
		default:
			out = append(out, number(n, "value of the day, in the unit of the heading"))
		}
	}
	return out
}
