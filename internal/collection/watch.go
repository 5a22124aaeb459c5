package collection

import (
	"fmt"
	"slices"
	"strings"

	"phototrack/internal/record"
)

var watchColumns = []string{"quantity", "of", "condition", "limit", "message", "plants", "part"}

// watchable are the quantities that a rule can watch: the series' quantities and those that only a change has.
var watchable = []record.QuantityName{record.LeafArea, record.GreenShare, record.YellowShare, record.PurpleShare, record.BrownShare, record.LeafLightness, record.LeafA, record.LeafB,
	record.LeafChroma, record.LeafHue, record.GreenIndex, record.ExcessGreen, record.RootLength, record.RootLongest, record.RootDiameter, record.RootTips,
	record.RootTipsGreen, record.RootIntersect, record.UnjudgedShare, record.OuterDiscolouredShare, record.InnerDiscolouredShare,
	record.WallCoverShare, record.WallSeenShare, record.RootNew, record.RootGone, record.ColourChange,
	record.PartLength, record.PartWidth, record.PartBend, record.PartAngle, record.CountOf}

func (c *Collection) readWatch() {
	t, ok := c.readTable(WatchFile, watchColumns, []string{"quantity", "condition", "limit"})
	if !ok {
		return
	}
	t.each(func(r *reader) func() {
		w := record.WatchRule{Line: r.row.line, Quantity: r.quantity(), Of: strings.ToLower(r.text("of")), Message: r.text("message"), Part: oneLine(r.text("part"))}
		if w.Of == "" {
			w.Of = "value"
		}
		if !contains([]string{"value", "change", "trend"}, w.Of) {
			r.fail("of", fmt.Sprintf("%q cannot be watched", clip(w.Of)), "Write value, change or trend.")
		}
		if w.Part != "" && !record.IsOfPart(w.Quantity) {
			r.fail("part", fmt.Sprintf("%s is of the whole plant, not of a part", clip(string(w.Quantity))), "Leave the part empty, or watch one of part_length, part_width, part_bend, part_angle, count.")
		}
		r.condition(&w)
		r.limit(&w)
		c.readWatched(r, &w)
		return func() { c.Rules = append(c.Rules, w) }
	})
}

// Words of the column plants of watch.csv that are neither numbers nor a group.
const (
	watchNone   = "none"    // the rule is off
	watchAllBut = "all but" // all plants but those that follow
)

// readWatched reads which plants a rule watches: numbers, a group, all where nothing is said, "all but" some, or "none".
func (c *Collection) readWatched(r *reader, w *record.WatchRule) {
	names := r.text("plants")
	rest, except := strings.CutPrefix(strings.ToLower(names), watchAllBut+" ")
	switch {
	case names == "":
	case strings.EqualFold(names, watchNone):
		w.Off = true
	case except:
		numbers, err := c.Resolve(strings.TrimSpace(rest))
		if err != nil {
			r.fail("plants", err.Error(), "After 'all but' write numbers, ranges such as 3-7 12, or a group of plants.csv.")
		}
		w.Except = numbers
	case len(c.Group(names)) > 0:
		w.Group = names
	default:
		w.Plants = r.plants(c, "plants")
	}
}

// quantity reads the name of a quantity; case does not matter.
func (r *reader) quantity() record.QuantityName {
	s := r.text("quantity")
	for _, q := range watchable {
		if strings.EqualFold(string(q), s) {
			return q
		}
	}
	r.fail("quantity", fmt.Sprintf("%q is not a quantity", clip(s)), "Known: "+joined(watchable)+".")
	return record.QuantityName(s)
}

// joined are names with commas between them.
func joined(names []record.QuantityName) string {
	var b strings.Builder
	for i, n := range names {
		if i > 0 {
			b.WriteString(", ")
		}
		b.WriteString(string(n))
	}
	return b.String()
}

func (r *reader) condition(w *record.WatchRule) {
	switch w.Condition = r.text("condition"); w.Condition {
	case ">=", "<=":
	case ">", "\u2265", "=>":
		w.Condition = ">="
	case "<", "\u2264", "=<":
		w.Condition = "<="
	default:
		r.fail("condition", fmt.Sprintf("%q is not a condition", clip(w.Condition)), "Write >= or <=.")
	}
}

// limit reads a number or the word detectable, which only a change can have.
func (r *reader) limit(w *record.WatchRule) {
	s := r.text("limit")
	if strings.EqualFold(s, "detectable") {
		w.Detectable = true
		if w.Of != "change" {
			r.fail("limit", "detectable is a limit for changes only", "Write change in the column 'of', or a number here.")
		}
		return
	}
	if strings.HasSuffix(s, "%") {
		r.fail("limit", fmt.Sprintf("%q is not a number", clip(s)), "Write shares as numbers from 0 to 1: ten percent is 0.10.")
		return
	}
	v, given := r.number("limit", -1e9, 1e9)
	if !given {
		r.fail("limit", "the limit is missing", "Write a number, or detectable for a change.")
	}
	w.Limit = v
}

// RulePlants gives the numbers that a rule watches: its own, its group's, or all of plants.csv, without those it leaves out.
func (c *Collection) RulePlants(w record.WatchRule) []int {
	switch {
	case w.Off:
		return nil
	case w.Group != "":
		return c.Group(w.Group)
	case len(w.Plants) > 0:
		return w.Plants
	}
	var all []int
	for _, p := range c.Plants {
		if !slices.Contains(w.Except, p.Number) {
			all = append(all, p.Number)
		}
	}
	return all
}

// WatchedText is which plants a rule watches, as the column plants of watch.csv writes it.
func WatchedText(w record.WatchRule) string {
	switch {
	case w.Off:
		return watchNone
	case w.Group != "":
		return w.Group
	case len(w.Plants) > 0:
		return numbersText(w.Plants)
	case len(w.Except) > 0:
		return watchAllBut + " " + numbersText(w.Except)
	}
	return ""
}

// RuleText is a rule as the cells of watch.csv write it.
type RuleText struct {
	Quantity, Part, Of, Condition, Limit, Message, Plants string
}

func (k RuleText) cells() map[string]string {
	return map[string]string{"quantity": oneLine(k.Quantity), "part": oneLine(k.Part), "of": oneLine(k.Of), "condition": oneLine(k.Condition), "limit": oneLine(k.Limit),
		"message": oneLine(k.Message), "plants": oneLine(k.Plants)}
}

// AddRule adds a rule to watch.csv. One that could not be read afterwards is refused.
func (c *Collection) AddRule(k RuleText) error {
	if err := c.appendRow(WatchFile, watchColumns, k.cells()); err != nil {
		return err
	}
	return c.Reload()
}

// ChangeRule changes a rule in its line of watch.csv, as it was seen in that version of the file.
func (c *Collection) ChangeRule(version string, line int, k RuleText, reason string) error {
	return c.rewrite(ruleList, version, []lineEdit{{line: line, set: k.cells()}}, reason)
}

// RemoveRule takes a rule out of watch.csv.
func (c *Collection) RemoveRule(version string, line int, reason string) error {
	return c.rewrite(ruleList, version, []lineEdit{{line: line, remove: true}}, reason)
}

// SwitchRule lets a rule watch a plant, or leave it out; only the column plants of its line changes.
func (c *Collection) SwitchRule(version string, line, plant int, on bool, reason string) error {
	for _, w := range c.Rules {
		if w.Line == line {
			return c.rewrite(ruleList, version, []lineEdit{{line: line, set: map[string]string{"plants": c.switched(w, plant, on)}}}, reason)
		}
	}
	return stale(WatchFile)
}

// switched is the text of the column plants with a plant added or left out.
func (c *Collection) switched(w record.WatchRule, plant int, on bool) string {
	all := !w.Off && w.Group == "" && len(w.Plants) == 0
	if all {
		w.Except = slices.DeleteFunc(slices.Clone(w.Except), func(n int) bool { return n == plant })
		if !on {
			w.Except = append(w.Except, plant)
			slices.Sort(w.Except)
		}
		return WatchedText(w)
	}
	list := slices.DeleteFunc(slices.Clone(c.RulePlants(w)), func(n int) bool { return n == plant })
	if on {
		list = append(list, plant)
		slices.Sort(list)
	}
	if len(list) == 0 {
		return watchNone
	}
	return numbersText(list)
}

// Watchable are the quantities that a rule can watch.
func Watchable() []record.QuantityName { return slices.Clone(watchable) }
