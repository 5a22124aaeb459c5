package collection

import (
	"fmt"
	"strconv"
	"strings"

	"phototrack/internal/record"
)

var watchColumns = []string{"quantity", "of", "condition", "limit", "message", "plants", "part"}

// watchable are the quantities that a rule can watch: the series' quantities and those that only a change has.
var watchable = []string{"leaf_area", "green_share", "yellow_share", "purple_share", "brown_share", "leaf_L", "leaf_a", "leaf_b",
	"leaf_chroma", "leaf_hue", "green_index", "excess_green", "root_length", "root_longest", "root_diameter", "root_tips",
	"root_tips_green", "root_intersect", "unjudged_share", "outer_discoloured_share", "inner_discoloured_share",
	"wall_cover_share", "wall_seen_share", "root_new", "root_gone", "colour_change",
	"part_length", "part_width", "part_bend", "part_angle", "count"}

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
			r.fail("part", fmt.Sprintf("%s is of the whole plant, not of a part", clip(w.Quantity)), "Leave the part empty, or watch one of part_length, part_width, part_bend, part_angle, count.")
		}
		r.condition(&w)
		r.limit(&w)
		if names := r.text("plants"); names != "" {
			if w.Plants = c.Group(names); len(w.Plants) > 0 {
				w.Group, w.Plants = names, nil
			} else {
				w.Plants = r.plants(c, "plants")
			}
		}
		return func() { c.Rules = append(c.Rules, w) }
	})
}

// quantity reads the name of a quantity; case does not matter.
func (r *reader) quantity() string {
	s := r.text("quantity")
	for _, q := range watchable {
		if strings.EqualFold(q, s) {
			return q
		}
	}
	r.fail("quantity", fmt.Sprintf("%q is not a quantity", clip(s)), "Known: "+strings.Join(watchable, ", ")+".")
	return s
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

// RulePlants gives the numbers that a rule watches: its own, its group's, or all of plants.csv.
func (c *Collection) RulePlants(w record.WatchRule) []int {
	switch {
	case w.Group != "":
		return c.Group(w.Group)
	case len(w.Plants) > 0:
		return w.Plants
	}
	var all []int
	for _, p := range c.Plants {
		all = append(all, p.Number)
	}
	return all
}

// RuleKey is the rule in words, "root_longest value >= 75": it names the rule in corrections.csv, where a line number
// would change its meaning when the file is edited.
func RuleKey(w record.WatchRule) string {
	limit := strconv.FormatFloat(w.Limit, 'g', -1, 64)
	if w.Detectable {
		limit = "detectable"
	}
	words := []string{w.Quantity, w.Of, w.Condition, limit}
	if w.Part != "" {
		words = append(words, "of", strings.ToLower(w.Part))
	}
	return strings.Join(words, " ")
}
