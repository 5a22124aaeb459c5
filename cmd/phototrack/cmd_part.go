package main

import (
	"fmt"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"phototrack/internal/collection"
	"phototrack/internal/fsx"
	"phototrack/internal/intake"
	"phototrack/internal/record"
	"phototrack/internal/words"
)

// runPart measures one part of a folder and leaves its results for a merge.
func runPart(cmd *cobra.Command, a *app, o runOptions, dir string) error {
	if o.part == "" || o.results == "" {
		return &fsx.HintError{What: "--part and --results belong together", Hint: "phototrack run PHOTOS_DIR --part 3/8 --results DIR"}
	}
	part, err := intake.ParsePart(o.part)
	if err != nil {
		return err
	}
	given, err := givenDate(o.date)
	if err != nil {
		return err
	}
	c, err := a.open(cmd)
	if err != nil {
		return err
	}
	photos := dir
	if photos == "" {
		photos = c.Inbox()
	}
	if within(photos, o.results) {
		return &fsx.HintError{What: "the results would lie among the photos", Hint: "Name a folder outside of " + photos + " as --results."}
	}
	pl, err := pool(c, o.workers)
	if err != nil {
		return err
	}
	start := time.Now()
	res, err := intake.RunPart(cmd.Context(), c, part, o.results, intake.Options{Dir: dir, GivenDate: given, Pool: pl, Progress: progress()})
	cmd.Printf("Part %d of %d: ", part.K, part.N)
	sayRun(cmd, res, time.Since(start))
	if err != nil {
		return err
	}
	cmd.Printf("When all parts are done, type: phototrack merge %s --collection %s\n", o.results, c.Dir)
	return attentionFor(c, res)
}

// within says whether path lies in the folder dir.
func within(dir, path string) bool {
	d, err := filepath.Abs(dir)
	if err != nil {
		return false
	}
	p, err := filepath.Abs(path)
	if err != nil {
		return false
	}
	rel, err := filepath.Rel(d, p)
	return err == nil && filepath.IsLocal(rel)
}

// attentionFor is errAttention where a person's eye is wanted.
func attentionFor(c *collection.Collection, res intake.Result) error {
	if len(c.Problems) > 0 || len(res.Errors) > 0 || len(res.Unknown) > 0 {
		return errAttention
	}
	for _, p := range res.Measured {
		if p.Status != record.Accepted {
			return errAttention
		}
	}
	return nil
}

func mergeCommand(a *app) *cobra.Command {
	return &cobra.Command{
		Use:   "merge RESULTS_DIR",
		Short: "Bring in what other computers or jobs have measured with run --part",
		Long: `Brings the results that 'phototrack run --part K/N --results DIR' has left into the collection, as if one run had measured
all photos. The parts may come in any order, one at a time or together, and twice; a part that is missing can be brought
in later. Then 'phototrack report' writes the report.

  phototrack run photos/ --part 1/2 --results results/      on one computer
  phototrack run photos/ --part 2/2 --results results/      on another, with the same folders
  phototrack merge results/                                 on one of them, afterwards` + exitHelp,
		Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error { return runMerge(cmd, a, args[0]) },
	}
}

func runMerge(cmd *cobra.Command, a *app, dir string) error {
	c, lock, err := a.openToWrite(cmd)
	if err != nil {
		return err
	}
	defer lock.Close()
	st, err := intake.OpenStore(c, false)
	if err != nil {
		return err
	}
	defer st.Close()
	sayCutOff(cmd, st)
	res, err := intake.Merge(cmd.Context(), c, st, dir)
	cmd.Printf("%s found, %d known already, %d brought in.\n", words.Count(res.Found, "result", "results"), res.Known, len(res.Measured))
	for _, e := range res.Errors {
		cmd.Println(clean(e.Error()))
	}
	if n := len(res.Stale); n > 0 {
		cmd.Printf("%s left out, measured with other settings or by another version: %s\n  hint: run the parts again; only these are measured.\n",
			words.Count(n, "result", "results"), clean(strings.Join(firstOf(res.Stale, namedPhotos), ", ")))
	}
	if len(res.Missing) > 0 {
		var names []string
		for _, p := range res.Missing {
			names = append(names, fmt.Sprintf("%d/%d", p.K, p.N))
		}
		cmd.Printf("Not measured to the end yet: part %s. Bring in what is missing later with the same command.\n", strings.Join(firstOf(names, 20), ", "))
	}
	if res.NotKept > 0 {
		cmd.Printf("%s not kept: the photos do not lie where the parts found them.\n  hint: make the photos' folder reachable under the same path and merge again.\n",
			words.Count(res.NotKept, "original", "originals"))
	}
	sayAttention(cmd, res.Measured)
	if err != nil {
		return err
	}
	if len(res.Stale) > 0 || len(res.Missing) > 0 || res.NotKept > 0 {
		return errAttention
	}
	return attentionFor(c, res.Result)
}

// firstOf is the first n of a list, and how many more there are.
func firstOf(list []string, n int) []string {
	if len(list) <= n {
		return list
	}
	return append(append([]string(nil), list[:n]...), fmt.Sprintf("and %d more", len(list)-n))
}
