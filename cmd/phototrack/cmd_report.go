package main

import (
	"context"
	"errors"
	"os"
	"runtime/debug"
	"time"

	"github.com/spf13/cobra"

	"phototrack/internal/collection"
	"phototrack/internal/fsx"
	"phototrack/internal/publish"
	"phototrack/internal/series"
)

func reportCommand(a *app) *cobra.Command {
	var of publish.Period
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
				return writeReport(cmd, c, st, of)
			})
		},
	}
	f := cmd.Flags()
	f.StringVar(&of.Month, "month", "", "the month, YYYY-MM")
	f.StringVar(&of.From, "from", "", "first day, YYYY-MM-DD")
	f.StringVar(&of.To, "to", "", "last day, YYYY-MM-DD")
	return cmd
}

// reportMemory is where the collector begins to work hard while a report is written, bytes: plates of a large collection
// leave much behind that is soon of no use, and a small computer has other things to hold. What is known of a photo itself
// stays until the report is done, some 15 kB with its comparisons; were there no room for it, the collector would take most
// of the time.
func reportMemory(photos int) int64 { return 250<<20 + 20<<10*int64(photos) }

// writeReport writes the report of a month or range, of the latest month where none is given, and says where it is.
func writeReport(cmd *cobra.Command, c *collection.Collection, st *series.Store, of publish.Period) error {
	start := time.Now()
	photos, err := st.Count(cmd.Context())
	if err != nil {
		return err
	}
	defer debug.SetMemoryLimit(debug.SetMemoryLimit(reportMemory(photos)))
	out, err := publish.Report(cmd.Context(), c, st, of, version)
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
