package main

import (
	"errors"
	"fmt"
	"os"
	"time"

	"github.com/spf13/cobra"

	"phototrack/internal/collection"
	"phototrack/internal/fsx"
	"phototrack/internal/gate"
	"phototrack/internal/intake"
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
	st, err := storeFor(c, o.anew)
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
	wanted := attentionFor(c, res)
	if sayNoPhoto(cmd, c, res, dir) {
		wanted = errAttention
	}
	if !o.noReport {
		if err := writeReport(cmd, c, st, publish.Period{}); err != nil && !errors.Is(err, publish.ErrNothing) {
			return err
		}
	}
	if !sayDamaged(cmd, st, "Run again: these photos are measured again from their originals.") {
		return wanted
	}
	if err := st.Remeasure(cmd.Context(), st.Damaged()...); err != nil {
		return err
	}
	return errAttention
}

// storeFor opens the store that a run fills. A new one is begun only where there is none.
func storeFor(c *collection.Collection, anew bool) (*series.Store, error) {
	if anew && c.CheckStore() == nil && isFile(c.StorePath()) {
		return nil, &fsx.HintError{What: "the store is there: " + c.StorePath(), Hint: "Move it away first if everything is to be measured again; or leave --anew out."}
	}
	return intake.OpenStore(c, anew)
}

// sayNoPhoto says where photos were looked for and none was found; true where that is so.
func sayNoPhoto(cmd *cobra.Command, c *collection.Collection, res intake.Result, dir string) bool {
	if res.Found > 0 || len(res.Measured) > 0 {
		return false
	}
	if dir == "" {
		dir = c.Inbox()
	}
	cmd.Printf("There is no photo in %s. Copy the month's photos there and run again.\n", dir)
	return true
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
