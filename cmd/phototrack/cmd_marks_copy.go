package main

import (
	"fmt"
	"reflect"
	"slices"
	"time"

	"github.com/spf13/cobra"

	"phototrack/internal/collection"
	"phototrack/internal/fsx"
	"phototrack/internal/pipeline"
	"phototrack/internal/record"
	"phototrack/internal/words"
)

func marksCopyCommand(a *app) *cobra.Command {
	return &cobra.Command{
		Use: "copy FROM TO", Short: "Give the areas on one photo to another photo of the plant", Args: cobra.ExactArgs(2),
		Long: `Gives the areas drawn on the photo FROM to the photo TO (base names, or hashes) as well: marks are never carried to another photo unless
you ask. An area keeps its place beside the card, in mm. Look at the overlay afterwards: a plant or flower seldom stands in the very
same place. Lines on parts are not copied, for parts grow: the desk offers them where it finds the parts again.` + exitHelp,
		RunE: func(cmd *cobra.Command, args []string) error { return runMarksCopy(cmd, a, args[0], args[1]) },
	}
}

func runMarksCopy(cmd *cobra.Command, a *app, from, to string) error {
	c, lock, err := a.openToWrite(cmd)
	if err != nil {
		return err
	}
	defer lock.Close()
	st, err := openStore(c)
	if err != nil {
		return err
	}
	defer st.Close()
	photos, err := st.All(cmd.Context())
	if err != nil {
		return err
	}
	p, err := photoCalled(photos, from)
	if err != nil {
		return err
	}
	q, err := photoCalled(photos, to)
	if err != nil {
		return err
	}
	if err := copyable(p, q); err != nil {
		return err
	}
	areas := collection.Areas(c.MarksFor(p.SHA256))
	if len(areas) == 0 {
		return &fsx.HintError{What: "no areas are drawn on " + clean(p.Name), Hint: "Draw them on the desk, or import them: phototrack marks import FILE. Lines on parts are not copied."}
	}
	there := c.MarksFor(q.SHA256)
	var fresh []collection.Mark
	carried := pipeline.CarryAreas(areas, p, q)
	for _, m := range carried {
		if !slices.ContainsFunc(there, func(t collection.Mark) bool { return t.What == m.What && reflect.DeepEqual(t.Rings, m.Rings) }) {
			m.When = time.Now().Format(time.RFC3339)
			fresh = append(fresh, m)
		}
	}
	switch {
	case len(carried) == 0:
		return &fsx.HintError{What: "no area of " + clean(p.Name) + " lies in " + clean(q.Name), Hint: "Draw it there on the desk."}
	case len(fresh) == 0:
		cmd.Printf("%s has them already.\n", clean(q.Name))
		return nil
	}
	if err := c.SaveMarks(q.SHA256, q.Name, append(there, fresh...)); err != nil {
		return err
	}
	cmd.Printf("%s now has %s of %s; the next run measures it again.\n", clean(q.Name), words.Count(len(fresh), "area", "areas"), clean(p.Name))
	if n := len(areas) - len(carried); n > 0 {
		cmd.Printf("%s would lie outside the photo and %s left out.\n", words.Count(n, "area", "areas"), words.Noun(n, "is", "are"))
	}
	return nil
}

// photoCalled finds a stored photo by its base name or hash.
func photoCalled(photos []record.Photo, ref string) (hit *record.Photo, err error) {
	for i := range photos {
		if photos[i].Name != ref && photos[i].SHA256 != ref {
			continue
		}
		if hit != nil {
			return nil, &fsx.HintError{What: "two photos are called " + clean(ref), Hint: "Give the photo's hash; measurements.csv has it."}
		}
		hit = &photos[i]
	}
	if hit == nil {
		return nil, &fsx.HintError{What: "no photo is called " + clean(ref), Hint: "Give a photo's base name as measurements.csv has it."}
	}
	return hit, nil
}

// copyable says whether what is drawn on one photo can mean anything on another.
func copyable(p, q *record.Photo) error {
	hint := "Areas are given to another photo of the same plant and side."
	switch {
	case p.SHA256 == q.SHA256:
		return &fsx.HintError{What: "this is one and the same photo: " + clean(p.Name), Hint: hint}
	case p.Plant > 0 && q.Plant > 0 && p.Plant != q.Plant:
		return &fsx.HintError{What: fmt.Sprintf("%s shows plant %d, %s plant %d", clean(p.Name), p.Plant, clean(q.Name), q.Plant), Hint: hint}
	case p.View != q.View:
		return &fsx.HintError{What: fmt.Sprintf("%s shows %s, %s shows %s", clean(p.Name), words.Lower(words.View(p.View)), clean(q.Name), words.Lower(words.View(q.View))), Hint: hint}
	}
	return nil
}
