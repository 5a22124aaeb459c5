package main

import (
	"errors"
	"os"
	"path/filepath"
	"time"

	"github.com/spf13/cobra"

	"phototrack/internal/collection"
	"phototrack/internal/doctor"
	"phototrack/internal/fsx"
	"phototrack/internal/pipeline"
	"phototrack/internal/record"
	"phototrack/internal/series"
)

func doctorCommand(a *app) *cobra.Command {
	var full, repair bool
	cmd := &cobra.Command{
		Use:   "doctor",
		Short: "Look the collection over: files, store, kept originals, settings",
		Long: `Checks the collection's files, store and kept originals, and says what is wrong and what would be repaired. Nothing is
changed unless --repair is given; your own files are never changed.` + exitHelp,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			c, err := collection.Open(a.collectionDir())
			if err != nil {
				return err
			}
			lock, err := c.Lock()
			if err != nil {
				return err
			}
			defer lock.Close()
			var st *series.Store
			var storeErr error
			if _, err := os.Stat(c.StorePath()); err == nil {
				if st, storeErr = series.Open(c.StorePath()); storeErr == nil {
					defer st.Close()
				}
			}
			found, err := doctor.Examine(cmd.Context(), c, st, storeErr, doctor.Options{Full: full,
				KeyOf: func(p *record.Photo) string { return c.InputsKey(pipeline.MeasuringVersion, p) }})
			if err != nil {
				return err
			}
			if len(found) == 0 {
				cmd.Println("Nothing is wrong.")
				return nil
			}
			serious := false
			for _, f := range found {
				serious = serious || f.Level != doctor.Note
				cmd.Printf("%s: %s: %s\n", f.Level, clean(f.Where), clean(f.What))
				if f.Hint != "" {
					cmd.Printf("  hint: %s\n", clean(f.Hint))
				}
				if f.Repair != "" && !repair {
					cmd.Printf("  --repair would: %s\n", clean(f.Repair))
				}
			}
			if repair {
				for _, r := range doctor.Repair(cmd.Context(), found) {
					if r.Err != nil {
						cmd.Printf("not repaired: %s: %s\n", clean(r.Finding.Where), clean(r.Err.Error()))
					} else {
						cmd.Printf("repaired: %s: %s\n", clean(r.Finding.Where), clean(r.Finding.Repair))
					}
				}
			}
			if serious {
				return errAttention
			}
			return nil
		},
	}
	cmd.Flags().BoolVar(&full, "full", false, "read every kept original and compare it with its hash (takes long)")
	cmd.Flags().BoolVar(&repair, "repair", false, "mend what can be mended")
	return cmd
}

func backupCommand(a *app) *cobra.Command {
	return &cobra.Command{
		Use:   "backup FILE",
		Short: "Write a sound copy of the store to a file, while anything else goes on",
		Long: `Writes a checked copy of phototrack.db. The lists you keep and the photos are ordinary files: copy them as you copy
any folder.` + exitHelp,
		Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			c, err := a.open(cmd)
			if err != nil {
				return err
			}
			st, err := openStore(c)
			if err != nil {
				return err
			}
			defer st.Close()
			if err := st.Backup(cmd.Context(), args[0]); err != nil {
				return err
			}
			cmd.Printf("Wrote %s\n", args[0])
			return nil
		},
	}
}

func restoreCommand(a *app) *cobra.Command {
	return &cobra.Command{
		Use:   "restore FILE",
		Short: "Put a backup in the place of the store; the store that was there is kept beside it",
		Long:  `Checks a backup and puts it in the place of phototrack.db. The present store is kept under another name.` + exitHelp,
		Args:  cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			c, lock, err := a.openToWrite(cmd)
			if err != nil {
				return err
			}
			defer lock.Close()
			kept, err := series.Restore(cmd.Context(), args[0], c.StorePath())
			if err != nil {
				return err
			}
			cmd.Printf("Restored %s.\n", c.StorePath())
			if kept != "" {
				cmd.Printf("The store that was there is kept as %s.\n", kept)
			}
			return nil
		},
	}
}

func marksCommand(a *app) *cobra.Command {
	cmd := &cobra.Command{
		Use:   "marks",
		Short: "Areas of photos to keep as leaf or to leave out, as plain files",
		Long: `Marks are areas drawn on a photo: to keep as leaf, or to leave out (a flower, a plant behind). They are GeoJSON files
(polygons in coordinates from 0 to 1 across and down the photo) with the photo's hash, and are applied when the photo
is measured again by the next run.` + exitHelp,
	}
	var photo string
	imp := &cobra.Command{
		Use: "import FILE...", Short: "Take marks from files into the collection", Args: cobra.MinimumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			c, lock, err := a.openToWrite(cmd)
			if err != nil {
				return err
			}
			defer lock.Close()
			for _, f := range args {
				m, err := c.ImportMarks(f)
				if err != nil {
					return err
				}
				cmd.Printf("%s: %s for photo %s; the next run measures it again.\n", f, plural(len(m.Marks), "area", "areas"), clean(m.Name))
			}
			return nil
		},
	}
	exp := &cobra.Command{
		Use: "export DIR", Short: "Write the collection's marks as files", Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			c, err := a.open(cmd)
			if err != nil {
				return err
			}
			if err := os.MkdirAll(args[0], 0o755); err != nil {
				return fsx.Explain(args[0], err)
			}
			n := 0
			for _, m := range c.Marks {
				if photo != "" && m.Name != photo && m.SHA256 != photo {
					continue
				}
				path := filepath.Join(args[0], collection.PhotoRef(m.SHA256, m.Name)+".json")
				if err := c.ExportMarks(m.SHA256, m.Name, path); err != nil {
					return err
				}
				cmd.Printf("Wrote %s\n", path)
				n++
			}
			if n == 0 {
				return &fsx.HintError{What: "there are no marks to export", Hint: "Marks are drawn on the desk page, or imported with: phototrack marks import FILE", Err: errors.New("none")}
			}
			return nil
		},
	}
	copyTo := &cobra.Command{
		Use: "copy FROM TO", Short: "Give one photo's marks to another photo of the plant", Args: cobra.ExactArgs(2),
		Long: `Copies the marks of the photo FROM to the photo TO (base names, or hashes): marks are never carried to another photo
unless you ask. Look at the overlay afterwards: a plant or flower seldom stands in the very same place.` + exitHelp,
		RunE: func(cmd *cobra.Command, args []string) error { return runMarksCopy(cmd, a, args[0], args[1]) },
	}
	exp.Flags().StringVar(&photo, "photo", "", "only of this photo (name or hash)")
	cmd.AddCommand(imp, exp, copyTo)
	return cmd
}

func runMarksCopy(cmd *cobra.Command, a *app, from, to string) error {
	c, err := a.open(cmd)
	if err != nil {
		return err
	}
	st, err := openStore(c)
	if err != nil {
		return err
	}
	defer st.Close()
	photos, err := st.All(cmd.Context())
	if err != nil {
		return err
	}
	find := func(ref string) (*record.Photo, error) {
		var hit *record.Photo
		for i := range photos {
			if photos[i].Name == ref || photos[i].SHA256 == ref {
				if hit != nil {
					return nil, &fsx.HintError{What: "two photos are called " + clean(ref), Hint: "Give the photo's hash; measurements.csv has it."}
				}
				hit = &photos[i]
			}
		}
		if hit == nil {
			return nil, &fsx.HintError{What: "no photo is called " + clean(ref), Hint: "Give a photo's base name as measurements.csv has it."}
		}
		return hit, nil
	}
	p, err := find(from)
	if err != nil {
		return err
	}
	q, err := find(to)
	if err != nil {
		return err
	}
	marks := c.MarksFor(p.SHA256)
	if len(marks) == 0 {
		return &fsx.HintError{What: clean(from) + " has no marks", Hint: "Import some first: phototrack marks import FILE"}
	}
	for i := range marks {
		marks[i].When = time.Now().Format(time.RFC3339)
		marks[i].Note = "copied from " + p.Name
	}
	lock, err := c.Lock()
	if err != nil {
		return err
	}
	defer lock.Close()
	if err := c.SaveMarks(q.SHA256, q.Name, append(c.MarksFor(q.SHA256), marks...)); err != nil {
		return err
	}
	cmd.Printf("%s now has the marks of %s; the next run measures it again.\n", q.Name, p.Name)
	return nil
}
