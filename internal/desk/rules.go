package desk

import (
	"cmp"
	"fmt"
	"math"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"phototrack/internal/collection"
	"phototrack/internal/quantity"
	"phototrack/internal/record"
)

// ruleLine is a watch rule with its words.
type ruleLine struct {
	record.WatchRule
	Words, Plants string
}

// rulesBody is the page of watch rules.
type rulesBody struct {
	Rules      []ruleLine
	Quantities []quantity.Info
	Version    string
	Edit       collection.RuleText // what stands in the form
	Line       int                 // the rule that is changed, 0 for a new one
	Wrong      wrong
}

// wrong is why an entry was refused, and the field that it is about; "" for the whole of it.
type wrong struct{ Field, What, Hint string }

func (d *Desk) rulesPage(w http.ResponseWriter, r *http.Request, s *snapshot) error {
	b := newRules(s)
	if line, err := strconv.Atoi(r.URL.Query().Get("line")); err == nil {
		for _, k := range s.c.Rules {
			if k.Line == line {
				b.Line, b.Edit = line, shownText(k)
			}
		}
	}
	return d.show(w, r, s, sheet{template: "rules.html", title: "Watch rules", here: "rules", body: b})
}

func newRules(s *snapshot) rulesBody {
	b := rulesBody{Version: s.c.Version(collection.WatchFile), Edit: collection.RuleText{Of: "value", Condition: ">="}}
	for _, k := range s.c.Rules {
		b.Rules = append(b.Rules, ruleLine{k, ruleWords(k), watchedWords(k)})
	}
	for _, name := range collection.Watchable() {
		b.Quantities = append(b.Quantities, quantity.Of(name, ""))
	}
	return b
}

// textOf is a rule as its line says it.
func textOf(k record.WatchRule) collection.RuleText {
	limit := strconv.FormatFloat(k.Limit, 'g', -1, 64)
	if k.Detectable {
		limit = "detectable"
	}
	return collection.RuleText{Quantity: string(k.Quantity), Part: k.Part, Of: k.Of, Condition: k.Condition, Limit: limit, Message: k.Message, Plants: collection.WatchedText(k)}
}

// shownText is a rule as the form shows it: its limit in the unit that pages show.
func shownText(k record.WatchRule) collection.RuleText {
	t := textOf(k)
	if !k.Detectable {
		t.Limit = plainNumber(k.Limit * quantity.OfPart(k.Quantity, k.Part, "").Scale)
	}
	return t
}

// inTableUnits is a rule of the form as its line is to say it: its limit in the unit of the tables.
func inTableUnits(k collection.RuleText) (collection.RuleText, error) {
	q := quantity.OfPart(record.QuantityName(k.Quantity), k.Part, "")
	text := strings.TrimSpace(strings.TrimSuffix(k.Limit, q.Shown))
	switch {
	case text == "":
		return k, bad(http.StatusUnprocessableEntity, "the limit is missing", "Write a number, or detectable for a change.")
	case strings.EqualFold(text, "detectable") && k.Of != "change":
		return k, bad(http.StatusUnprocessableEntity, "the limit detectable is for changes only", "Choose the change, or write a number.")
	case strings.EqualFold(text, "detectable"):
		return k, nil
	}
	v, err := strconv.ParseFloat(strings.Replace(text, ",", ".", 1), 64)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
		return k, bad(http.StatusUnprocessableEntity, "the limit "+strconv.Quote(k.Limit)+" is not a number", "Write a number, or detectable for a change.")
	}
	k.Limit = plainNumber(v / q.Scale)
	return k, nil
}

// plainNumber writes a number as a person would: without the dust of a change of units.
func plainNumber(v float64) string { return strconv.FormatFloat(v, 'g', 12, 64) }

// ruleWords is what a rule waits for: "longest root reaches 75 mm".
func ruleWords(k record.WatchRule) string {
	q := quantity.OfPart(k.Quantity, k.Part, "")
	subject := q.Title
	switch k.Of {
	case "change":
		subject = "the change of " + q.Title
	case "trend":
		subject = q.Title + ", a month,"
	}
	more := "reaches"
	if k.Condition == "<=" {
		more = "falls to"
	}
	if k.Detectable {
		if k.Condition == "<=" {
			return q.Title + " falls by more than can be noise"
		}
		return q.Title + " rises by more than can be noise"
	}
	limit := strconv.FormatFloat(k.Limit*q.Scale, 'g', 6, 64)
	if q.Shown != "" {
		limit += " " + q.Shown
	}
	return fmt.Sprintf("%s %s %s", subject, more, limit)
}

// watchedWords is which plants a rule watches.
func watchedWords(k record.WatchRule) string {
	switch text := collection.WatchedText(k); {
	case k.Off:
		return "off"
	case text == "":
		return "all plants"
	case k.Group != "":
		return "group " + text
	case len(k.Except) > 0:
		return text
	default:
		return "plants " + text
	}
}

// ruleSwitch is a rule on a plant's page: whether it watches the plant.
type ruleSwitch struct {
	Line    int
	Words   string
	On      bool
	Version string
}

func rulesFor(c *collection.Collection, plant int) (out []ruleSwitch) {
	for _, k := range c.Rules {
		out = append(out, ruleSwitch{k.Line, ruleWords(k), slices.Contains(c.RulePlants(k), plant), c.Version(collection.WatchFile)})
	}
	return out
}

// switchRule lets a rule watch a plant, or leave it out.
func (d *Desk) switchRule(w http.ResponseWriter, r *http.Request, s *snapshot) error {
	f := r.PostForm
	line, _ := strconv.Atoi(f.Get("line"))
	plant, _ := strconv.Atoi(f.Get("plant"))
	if _, ok := s.c.Plant(plant); !ok {
		return notFound("that plant is not in plants.csv")
	}
	err := d.change(func(c *collection.Collection) error {
		return c.SwitchRule(f.Get("version"), line, plant, f.Get("on") == "yes", "switched on the desk")
	})
	if err != nil {
		return err
	}
	return back(w, r, with("/plant/"+itoa(plant), "said", "rule"))
}

// saveRule adds, changes or removes a rule. What is refused is shown again as it was typed, with the reason beside it.
func (d *Desk) saveRule(w http.ResponseWriter, r *http.Request, s *snapshot) error {
	f := r.PostForm
	line, _ := strconv.Atoi(f.Get("line"))
	k := collection.RuleText{Quantity: f.Get("quantity"), Part: f.Get("part"), Of: f.Get("of"), Condition: f.Get("condition"), Limit: strings.TrimSpace(f.Get("limit")), Message: f.Get("message"), Plants: strings.TrimSpace(f.Get("plants"))}
	reason := cmp.Or(strings.TrimSpace(f.Get("reason")), "changed on the desk")
	kept, err := inTableUnits(k)
	switch {
	case f.Get("do") == "remove":
		err = d.change(func(c *collection.Collection) error { return c.RemoveRule(f.Get("version"), line, reason) })
	case err == nil && line > 0:
		err = d.change(func(c *collection.Collection) error { return c.ChangeRule(f.Get("version"), line, kept, reason) })
	case err == nil:
		err = d.change(func(c *collection.Collection) error { return c.AddRule(kept) })
	}
	if err == nil {
		return back(w, r, with("/rules", "said", "rule"))
	}
	why, ok := refusal(err, map[string]string{"limit": "limit", "condition": "condition", "plants": "plants", "quantity": "quantity", "part": "part", "plant": "plants", "group": "plants"})
	if !ok || wantsJSON(r) {
		return err
	}
	b := newRules(s)
	b.Edit, b.Line, b.Wrong = k, line, why
	return d.again(w, s, sheet{template: "rules.html", title: "Watch rules", here: "rules", body: b})
}
