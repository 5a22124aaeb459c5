package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"runtime/debug"
	"sort"
	"strings"
	"time"

	"github.com/schollz/progressbar/v3"
	"github.com/spf13/cobra"
	"golang.org/x/term"

	"phototrack/internal/collection"
	"phototrack/internal/fsx"
	"phototrack/internal/gate"
	"phototrack/internal/intake"
	"phototrack/internal/pipeline"
	"phototrack/internal/publish"
	"phototrack/internal/record"
	"phototrack/internal/series"
	"phototrack/internal/words"
)

type runOptions struct {
	workers  int
	full     bool
	date     string
	noReport bool
	part     string
	results  string
	anew     bool
}

func runCommand(a *app) *cobra.Command {
	var o runOptions
	cmd := &cobra.Command{
		Use:   "run [PHOTOS_DIR]",
		Short: "The main job: measure what is new, update every plant's series, write the month's report",
		Long: `Measures the photos of the inbox, or of PHOTOS_DIR, that were not measured before or whose settings changed; updates every
plant's series; and writes the report of the latest month with its plates and CSV files. Photos are known by their
content: dropping the same ones again adds nothing. Originals are never changed. Stop it with Ctrl-C at any time:
what is done is kept, and the same command goes on from there.` + exitHelp,
		Args: cobra.MaximumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			dir := ""
			if len(args) == 1 {
				dir = args[0]
			}
			if o.part != "" || o.results != "" {
				return runPart(cmd, a, o, dir)
			}
			return runRun(cmd, a, o, dir)
		},
	}
	f := cmd.Flags()
	f.IntVar(&o.workers, "workers", 0, "photos measured at once (default: from settings.toml, else one a processor)")
	f.BoolVar(&o.full, "full", false, "read every file again instead of trusting its size and time")
	f.StringVar(&o.date, "date", "", "the day of photos that carry no date, YYYY-MM-DD")
	f.BoolVar(&o.noReport, "no-report", false, "measure only, write no report")
	f.BoolVar(&o.anew, "anew", false, "the store is lost: begin a new one and measure everything again from photos/ and the inbox")
	f.StringVar(&o.part, "part", "", "measure only part K/N of the photos and leave the results in --results; see merge")
	f.StringVar(&o.results, "results", "", "folder for the results of --part, not within the photos' folder")
	return cmd
}

func runRun(cmd *cobra.Command, a *app, o runOptions, dir string) error {
	given, err := givenDate(o.date)
	if err != nil {
		return err
	}
	c, lock, err := a.openToWrite(cmd)
	if err != nil {
		return err
	}
	defer lock.Close()
	if o.anew && c.CheckStore() == nil && isFile(c.StorePath()) {
		return &fsx.HintError{What: "the store is there: " + c.StorePath(), Hint: "Move it away first if everything is to be measured again; or leave --anew out."}
	}
	st, err := openStoreToWrite(c, o.anew)
	if err != nil {
		return err
	}
	defer st.Close()
	sayCutOff(cmd, st)
	pl, err := pool(c, o.workers)
	if err != nil {
		return err
	}
	start := time.Now()
	res, err := intake.Run(cmd.Context(), c, st, intake.Options{Dir: dir, Anew: o.anew, Full: o.full, GivenDate: given, Pool: pl, Progress: progress()})
	sayRun(cmd, res, time.Since(start))
	if err != nil {
		return err
	}
	if err := sayWaiting(cmd, st, res.Measured); err != nil {
		return err
	}
	attention := len(c.Problems) > 0 || len(res.Errors) > 0 || len(res.Unknown) > 0
	for _, p := range res.Measured {
		attention = attention || p.Status != record.Accepted
	}
	if res.Found == 0 && len(res.Measured) == 0 {
		where := dir
		if where == "" {
			where = c.Inbox()
		}
		cmd.Printf("There is no photo in %s. Copy the month's photos there and run again.\n", where)
		attention = true
	}
	if !o.noReport {
		if err := writeReport(cmd, c, st, "", "", ""); err != nil && !errors.Is(err, publish.ErrNothing) {
			return err
		}
	}
	if sayDamaged(cmd, st, "Run again: these photos are measured again from their originals.") {
		attention = true
		if err := st.Remeasure(cmd.Context(), st.Damaged()...); err != nil {
			return err
		}
	}
	if attention {
		return errAttention
	}
	return nil
}

// sayWaiting says how many photos of earlier runs still wait to be taken again or to be set right.
func sayWaiting(cmd *cobra.Command, st *series.Store, now []record.Photo) error {
	photos, err := st.All(cmd.Context())
	if err != nil {
		return err
	}
	just := map[string]bool{}
	for _, p := range now {
		just[p.SHA256] = true
	}
	n := 0
	for i := range photos {
		if p := &photos[i]; !just[p.SHA256] && (p.Status == record.Rejected || gate.DateInDoubt(p)) && !publish.Withdrawn(p) {
			n++
		}
	}
	if n > 0 {
		cmd.Printf("%s of earlier runs still to be taken again or set right: the report and phototrack round list them.\n", words.Count(n, "photo", "photos"))
	}
	return nil
}

func isFile(path string) bool {
	st, err := os.Stat(path)
	return err == nil && st.Mode().IsRegular() && st.Size() > 0
}

// sayCutOff tells of a run before that did not come to its end.
func sayCutOff(cmd *cobra.Command, st *series.Store) {
	if r, cut, err := st.CutOff(cmd.Context()); err == nil && cut {
		cmd.PrintErrf("The run that began at %s was cut off before its end; what it measured is kept, and this one goes on from there.\n", clean(r.StartedAt))
	}
}

// sayDamaged names what was met in the store that is not what was written; true where there is any.
func sayDamaged(cmd *cobra.Command, st *series.Store, hint string) bool {
	list := st.Damaged()
	for _, d := range list[:min(len(list), namedPhotos)] {
		cmd.Printf("%s: the stored %s is damaged and was left out.\n", clean(d.Name), d.What)
	}
	if len(list) > namedPhotos {
		cmd.Printf("and %d more.\n", len(list)-namedPhotos)
	}
	if len(list) > 0 {
		cmd.Println("  hint: " + hint)
	}
	return len(list) > 0
}

// givenDate reads --date: noon of that day.
func givenDate(day string) (record.Stamp, error) {
	if day == "" {
		return record.Stamp{}, nil
	}
	t, err := time.Parse(time.DateOnly, day)
	if err != nil {
		return record.Stamp{}, &fsx.HintError{What: fmt.Sprintf("%q is not a date", clean(day)), Hint: "Write it as 2026-05-14."}
	}
	return record.Stamp{Time: t.Add(12 * time.Hour), Source: "given"}, nil
}

// reportMemory is where the collector begins to work hard while a report is written, bytes: plates of a large collection
// leave much behind that is soon of no use, and a small computer has other things to hold. What is known of a photo itself
// stays until the report is done, some 15 kB with its comparisons; were there no room for it, the collector would take most
// of the time.
func reportMemory(photos int) int64 { return 250<<20 + 20<<10*int64(photos) }

// writeReport writes the report of a month or range, of the latest month where none is given, and says where it is.
func writeReport(cmd *cobra.Command, c *collection.Collection, st *series.Store, month, from, to string) error {
	start := time.Now()
	photos, err := st.Count(cmd.Context())
	if err != nil {
		return err
	}
	defer debug.SetMemoryLimit(debug.SetMemoryLimit(reportMemory(photos)))
	out, err := publish.Report(cmd.Context(), c, st, publish.Period{Month: month, From: from, To: to}, version)
	if err != nil {
		return err
	}
	if out.Unchanged {
		cmd.Printf("Report: %s (nothing changed since it was written)\n", out.Index)
		return nil
	}
	for _, line := range out.Headlines {
		cmd.Println(clean(line))
	}
	cmd.Printf("Report: %s (%.1f s)\n", out.Index, time.Since(start).Seconds())
	return nil
}

// progress is a bar with a count and the time left, on a terminal; elsewhere nothing.
func progress() intake.Progress {
	if !term.IsTerminal(int(os.Stderr.Fd())) {
		return intake.Progress{}
	}
	var bar *progressbar.ProgressBar
	return intake.Progress{
		Plan: func(n int) {
			if n > 0 {
				bar = progressbar.NewOptions(n, progressbar.OptionSetDescription("measuring"), progressbar.OptionShowCount(),
					progressbar.OptionSetPredictTime(true), progressbar.OptionSetWriter(os.Stderr), progressbar.OptionSetWidth(30),
					progressbar.OptionClearOnFinish(), progressbar.OptionUseANSICodes(takesANSI(os.Stderr)))
			}
		},
		Done: func(pipeline.Outcome) {
			if bar != nil {
				bar.Add(1)
			}
		},
	}
}

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

func reportCommand(a *app) *cobra.Command {
	var month, from, to string
	cmd := &cobra.Command{
		Use:   "report",
		Short: "Write a report again: of a month, or of any range of dates",
		Long: `Writes the report, its plates and CSV files again from what is stored; nothing is measured. A report that would come
out the same and whose files are as they were written is left as it is, and so is each plate.

  phototrack report                       the latest month
  phototrack report --month 2026-05
  phototrack report --from 2026-01-01 --to 2026-12-31` + exitHelp,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			return withStore(cmd, a, func(_ context.Context, c *collection.Collection, st *series.Store) error {
				return writeReport(cmd, c, st, month, from, to)
			})
		},
	}
	f := cmd.Flags()
	f.StringVar(&month, "month", "", "the month, YYYY-MM")
	f.StringVar(&from, "from", "", "first day, YYYY-MM-DD")
	f.StringVar(&to, "to", "", "last day, YYYY-MM-DD")
	return cmd
}

// withStore opens collection and store for reading.
func withStore(cmd *cobra.Command, a *app, f func(context.Context, *collection.Collection, *series.Store) error) error {
	c, err := a.open(cmd)
	if err != nil {
		return err
	}
	if _, err := os.Stat(c.StorePath()); errors.Is(err, os.ErrNotExist) && c.CheckStore() == nil {
		return &fsx.HintError{What: "nothing has been measured yet in " + c.Dir, Hint: "Copy photos into its inbox and type: phototrack run --collection " + c.Dir}
	}
	st, err := openStore(c)
	if err != nil {
		return err
	}
	defer st.Close()
	err = f(cmd.Context(), c, st)
	if sayDamaged(cmd, st, "phototrack doctor --repair, then phototrack run: these photos are measured again from their originals.") && err == nil {
		err = errAttention
	}
	return err
}

func exportCommand(a *app) *cobra.Command {
	var out string
	cmd := &cobra.Command{
		Use:   "export --out DIR",
		Short: "Write all numbers as CSV files",
		Long: `Writes measurements.csv, sessions.csv, changes.csv, trends.csv, events_effect.csv and events_pooled.csv, with a
description of their columns (datapackage.json, Frictionless Table Schema) for R, Python and spreadsheets.` + exitHelp,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			return withStore(cmd, a, func(ctx context.Context, c *collection.Collection, st *series.Store) error {
				files, err := publish.Export(ctx, c, st, out)
				for _, f := range files {
					cmd.Printf("Wrote %s\n", f)
				}
				return err
			})
		},
	}
	cmd.Flags().StringVar(&out, "out", "", "folder for the files")
	cmd.MarkFlagRequired("out")
	return cmd
}
