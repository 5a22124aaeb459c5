package main

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"phototrack/internal/cardpdf"
	"phototrack/internal/collection"
	"phototrack/internal/fsx"
)

type cardOptions struct {
	papers, tags, out, measured, from, note, colours string
	tagsOnly                                         bool
}

func cardCommand(a *app) *cobra.Command {
	var o cardOptions
	cmd := &cobra.Command{
		Use:   "card",
		Short: "Write the printable scale card and plant tags, or record what a steel rule said of a print",
		Long: `Writes a PDF at exact size with both sides of the scale card, plant tags, and how to shoot. Print it at 100 % ("actual
size"), then lay a steel rule on the card: the ruler should be 100 mm long, and the outer edges of the two rows of
black squares 90 mm apart. Tell the program what the rule says, and it corrects every scale from that day:

  phototrack card --tags 1-70 --paper a4
  phototrack card --measured 99.4,89.6` + exitHelp,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if o.measured != "" {
				return runCardMeasured(cmd, a, o)
			}
			return runCard(cmd, a, o)
		},
	}
	f := cmd.Flags()
	f.StringVar(&o.papers, "paper", "a4", "paper: a4, letter, 4x6; several with commas")
	f.StringVar(&o.tags, "tags", "", "plant numbers to print tags for, such as 1-70 or 3,7,12 (default: the plants of plants.csv)")
	f.BoolVar(&o.tagsOnly, "tags-only", false, "print tags alone, without the card")
	f.StringVar(&o.out, "out", ".", "folder for the PDF")
	f.StringVar(&o.measured, "measured", "", "record a print: the ruler's length and the distance of the marker rows in mm, such as 99.4,89.6")
	f.StringVar(&o.from, "from", "", "with --measured: from which day the print is used (default: today)")
	f.StringVar(&o.colours, "colours", "", "with --measured: where the print's colours come from: nominal, or a file in the collection: a CGATS.17 list of instrument readings, a photo of the card, or a photo of the card before on the left and this one on the right")
	f.StringVar(&o.note, "note", "", "with --measured: your own words")
	return cmd
}

func runCard(cmd *cobra.Command, a *app, o cardOptions) error {
	names := map[int]string{}
	var numbers []int
	if c, err := collection.Open(a.collectionDir()); err == nil {
		sayOpened(cmd, c) // a line that cannot be read has no tag
		for _, p := range c.Plants {
			names[p.Number] = p.Name
			numbers = append(numbers, p.Number)
		}
	}
	if o.tags != "" {
		var err error
		if numbers, err = cardpdf.ParseNumbers(o.tags); err != nil {
			return err
		}
	}
	if err := os.MkdirAll(o.out, 0o755); err != nil {
		return fsx.Explain(o.out, err)
	}
	for _, name := range strings.Split(o.papers, ",") {
		paper, err := cardpdf.PaperByName(strings.TrimSpace(name))
		if err != nil {
			return err
		}
		name = strings.TrimSpace(name)
		// Two files: the card is printed on both sides of a sheet, tags on one.
		if !o.tagsOnly {
			if err := writeCardPDF(cmd, filepath.Join(o.out, "scale-card-"+name+".pdf"), cardpdf.Options{Paper: paper, Card: true, HowTo: true}); err != nil {
				return err
			}
		}
		if len(numbers) > 0 {
			if err := writeCardPDF(cmd, filepath.Join(o.out, "plant-tags-"+name+".pdf"), cardpdf.Options{Paper: paper, Tags: numbers, Names: names}); err != nil {
				return err
			}
		}
	}
	cmd.Print(`Print it at 100 % ("actual size", not "fit to page"), both sides of the card on one sheet, and glue it on stiff board.
Then lay a steel rule on the card and record what it says:   phototrack card --measured ACROSS,DOWN
`)
	return nil
}

func writeCardPDF(cmd *cobra.Command, path string, o cardpdf.Options) error {
	var b bytes.Buffer
	if err := cardpdf.Write(&b, o); err != nil {
		return err
	}
	if err := fsx.WriteFileAtomic(path, b.Bytes(), 0o644); err != nil {
		return err
	}
	cmd.Printf("Wrote %s\n", path)
	return nil
}

// What a steel rule should say of the card, and how far a printer is believed to be off: printers scale by up to a few per cent (common
// practice); 8 % tells "fit to page" from a card printed nearly right.
const (
	rulerMM = 100.0
	rowsMM  = 90.0
	mostOff = 0.08
)

func runCardMeasured(cmd *cobra.Command, a *app, o cardOptions) error {
	c, lock, err := a.openToWrite(cmd)
	if err != nil {
		return err
	}
	defer lock.Close()
	across, down, ok := strings.Cut(o.measured, ",")
	x, errX := strconv.ParseFloat(strings.TrimSpace(across), 64)
	y, errY := strconv.ParseFloat(strings.TrimSpace(down), 64)
	if !ok || errX != nil || errY != nil {
		return &fsx.HintError{What: fmt.Sprintf("%q is not two lengths in mm", o.measured), Hint: "Write for instance --measured 99.4,89.6: the 100 mm ruler, then the outer edges of the two rows of squares."}
	}
	if x < (1-mostOff)*rulerMM || x > (1+mostOff)*rulerMM || y < (1-mostOff)*rowsMM || y > (1+mostOff)*rowsMM {
		return &fsx.HintError{What: fmt.Sprintf("a card of %g by %g mm is more than %g %% off", x, y, 100*mostOff), Hint: "Print it at 100 % (not \"fit to page\"), and measure in millimetres: about 100 across, about 90 down."}
	}
	if o.from == "" {
		o.from = time.Now().Format(time.DateOnly)
	}
	if err := c.AppendCard(collection.CardRecord{FromDate: o.from, AcrossMM: x, DownMM: y, ColourFrom: o.colours, Note: o.note, Measured: true}); err != nil {
		return err
	}
	cmd.Printf("Recorded: photos from %s on are scaled by this print (%+.2f %% across, %+.2f %% down).\n", o.from, x-100, (y/90-1)*100)
	return nil
}
