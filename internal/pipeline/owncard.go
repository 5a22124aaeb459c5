package pipeline

import (
	"bytes"
	"fmt"
	"os"

	"phototrack/internal/calib"
	"phototrack/internal/cgats"
	"phototrack/internal/collection"
	"phototrack/internal/photo"
)

// ownColours are the colours of a print, and how they are known.
type ownColours struct {
	targets calib.PatchTargets // nil: nominal
	mode    string
	notes   []string
	err     error // the file could not be used
}

const (
	maxReadingsBytes = 4 << 20
	maxCardLines     = 1000 // of cards.csv that one bridge may lead back through
)

// colours gives the colours of the print that the i-th line of cards.csv describes (-1: nominal ones). What the file
// named there holds decides: a list of instrument readings, a photo of the card, or a photo of two cards, which
// bridges from the line before. It is worked out once for as long as the collection is open.
func colours(c *collection.Collection, i int) ownColours {
	if i < 0 || i >= len(c.Cards) || i > maxCardLines || c.Cards[i].ColourFrom == collection.NominalColours {
		return ownColours{mode: calib.ModeNominal}
	}
	k := c.Cards[i]
	return c.Cached("card colours "+k.ColourHash, func() any {
		o := readColours(c, i)
		if o.err != nil {
			o.err = fmt.Errorf("%s: %w", k.ColourFrom, o.err)
		}
		return o
	}).(ownColours)
}

func readColours(c *collection.Collection, i int) (o ownColours) {
	k := c.Cards[i]
	path, err := c.File(k.ColourFrom)
	if err != nil {
		return ownColours{err: err}
	}
	limit := int64(c.Settings.Run.MaxFileMB) * 1_000_000
	if st, err := os.Stat(path); err != nil {
		return ownColours{err: err}
	} else if st.Size() > limit {
		return ownColours{err: fmt.Errorf("the file is larger than %d MB", limit/1_000_000)}
	}
	data, err := os.ReadFile(path)
	if err != nil {
		return ownColours{err: err}
	}
	if len(data) <= maxReadingsBytes && cgats.IsCGATS(data) {
		f, err := cgats.Read(bytes.NewReader(data))
		if err != nil {
			return ownColours{err: err}
		}
		o.targets, o.err = calib.ReadingTargets(f)
		o.mode, o.notes = calib.ModeReadings, f.Assumed
		return o
	}
	frame, err := photo.Read(data, photo.Limits{MaxPixels: int64(c.Settings.Run.MaxMegapixels) * 1_000_000, MaxBytes: limit})
	if err != nil {
		return ownColours{err: fmt.Errorf("it is neither a CGATS.17 list of readings nor a photo that can be read: %w", err)}
	}
	print := printOf(k, c.Settings.Measurement.UnmeasuredPrint)
	cards, err := calib.CountCards(frame.Img)
	switch {
	case err != nil:
		return ownColours{err: err}
	case cards < 2:
		o.targets, o.err = calib.ReferenceTargets(frame.Img, frame.F35MM, print)
		o.mode = calib.ModeReference
		return o
	}
	older := colours(c, i-1)
	if older.err != nil {
		return ownColours{err: fmt.Errorf("the card before it: %w", older.err)}
	}
	if older.targets == nil {
		older.targets = calib.NominalTargets()
	}
	o.targets, o.err = calib.BridgedTargets(frame.Img, frame.F35MM, print, older.targets)
	o.mode, o.notes = calib.ModeBridged, older.notes
	return o
}

// printOf is what is known of the size of a print.
func printOf(k collection.CardRecord, unmeasuredRelU float64) calib.Print {
	if !k.Measured {
		return calib.TruePrint(unmeasuredRelU)
	}
	// A steel rule is read to a quarter of a millimetre or so at either end.
	return calib.Print{AcrossMM: k.AcrossMM, DownMM: k.DownMM, RelU: ruleReadingRelU}
}
