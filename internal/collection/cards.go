package collection

import (
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
	FromDate   string  `json:"from_date"`   // YYYY-MM-DD, "" for always
	AcrossMM   float64 `json:"across_mm"`   // of NominalAcrossMM
	DownMM     float64 `json:"down_mm"`     // of NominalDownMM
	ColourFrom string  `json:"colour_from"` // nominal | a file in the collection: instrument readings or a reference photo
	Note       string  `json:"note"`
	Measured   bool    `json:"measured"` // false: the print was not checked, its scale is uncertain by 1 %
}

// UnmeasuredCard is what holds for a print without a line in cards.csv.
func UnmeasuredCard() CardRecord {
	return CardRecord{AcrossMM: NominalAcrossMM, DownMM: NominalDownMM, ColourFrom: "nominal"}
}

// readCards reads cards.csv, sorted by date.
func (c *Collection) readCards() {
	t, ok := readTable(c.Dir, CardsFile, cardColumns, []string{"across_mm", "down_mm"}, &c.Problems)
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
	if day == "" && len(c.Cards) == 1 {
		return c.Cards[0]
	}
	k := UnmeasuredCard()
	for _, line := range c.Cards {
		if day != "" && line.FromDate <= day {
			k = line
		}
	}
	return k
}
