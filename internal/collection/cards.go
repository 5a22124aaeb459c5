package collection

import (
	"crypto/sha256"
	"encoding/hex"
	"sort"
	"strings"
)

var cardColumns = []string{"from_date", "across_mm", "down_mm", "colour_from", "note"}

// Nominal lengths on the card that a steel rule checks.
const (
	NominalAcrossMM = 100.0 // the printed ruler
	NominalDownMM   = 90.0  // between the outer edges of the two marker rows
)

// CardRecord is a line of cards.csv: what a steel rule said of one print of the card, and where its colours come from.
type CardRecord struct {
	FromDate   string  `json:"from_date"`             // YYYY-MM-DD, "" for always
	AcrossMM   float64 `json:"across_mm"`             // of NominalAcrossMM
	DownMM     float64 `json:"down_mm"`               // of NominalDownMM
	ColourFrom string  `json:"colour_from"`           // nominal | a file in the collection: instrument readings or a reference photo
	ColourHash string  `json:"colour_hash,omitempty"` // of that file's content and of the line before, from which a photo of both cards bridges
	Note       string  `json:"note"`
	Measured   bool    `json:"measured"` // false: the print was not checked, its scale is uncertain by 1 %
}

// NominalColours is the ColourFrom of a print whose colours are taken as drawn.
const NominalColours = "nominal"

// UnmeasuredCard is what holds for a print without a line in cards.csv.
func UnmeasuredCard() CardRecord {
	return CardRecord{AcrossMM: NominalAcrossMM, DownMM: NominalDownMM, ColourFrom: NominalColours}
}

// readCards reads cards.csv, sorted by date.
func (c *Collection) readCards() {
	t, ok := c.readTable(CardsFile, cardColumns, []string{"across_mm", "down_mm"})
	if !ok {
		return
	}
	t.each(func(r *reader) func() {
		k := UnmeasuredCard()
		k.FromDate, k.Note = r.day("from_date"), r.text("note")
		// 8 % covers any printer's "fit to page"; more is another card or the wrong unit.
		across, hasAcross := r.number("across_mm", 0.92*NominalAcrossMM, 1.08*NominalAcrossMM)
		down, hasDown := r.number("down_mm", 0.92*NominalDownMM, 1.08*NominalDownMM)
		switch {
		case hasAcross && hasDown:
			k.AcrossMM, k.DownMM, k.Measured = across, down, true
		case (hasAcross || hasDown) && !r.bad:
			r.note("across_mm", "only one of the two lengths is given, so the print counts as not measured", "Lay a steel rule on the ruler (100 mm) and on the outer edges of the two marker rows (90 mm).")
		}
		if from := r.text("colour_from"); from != "" && !strings.EqualFold(from, "nominal") {
			k.ColourFrom = r.colourFile(c.Dir, from)
		}
		return func() { c.Cards = append(c.Cards, k) }
	})
	sort.SliceStable(c.Cards, func(i, j int) bool { return c.Cards[i].FromDate < c.Cards[j].FromDate })
	c.hashColours()
}

// hashColours notes what the files that cards take their colours from hold: a change of one changes what its photos
// are measured against.
func (c *Collection) hashColours() {
	before := ""
	for i := range c.Cards {
		k := &c.Cards[i]
		if k.ColourFrom == NominalColours {
			before = ""
			continue
		}
		sum := "unreadable"
		if path, err := c.File(k.ColourFrom); err == nil {
			if s, err := HashFile(path); err == nil {
				sum = s
			}
		}
		both := sha256.Sum256([]byte(sum + " " + before))
		k.ColourHash = hex.EncodeToString(both[:16])
		before = k.ColourHash
	}
}

// colourFile checks that the source of a card's colours is a file within the collection.
func (r *reader) colourFile(dir, name string) string {
	if _, err := inside(dir, name); err != nil {
		r.fail("colour_from", err.Error(), "Put the file into the collection's folder and write its name, or write nominal.")
	}
	return name
}

// CardAt gives the print in use on a day (YYYY-MM-DD): the latest line that begins on or before it. Without one, and
// for a photo without a date where several prints are recorded, the print counts as not measured.
func (c *Collection) CardAt(day string) CardRecord {
	if i := c.CardIndex(day); i >= 0 {
		return c.Cards[i]
	}
	return UnmeasuredCard()
}

// CardIndex is the place in Cards of the print in use on a day, -1 where CardAt knows of none.
func (c *Collection) CardIndex(day string) int {
	if day == "" && len(c.Cards) == 1 {
		return 0
	}
	at := -1
	for i, line := range c.Cards {
		if day != "" && line.FromDate <= day {
			at = i
		}
	}
	return at
}
