package main

import (
	"errors"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"phototrack/internal/backup"
	"phototrack/internal/collection"
	"phototrack/internal/doctor"
	"phototrack/internal/fsx"
	"phototrack/internal/pipeline"
	"phototrack/internal/record"
	"phototrack/internal/series"
	"phototrack/internal/words"
)

func doctorCommand(a *app) *cobra.Command {
	var full, repair bool
	cmd := &cobra.Command{
		Use:   "doctor",
		Short: "Look the collection over: files, store, kept originals, settings",
		Long: `Checks the collection's files, store and kept originals, and says what is wrong and what would be repaired. Nothing is
changed unless --repair is given; your own files are never changed.` + exitHelp,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error { return runDoctor(cmd, a, full, repair) },
	}
	cmd.Flags().BoolVar(&full, "full", false, "read every kept original and compare it with its hash (takes long)")
	cmd.Flags().BoolVar(&repair, "repair", false, "put right what can be put right")
	return cmd
}

func runDoctor(cmd *cobra.Command, a *app, full, repair bool) error {
	c, st, storeErr, done, err := a.openToExamine(cmd, repair)
	if err != nil {
		return err
	}
	defer done()
	found, err := doctor.Examine(cmd.Context(), c, st, storeErr, doctor.Options{Full: full,
		KeyOf: func(p *record.Photo) string { return c.InputsKey(pipeline.MeasuringVersion, p) }})
	if err != nil {
		return err
	}
	if len(found) == 0 {
		cmd.Println("Nothing is wrong.")
		return nil
	}
	var wanted error
	for _, f := range found {
		sayFinding(cmd, f, repair)
		if f.Level != doctor.Note {
			wanted = errAttention
		}
	}
	if repair {
		sayRepairs(cmd, doctor.Repair(cmd.Context(), found))
	}
	return wanted
}

func sayFinding(cmd *cobra.Command, f doctor.Finding, repair bool) {
	cmd.Printf("%s: %s: %s\n", f.Level, clean(f.Where), clean(f.What))
	if f.Hint != "" {
		cmd.Printf("  hint: %s\n", clean(f.Hint))
	}
	if f.Repair != "" && !repair {
		cmd.Printf("  --repair would: %s\n", clean(f.Repair))
	}
}

func sayRepairs(cmd *cobra.Command, list []doctor.Result) {
	for _, r := range list {
		if r.Err != nil {
			cmd.Printf("not repaired: %s: %s\n", clean(r.Finding.Where), clean(r.Err.Error()))
		} else {
			cmd.Printf("repaired: %s: %s\n", clean(r.Finding.Where), clean(r.Finding.Repair))
		}
	}
}

// openToExamine opens collection and store for the doctor: to write for a repair, else so that nothing is changed. What is
// wrong with the store itself is storeErr.
func (a *app) openToExamine(cmd *cobra.Command, repair bool) (c *collection.Collection, st *series.Store, storeErr error, done func(), err error) {
	if repair {
		c, lock, err := a.openToWrite(cmd)
		if err != nil {
			return nil, nil, nil, nil, err
		}
		done = func() { lock.Close() }
		if isFile(c.StorePath()) {
			if st, storeErr = series.Open(c.StorePath()); storeErr == nil {
				storeErr = c.MarkStore()
				done = func() { st.Close(); lock.Close() }
			}
		}
		return c, st, storeErr, done, nil
	}
	if c, err = collection.OpenAsIs(a.collectionDir()); err != nil {
		return nil, nil, nil, nil, err
	}
	done = func() {}
	if isFile(c.StorePath()) {
		var end func()
		if st, end, storeErr = series.OpenToExamine(c.StorePath(), fsx.Held(c.Path(collection.LockFile))); storeErr == nil {
			done = end
		}
	}
	return c, st, storeErr, done, nil
}

func backupCommand(a *app) *cobra.Command {
	var photos bool
	cmd := &cobra.Command{
		Use:   "backup FILE.zip",
		Short: "Keep all that could not be made again in one file, while anything else goes on",
		Long: `Writes one ZIP file with the lists, settings, marks, corrections, the states of the lists before each edit, and the store;
with --photos the kept originals and the inbox, too. Reports and plates are left out: they are written again from the
rest. The file is looked through after it was written, and gets its name only then. A name that ends in .db gets a copy
of the store alone.

  phototrack backup ../plants-2026-07.zip
  phototrack backup /media/disk/plants-2026-07.zip --photos` + exitHelp,
		Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error { return runBackup(cmd, a, args[0], photos) },
	}
	cmd.Flags().BoolVar(&photos, "photos", false, "the photos, too: the kept originals and the inbox")
	return cmd
}

func runBackup(cmd *cobra.Command, a *app, file string, photos bool) error {
	c, err := a.open(cmd)
	if err != nil {
		return err
	}
	if err := c.CheckStore(); err != nil {
		return err
	}
	var st *series.Store
	if isFile(c.StorePath()) {
		if st, err = openStore(c); err != nil {
			return err
		}
		defer st.Close()
	}
	if strings.EqualFold(filepath.Ext(file), ".db") {
		if st == nil {
			return &fsx.HintError{What: "nothing has been measured yet, so there is no store", Hint: "Give a name that ends in .zip to keep the lists."}
		}
		if err := st.Backup(cmd.Context(), file); err != nil {
			return err
		}
		cmd.Printf("Wrote %s: the store alone. A name that ends in .zip keeps lists, marks and settings with it.\n", file)
		return nil
	}
	sum, err := backup.Write(cmd.Context(), c, st, file, backup.Options{Photos: photos, Program: version})
	if err != nil {
		return err
	}
	cmd.Printf("Wrote %s and read it back: %s.\n", file, held(sum))
	if sum.Photos == 0 {
		cmd.Println("The photos are not in it: copy photos/ and inbox/ as you copy any folder, or add --photos.")
	}
	return nil
}

// held says in words what a backup holds.
func held(s backup.Summary) string {
	parts := []string{words.Count(s.Lists, "list", "lists"), words.Count(s.Marks, "file of marks", "files of marks")}
	if s.Store {
		parts = append(parts, "the store")
	}
	if s.Photos > 0 {
		parts = append(parts, words.Count(s.Photos, "photo", "photos"))
	}
	return strings.Join(parts, ", ")
}

func restoreCommand(a *app) *cobra.Command {
	return &cobra.Command{
		Use:   "restore FILE",
		Short: "Bring a backup back: into an empty folder the whole collection, into a collection the store",
		Long: `Looks a backup through and brings it back. Into a folder that is empty or not there yet, named with --collection, comes
the whole collection. In a collection the store is replaced, and the one that was there is kept under another name;
lists and marks that are missing come back, those that are there stay as they are, and those that differ from the
backup are named.

  phototrack restore plants-2026-07.zip --collection plants-again` + exitHelp,
		Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error { return runRestore(cmd, a, args[0]) },
	}
}

func runRestore(cmd *cobra.Command, a *app, file string) error {
	if _, err := os.Stat(file); err != nil {
		return fsx.Explain(file, err)
	}
	dir := a.collectionDir()
	if backup.IsArchive(file) && backup.CanHold(dir) {
		sum, err := backup.Whole(cmd.Context(), file, dir)
		if err != nil {
			return err
		}
		c, err := a.open(cmd)
		if err != nil {
			return err
		}
		if isFile(c.StorePath()) {
			if err := c.MarkStore(); err != nil {
				return err
			}
		}
		cmd.Printf("Restored the collection %s: %s.\n", dir, held(sum))
		return nil
	}
	c, lock, err := a.openToWrite(cmd)
	if err != nil {
		return err
	}
	defer lock.Close()
	var r backup.Result
	if backup.IsArchive(file) {
		r, err = backup.Into(cmd.Context(), file, c)
	} else {
		r.Kept, err = series.Restore(cmd.Context(), file, c.StorePath())
	}
	if err == nil {
		err = c.MarkStore()
	}
	if err != nil {
		return err
	}
	cmd.Printf("Restored %s.\n", c.StorePath())
	if r.Kept != "" {
		cmd.Printf("The store that was there is kept as %s.\n", r.Kept)
	}
	if len(r.Brought) > 0 {
		cmd.Printf("Was missing and came back: %s.\n", clean(strings.Join(firstOf(r.Brought, namedPhotos), ", ")))
	}
	if len(r.Differ) > 0 {
		cmd.Printf("Left as it is, though the backup says otherwise: %s.\n  hint: to have the backup's, restore it into an empty folder and compare.\n", clean(strings.Join(firstOf(r.Differ, namedPhotos), ", ")))
	}
	return nil
}

func marksCommand(a *app) *cobra.Command {
	cmd := &cobra.Command{
		Use:   "marks",
		Short: "Areas of photos to keep as leaf or to leave out, and lines on parts, as plain files",
		Long: `Marks are areas drawn on a photo, to keep as leaf or to leave out (a flower, a plant behind), and lines drawn on its parts. They are
GeoJSON files (polygons and lines in coordinates from 0 to 1 across and down the photo) with the photo's hash, and are applied when the photo
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
				cmd.Printf("%s: %s for photo %s; the next run measures it again.\n", f, words.Count(len(m.Marks), "area", "areas"), clean(m.Name))
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
			return exportMarks(cmd, c, args[0], photo)
		},
	}
	exp.Flags().StringVar(&photo, "photo", "", "only of this photo (name or hash)")
	cmd.AddCommand(imp, exp, marksCopyCommand(a))
	return cmd
}

// exportMarks writes the marks of all photos into a folder, or those of one photo, named by name or hash.
func exportMarks(cmd *cobra.Command, c *collection.Collection, dir, photo string) error {
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return fsx.Explain(dir, err)
	}
	n := 0
	for _, m := range c.Marks {
		if photo != "" && m.Name != photo && m.SHA256 != photo {
			continue
		}
		path := filepath.Join(dir, collection.PhotoRef(m.SHA256, m.Name)+".json")
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
}
