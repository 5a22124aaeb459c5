package desk

import (
	"cmp"
	"fmt"
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
	Words, Plants, LimitText string
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
				b.Line, b.Edit = line, textOf(k)
			}
		}
	}
	return d.show(w, r, s, "rules.html", "Watch rules", "rules", b)
}

func newRules(s *snapshot) rulesBody {
	b := rulesBody{Version: s.c.Version(collection.WatchFile), Edit: collection.RuleText{Of: "value", Condition: ">="}}
	for _, k := range s.c.Rules {
		b.Rules = append(b.Rules, ruleLine{k, ruleWords(k), watchedWords(k), textOf(k).Limit})
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
	err := checkRule(k)
	if err == nil {
		err = d.change(func(c *collection.Collection) error {
			switch {
			case f.Get("do") == "remove":
				return c.RemoveRule(f.Get("version"), line, reason)
			case line > 0:
				return c.ChangeRule(f.Get("version"), line, k, reason)
			}
			return c.AddRule(k)
		})
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
	return d.again(w, r, s, "rules.html", "Watch rules", "rules", b)
}

// checkRule refuses what could not be read back.
func checkRule(k collection.RuleText) error {
	switch {
	case k.Limit == "":
		return bad(http.StatusUnprocessableEntity, "the limit is missing", "Write a number, or detectable for a change.")
	case strings.EqualFold(k.Limit, "detectable") && k.Of != "change":
		return bad(http.StatusUnprocessableEntity, "the limit detectable is for changes only", "Choose the change, or write a number.")
	case strings.HasSuffix(k.Limit, "%"):
		return bad(http.StatusUnprocessableEntity, "the limit is not a number", "Write shares as numbers from 0 to 1: ten percent is 0.10.")
	}
	if _, err := strconv.ParseFloat(strings.Replace(k.Limit, ",", ".", 1), 64); err != nil && !strings.EqualFold(k.Limit, "detectable") {
		return bad(http.StatusUnprocessableEntity, "the limit "+strconv.Quote(k.Limit)+" is not a number", "Write a number, or detectable for a change.")
	}
	return nil
}
