package main

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"phototrack/internal/collection"
	"phototrack/internal/fsx"
	"phototrack/internal/gate"
	"phototrack/internal/pipeline"
	"phototrack/internal/quantity"
	"phototrack/internal/record"
	"phototrack/internal/words"
)

type checkOptions struct {
	overlay               string
	json, budget, details bool
}

func checkCommand(a *app) *cobra.Command {
	var o checkOptions
	cmd := &cobra.Command{
		Use:   "check PHOTO...",
		Short: "Look at photos without storing anything: what was found, would it do, and what to do about it",
		Long: `Looks at photos and says, for each, what was found, whether it would be accepted, why not, and what to do about it.
Nothing is stored. With --collection (or inside a collection) its plants, pots, card prints and settings are used.` + exitHelp,
		Args: cobra.MinimumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error { return runCheck(cmd, a, o, args) },
	}
	f := cmd.Flags()
	f.StringVar(&o.overlay, "overlay", "", "write pictures of what was seen into this folder")
	f.BoolVar(&o.details, "details", false, "print all that was measured, not only what matters most")
	f.BoolVar(&o.json, "json", false, "print everything as JSON, one object a photo")
	f.BoolVar(&o.budget, "budget", false, "show the uncertainty budget of each number, term by term")
	return cmd
}

func runCheck(cmd *cobra.Command, a *app, o checkOptions, args []string) error {
	var c *collection.Collection
	if a.dir != "" || os.Getenv("PHOTOTRACK_COLLECTION") != "" || collection.IsCollection(".") {
		var err error
		if c, err = a.open(cmd); err != nil {
			return err
		}
	}
	jobs, wanted := jobsToCheck(cmd, o, args)
	pl, err := pool(c, 0)
	if err != nil {
		return err
	}
	if c == nil {
		pl.Workers = collection.DefaultWorkers()
	}
	results := map[string]pipeline.Outcome{}
	err = pl.Measure(cmd.Context(), jobs, func(out pipeline.Outcome) error {
		results[out.Job.Path] = out
		return nil
	})
	if err != nil {
		return err
	}
	for i, j := range jobs {
		out := results[j.Path]
		if out.Err != nil {
			cmd.PrintErrf("%s: %s\n", clean(j.Name), clean(out.Err.Error()))
		} else if err := sayChecked(cmd, o, &out.Photo, i == 0); err != nil {
			return err
		}
		if out.Err != nil || out.Photo.Status != record.Accepted {
			wanted = errAttention
		}
	}
	return wanted
}

// jobsToCheck lists the photos that the arguments name. What is no photo is named; wanted is then errAttention.
func jobsToCheck(cmd *cobra.Command, o checkOptions, args []string) (jobs []pipeline.Job, wanted error) {
	for _, arg := range args {
		list, err := collection.ListPhotos(arg)
		if err != nil {
			cmd.PrintErrln(clean(err.Error()))
			if hint := fsx.HintOf(err); hint != "" {
				cmd.PrintErrln("  hint: " + clean(hint))
			}
			wanted = errAttention
			continue
		}
		for _, p := range list.Photos {
			jobs = append(jobs, pipeline.Job{Path: p.Path, Rel: p.Rel, Name: filepath.Base(p.Path), Pictures: o.overlay != "", Regions: o.overlay != ""})
		}
		for _, u := range list.Unknown {
			cmd.PrintErrf("%s: %s\n  hint: %s\n", clean(u.Rel), clean(u.Why), clean(u.Hint))
			wanted = errAttention
		}
		if len(list.Photos)+len(list.Unknown) == 0 {
			cmd.PrintErrf("%s: no photo in it\n", clean(arg))
			wanted = errAttention
		}
	}
	return jobs, wanted
}

// sayChecked prints what was found in a photo, and writes its overlays where they are asked for.
func sayChecked(cmd *cobra.Command, o checkOptions, p *record.Photo, first bool) error {
	if o.overlay != "" {
		if err := writeOverlays(o.overlay, p); err != nil {
			return err
		}
	}
	if o.json {
		p.Pictures = nil
		data, err := json.Marshal(p)
		if err != nil {
			return err
		}
		cmd.Println(string(data))
		return nil
	}
	if !first {
		cmd.Println()
	}
	cmd.Print(clean(describe(p, o.details || o.budget, o.budget)))
	return nil
}

func writeOverlays(dir string, p *record.Photo) error {
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return fsx.Explain(dir, err)
	}
	for _, kind := range []string{pipeline.PictureOverlay, pipeline.PictureWall, pipeline.PictureWallOverlay} {
		if data := p.Pictures[kind]; data != nil {
			stem := strings.TrimSuffix(collection.SafeName(p.Name), filepath.Ext(p.Name))
			if err := fsx.WriteFileAtomic(filepath.Join(dir, stem+"."+kind+".jpg"), data, 0o644); err != nil {
				return err
			}
		}
	}
	if data := p.Pictures[pipeline.PictureRegions]; data != nil {
		stem := strings.TrimSuffix(collection.SafeName(p.Name), filepath.Ext(p.Name))
		return fsx.WriteFileAtomic(filepath.Join(dir, stem+"_regions.png"), data, 0o644)
	}
	return nil
}

// mainQuantities are what check says of a photo without --details; shares only where they are more than their interval.
var mainQuantities = map[record.View][]record.QuantityName{
	record.Leaf: {record.LeafArea, record.YellowShare, record.PurpleShare, record.BrownShare},
	record.Root: {record.RootLength, record.RootLongest, record.RootTips},
}

// describe says what was found in a photo, like a patient friend who knows cameras: four lines, and for what is wrong two
// more each; with details all numbers, with budget their uncertainties term by term.
func describe(p *record.Photo, details, budget bool) string {
	var b strings.Builder
	say := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	verdict := map[record.Status]string{record.Accepted: "good: it would be used", record.Flagged: "usable, with something to look at", record.Rejected: "not usable as it is"}[p.Status]
	say("%s: %s", p.Name, verdict)
	for _, r := range p.Reasons {
		g, _ := gate.Lookup(r.Code)
		say("  - %s", gate.Text(r))
		say("    What to do: %s", g.Hint)
	}
	if p.Plant > 0 {
		say("  Plant %d%s, taken %s.", p.Plant, map[record.View]string{record.Leaf: ", leaves", record.Root: ", roots"}[p.View], takenWords(p.Taken))
	}
	if line := mainLine(p); line != "" && !details {
		say("  %s.", line)
	}
	if k := p.Calibration; k != nil {
		say("  Card: %d of 6 black squares seen, %.0f degrees from square on, from %.0f cm away.", k.MarkersSeen, k.TiltDeg, k.DistanceMM/10)
	}
	if !details {
		return b.String()
	}
	if k := p.Calibration; k != nil {
		say("  Scale: %.1f px per mm at the card.", k.ScalePxPerMM)
		if k.ColourModel != "" {
			say("  Colours: corrected to a median of %.1f and a worst of %.1f CIEDE2000 (%s; %s).", k.ColourMedian, k.ColourWorst, k.ColourMode, k.ColourModel)
		}
	}
	for _, q := range p.Quantities {
		info := quantity.Of(q.Name, q.Unit)
		say("  %-28s %s", info.Title, info.Value(q.Value, q.U95))
		if budget {
			for _, t := range q.Terms {
				common := ""
				if t.Common {
					common = ", common to all photos of the plant"
				}
				say("      %-24s u = %.3g %s (%s%s)", t.Name, t.U, q.Unit, t.Shape, common)
			}
		}
	}
	for _, n := range p.Notes {
		say("  Note: %s", n)
	}
	return b.String()
}

// mainLine is what was measured in one line.
func mainLine(p *record.Photo) string {
	var out []string
	for i, name := range mainQuantities[p.View] {
		q, ok := p.Find(name)
		if !ok || i > 0 && strings.HasSuffix(string(name), "_share") && q.Value <= q.U95 {
			continue
		}
		info := quantity.Of(q.Name, q.Unit)
		out = append(out, info.Title+" "+info.Value(q.Value, q.U95))
	}
	return words.Upper(strings.Join(out, ", "))
}

// takenWords is a photo's date for a reader, with the time of day where the camera wrote it.
func takenWords(t record.Stamp) string {
	switch {
	case t.IsZero():
		return "not known"
	case t.Source == "exif":
		return words.Moment(t.Time)
	}
	return words.Date(t.Time)
}
