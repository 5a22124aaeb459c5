package collection

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"

	"phototrack/internal/record"
)

// inputs is all that goes into one photo's measurement besides its bytes.
type inputs struct {
	Version     string
	Measurement MeasurementSettings
	Classes     *ClassSettings // root photos have no classes
	Pot         *record.Pot    // leaf photos have no pot
	Card        CardRecord
	Override    Override
	Marks       []Mark
	Listed      bool
	Lines       *lineInputs `json:",omitempty"` // only of photos with lines on parts
	Holes       bool        `json:",omitempty"` // an area has holes, which were once passed over
}

// InputsKey is a content hash of all that goes into the measurement of a photo besides its bytes: the version of the
// measuring code, the settings that influence it, the pot and the card in force on its day, corrections, marks, and
// whether its plant is listed. p needs SHA256, Name, Plant, View and Taken as they were measured. Equal keys mean an
// equal measurement, so a photo whose stored key differs is due again.
func (c *Collection) InputsKey(version string, p *record.Photo) string {
	day := p.Taken.Day()
	_, listed := c.Plant(p.Plant)
	in := inputs{Version: version, Measurement: c.Settings.Measurement, Card: c.CardAt(day),
		Override: c.OverrideFor(p.SHA256, p.Name), Marks: c.MarksFor(p.SHA256), Listed: listed}
	if in.Override.Date.IsZero() && p.Taken.FromOutside() {
		// A date from the command line or from a folder's name is put on record as a correction after the photo was
		// measured; that alone must not make the photo due again.
		in.Override.Date = p.Taken
		in.Override.Date.Source = "given"
	}
	in.Lines = c.linesInput(p.Plant, in.Marks)
	for _, m := range in.Marks {
		in.Holes = in.Holes || len(m.Rings) > 1
	}
	in.Card.Note, in.Card.FromDate = "", "" // words do not change numbers
	if p.View != record.Root {
		classes := c.Settings.Classes
		in.Classes = &classes
	}
	if p.View != record.Leaf {
		pot := c.PotAt(p.Plant, day)
		if in.Override.Pot.Known() {
			pot = in.Override.Pot
		}
		in.Pot = &pot
	}
	data, err := json.Marshal(in)
	if err != nil {
		// Only numbers that are no JSON could do this, and the readers let none in.
		panic("collection: " + err.Error())
	}
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:16])
}
