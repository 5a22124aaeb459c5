package main

import (
	"fmt"
	"sort"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"phototrack/internal/gate"
	"phototrack/internal/intake"
	"phototrack/internal/record"
	"phototrack/internal/words"
)

// sayRun sums up a run: counts first, then each photo that needs attention with what to do.
func sayRun(cmd *cobra.Command, res intake.Result, took time.Duration) {
	count := map[record.Status]int{}
	for _, p := range res.Measured {
		count[p.Status]++
	}
	cmd.Printf("%s found, %d known already, %d measured in %.1f s: %d accepted, %d flagged, %d rejected.\n",
		words.Count(res.Found, "photo", "photos"), res.Known, len(res.Measured), took.Seconds(), count[record.Accepted], count[record.Flagged], count[record.Rejected])
	if res.Skipped > 0 {
		cmd.Printf("%s passed over (sidecars, films, thumbnails, hidden files).\n", words.Count(res.Skipped, "file", "files"))
	}
	for _, u := range res.Unknown {
		cmd.Printf("%s: %s\n  hint: %s\n", clean(u.Rel), clean(u.Why), clean(u.Hint))
	}
	for _, e := range res.Errors {
		cmd.Println(clean(e.Error()))
	}
	if len(res.Mended) > 0 {
		cmd.Printf("Measured again because what was stored of them was damaged: %s.\n", clean(strings.Join(firstOf(res.Mended, namedPhotos), ", ")))
	}
	if len(res.Gone) > 0 {
		cmd.Printf("Due to be measured again, but not where they were, so their numbers stay: %s.\n  hint: Put these photos back into the inbox, then run again.\n", clean(strings.Join(firstOf(res.Gone, namedPhotos), ", ")))
	}
	sayAttention(cmd, res.Measured)
	if res.Pending > 0 {
		cmd.Printf("%s left for the next run.\n", words.Count(res.Pending, "photo", "photos"))
	}
}

// namedPhotos is how many photos with the same fault are named one by one on the terminal; the report has them all.
const namedPhotos = 8

// attention are photos with the same faults.
type attention struct {
	status  record.Status
	reasons []record.Reason
	names   []string
	photos  []record.Photo
}

// details are each photo's own figures under a fault that they share.
func (g *attention) details(code record.GateCode) string {
	var out []string
	for _, p := range g.photos[:min(len(g.photos), namedPhotos)] {
		for _, r := range p.Reasons {
			if r.Code == code && r.Detail != "" {
				out = append(out, p.Name+": "+r.Detail)
			}
		}
	}
	return strings.Join(out, "; ")
}

// sayAttention names the photos that need attention, those with the same faults together, rejected ones first.
func sayAttention(cmd *cobra.Command, photos []record.Photo) {
	groups := map[string]*attention{}
	var order []string
	for _, p := range photos {
		if p.Status == record.Accepted {
			continue
		}
		key := string(p.Status) + gate.Codes(p.Reasons)
		if groups[key] == nil {
			groups[key] = &attention{status: p.Status, reasons: p.Reasons}
			order = append(order, key)
		}
		groups[key].names = append(groups[key].names, p.Name)
		groups[key].photos = append(groups[key].photos, p)
	}
	sort.SliceStable(order, func(i, j int) bool { return groups[order[i]].status > groups[order[j]].status })
	for _, k := range order {
		g := groups[k]
		names := g.names[:min(len(g.names), namedPhotos)]
		more := ""
		if n := len(g.names) - len(names); n > 0 {
			more = fmt.Sprintf(" and %d more", n)
		}
		cmd.Printf("%s: %s%s\n", g.status, clean(strings.Join(names, ", ")), more)
		for _, r := range g.reasons {
			row, _ := gate.Lookup(r.Code)
			text := row.Sentence
			if len(g.names) == 1 {
				text = gate.Text(r)
			} else if d := g.details(r.Code); d != "" {
				text += " (" + d + ")"
			}
			cmd.Printf("  %s\n  hint: %s\n", clean(text), row.Hint)
		}
	}
}
