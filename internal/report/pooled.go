package report

import (
	"fmt"
	"sort"

	"phototrack/internal/quantity"
	"phototrack/internal/record"
	"phototrack/internal/words"
)

// pooledTable is one kind of event over all plants that had it: a row per quantity, a column per month after it.
type pooledTable struct {
	Event  string
	Months []int
	Rows   []pooledRow
}

type pooledRow struct {
	Title string
	Cells []pooledCell
}

type pooledCell struct {
	Median, Aside string
}

// leastPooled is the number of plants from which a median over plants says more than their own sections do.
const leastPooled = 2

// pooledTables turns the pooled effects into tables; months before the event and single plants are left out.
func (x *index) pooledTables() []pooledTable {
	type key struct{ event, group string }
	by := map[key][]record.PooledEffect{}
	for _, p := range x.d.Pooled {
		if headline[p.Quantity] && p.Plants >= leastPooled && p.MonthFromEvent > 0 {
			k := key{p.Event, p.Group}
			by[k] = append(by[k], p)
		}
	}
	var keys []key
	for k := range by {
		keys = append(keys, k)
	}
	sort.Slice(keys, func(i, j int) bool {
		return keys[i].event < keys[j].event || (keys[i].event == keys[j].event && keys[i].group < keys[j].group)
	})
	var out []pooledTable
	for _, k := range keys {
		out = append(out, pooledOf(k.event, k.group, by[k]))
	}
	return out
}

func pooledOf(event, group string, list []record.PooledEffect) pooledTable {
	t := pooledTable{Event: words.Upper(words.EventNoun(event))}
	if group != "" {
		t.Event += ", group " + group
	}
	at := map[record.QuantityName]map[int]record.PooledEffect{}
	months := map[int]bool{}
	var names []record.QuantityName
	for _, p := range list {
		if at[p.Quantity] == nil {
			at[p.Quantity] = map[int]record.PooledEffect{}
			names = append(names, p.Quantity)
		}
		at[p.Quantity][p.MonthFromEvent] = p
		months[p.MonthFromEvent] = true
	}
	for m := range months {
		t.Months = append(t.Months, m)
	}
	sort.Ints(t.Months)
	sort.Slice(names, func(i, j int) bool { return quantity.Order(names[i]) < quantity.Order(names[j]) })
	for _, n := range names {
		row := pooledRow{Title: words.Upper(quantity.Of(n, "").Title)}
		for _, m := range t.Months {
			c := pooledCell{Median: "–"}
			if p, ok := at[n][m]; ok {
				c = cellOf(p)
			}
			row.Cells = append(row.Cells, c)
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

func cellOf(p record.PooledEffect) pooledCell {
	q := quantity.Of(p.Quantity, p.Unit)
	if p.Unit == "relative" {
		q = quantity.Info{Title: q.Title, Shown: "%", Scale: 100, Ratio: true}
	}
	c := pooledCell{Median: q.Delta(p.MedianChange, 0)}
	if p.High > p.Low {
		c.Median = q.Delta(p.MedianChange, (p.High-p.Low)/2)
	}
	c.Aside = fmt.Sprintf("%d plants, %.0f %% rose, %.0f %% fell", p.Plants, 100*p.ShareRose, 100*p.ShareFell)
	return c
}
