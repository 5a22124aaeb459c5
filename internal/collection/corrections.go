package collection

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"phototrack/internal/record"
)

var correctionColumns = []string{"time", "photo", "field", "old", "new", "reason"}

// Fields that a correction can set.
const (
	FieldPlant   = "plant"     // new: a plant number
	FieldView    = "view"      // new: leaf | root
	FieldDate    = "date"      // new: YYYY-MM-DD, with a time after it where known
	FieldOffset  = "offset_mm" // new: mm that the measured plane lies before the card's, towards the camera
	FieldPot     = "pot"       // new: TOP,BOTTOM,HEIGHT in mm, for this photo alone
	FieldExclude = "exclude"   // the photo does not count
	FieldInclude = "include"   // takes an exclusion back
	FieldAnswer  = "answer"    // old: a plant number; new: RuleKey of the watch rule; photo is empty

	FieldEventLine = "event_line" // old, new: a line of events.csv before and after, "" where there was none; photo is empty
	FieldPlantLine = "plant_line" // the same for plants.csv
	FieldPartLine  = "part_line"  // the same for parts.csv
	FieldCountLine = "count_line" // the same for counts.csv
	FieldRuleLine  = "rule_line"  // the same for watch.csv
)

var correctionFields = []string{FieldPlant, FieldView, FieldDate, FieldOffset, FieldPot, FieldExclude, FieldInclude, FieldAnswer, FieldEventLine, FieldPlantLine, FieldPartLine, FieldCountLine, FieldRuleLine}

// Correction is a line of corrections.csv.
type Correction struct {
	Line   int    `json:"line"`   // in the file, 0 before it is written
	Time   string `json:"time"`   // RFC 3339, when it was made
	Photo  string `json:"photo"`  // see PhotoRef; "" for answers
	Field  string `json:"field"`  // one of the Field constants
	Old    string `json:"old"`    // for the record
	New    string `json:"new"`    // the corrected value
	Reason string `json:"reason"` // the grower's words
}

// Override is what the corrections say of one photo; zero values mean "nothing said".
type Override struct {
	Plant         int          `json:"plant,omitempty"`
	View          record.View  `json:"view,omitempty"`
	Date          record.Stamp `json:"date"` // Source "given"
	OffsetMM      *float64     `json:"offset_mm,omitempty"`
	Pot           record.Pot   `json:"pot"`
	Excluded      bool         `json:"excluded,omitempty"`
	ExcludeReason string       `json:"exclude_reason,omitempty"`
}

// PhotoRef names a photo in corrections.csv and in the names of marks and archived originals: the first 12 figures of
// its content hash and its name as the grower knows it, so that a person can find it and a name used twice is no
// trouble.
func PhotoRef(sha256, name string) string { return hashPrefix(sha256) + "-" + SafeName(name) }

const refHashLen = 12

func hashPrefix(sha256 string) string {
	if len(sha256) > refHashLen {
		return sha256[:refHashLen]
	}
	return sha256
}

// About says whether the correction is about the photo.
func (k Correction) About(sha256, name string) bool {
	return k.Field != FieldAnswer && k.File() == "" && refMatches(k.Photo, sha256, name)
}

// refMatches says whether a reference of corrections.csv means the photo: a PhotoRef, a content hash or at least 8
// figures of its beginning, or, for lines written by hand, the plain name.
func refMatches(ref, sha256, name string) bool {
	ref = strings.TrimSpace(ref)
	if hash, _, ok := strings.Cut(ref, "-"); ok && len(hash) == refHashLen && isHex(hash) {
		if strings.EqualFold(hash, hashPrefix(sha256)) {
			return true
		}
	} else if len(ref) >= 8 && isHex(ref) {
		return strings.HasPrefix(sha256, strings.ToLower(ref))
	}
	return ref != "" && ref == name
}

func isHex(s string) bool { return s != "" && strings.Trim(s, "0123456789abcdefABCDEF") == "" }

func (c *Collection) readCorrections() {
	t, ok := c.readTable(CorrectionsFile, correctionColumns, []string{"field", "new"})
	if !ok {
		return
	}
	t.each(func(r *reader) func() {
		k := Correction{Line: r.row.line, Time: r.text("time"), Photo: r.text("photo"), Field: strings.ToLower(r.text("field")),
			Old: r.text("old"), New: r.text("new"), Reason: r.text("reason")}
		if err := k.check(); err != nil {
			r.fail(err.column, err.what, err.hint)
		}
		return func() {
			c.refs.add(len(c.Corrections), k.Photo)
			c.Corrections = append(c.Corrections, k)
		}
	})
}

// cellFault is what is wrong with one cell of a correction.
type cellFault struct{ column, what, hint string }

func (e *cellFault) Error() string { return e.column + ": " + e.what }

// check says what is wrong with a correction, nil where nothing is.
func (k Correction) check() *cellFault {
	if !contains(correctionFields, k.Field) {
		return &cellFault{"field", fmt.Sprintf("%q cannot be corrected", clip(k.Field)), "Use one of " + strings.Join(correctionFields, ", ") + "."}
	}
	if k.File() != "" {
		return k.checkLines()
	}
	if k.Photo == "" && k.Field != FieldAnswer {
		return &cellFault{"photo", "no photo is named", "Write the photo's name, or the beginning of its content hash."}
	}
	if k.Field == FieldAnswer {
		if _, ok := onePlant(k.Old); !ok {
			return &cellFault{"old", fmt.Sprintf("%q is not a plant number", clip(k.Old)), "For answers this column holds the plant's number."}
		}
		return nil
	}
	var o Override
	return k.apply(&o)
}

// onePlant is the number of the one plant that a text names.
func onePlant(s string) (int, bool) {
	n, isNumber, err := ParseNumbers(s)
	if !isNumber || err != nil || len(n) != 1 {
		return 0, false
	}
	return n[0], true
}

// mostOffsetMM is how far a plant may stand before or behind the card (chosen by eye: photos are taken from about 600 mm).
const mostOffsetMM = 500

// apply puts one correction on top of what earlier ones said.
func (k Correction) apply(o *Override) *cellFault {
	bad := func(what, hint string) *cellFault {
		return &cellFault{"new", fmt.Sprintf("%q is not %s", clip(k.New), what), hint}
	}
	switch k.Field {
	case FieldPlant:
		n, ok := onePlant(k.New)
		if !ok {
			return bad("a plant number", fmt.Sprintf("Plant numbers run from 1 to %d.", MaxPlant))
		}
		o.Plant = n
	case FieldView:
		v := record.View(strings.ToLower(k.New))
		if v != record.Leaf && v != record.Root {
			return bad("a view", "Write leaf or root.")
		}
		o.View = v
	case FieldDate:
		s, ok := parseGiven(k.New)
		if !ok {
			return bad("a date", "Write dates as year-month-day, such as 2026-05-14.")
		}
		o.Date = s
	case FieldOffset:
		v, err := parseNumber(k.New, true)
		if err != nil || math.Abs(v) > mostOffsetMM {
			return bad("an offset in mm", fmt.Sprintf("Write mm from -%d to %d, positive towards the camera.", mostOffsetMM, mostOffsetMM))
		}
		o.OffsetMM = &v
	case FieldPot:
		p, err := ParsePot(k.New)
		if err != nil {
			return bad("a pot", "Write the inside diameters at rim and base and the height of the wall: 120,100,125.")
		}
		o.Pot = p
	case FieldExclude:
		o.Excluded, o.ExcludeReason = true, k.Reason
	case FieldInclude:
		o.Excluded, o.ExcludeReason = false, ""
	}
	return nil
}

// ParsePot reads the sizes of a clear pot as "TOP,BOTTOM,HEIGHT" in mm; blanks, semicolons and x separate as well.
func ParsePot(s string) (record.Pot, error) {
	parts := strings.FieldsFunc(s, func(r rune) bool { return strings.ContainsRune(",; x/", r) })
	if len(parts) != 3 {
		return record.Pot{}, fmt.Errorf("%q is not TOP,BOTTOM,HEIGHT in mm", clip(s))
	}
	var v [3]float64
	for i, p := range parts {
		n, err := parseNumber(p, false)
		if err != nil || n < minPotMM || n > maxPotMM {
			return record.Pot{}, fmt.Errorf("%q is not a size of a pot from %d to %d mm", clip(p), minPotMM, maxPotMM)
		}
		v[i] = n
	}
	return record.Pot{TopMM: v[0], BottomMM: v[1], HeightMM: v[2]}, nil
}

// parseGiven reads a date that a person gave, with or without a time and an offset.
func parseGiven(s string) (record.Stamp, bool) {
	if t, err := time.Parse(time.RFC3339, s); err == nil {
		return record.Stamp{Time: t, HasOffset: true, Source: "given"}, true
	}
	for _, layout := range []string{"2006-01-02T15:04:05", "2006-01-02 15:04:05", "2006-01-02T15:04", "2006-01-02 15:04", time.DateOnly} {
		if t, err := time.Parse(layout, s); err == nil && t.Year() >= earliestYear {
			return record.Stamp{Time: t, Source: "given"}, true
		}
	}
	return record.Stamp{}, false
}

// OverrideFor gives what the corrections say of a photo, later lines over earlier ones.
func (c *Collection) OverrideFor(sha256, name string) Override {
	var o Override
	for _, i := range c.refs.lines(sha256, name) {
		if k := c.Corrections[i]; k.About(sha256, name) {
			k.apply(&o) // lines were checked when they were read
		}
	}
	return o
}

// refIndex finds the lines that may be about a photo: photos and lines both come in thousands.
type refIndex struct {
	byHash map[string][]int // first 12 figures of the hash, as PhotoRef writes them
	byRef  map[string][]int // the reference as it stands: a plain name
	short  []int            // beginnings of hashes, written by hand
}

func (x *refIndex) add(line int, ref string) {
	if x.byHash == nil {
		x.byHash, x.byRef = map[string][]int{}, map[string][]int{}
	}
	ref = strings.TrimSpace(ref)
	x.byRef[ref] = append(x.byRef[ref], line)
	hash, _, _ := strings.Cut(ref, "-")
	switch {
	case len(hash) >= refHashLen && isHex(hash):
		key := hashPrefix(strings.ToLower(hash))
		x.byHash[key] = append(x.byHash[key], line)
	case len(hash) >= 8 && isHex(hash):
		x.short = append(x.short, line)
	}
}

// lines gives the candidates in the file's order, each once.
func (x *refIndex) lines(sha256, name string) []int {
	all := slices.Concat(x.byHash[hashPrefix(sha256)], x.byRef[name], x.short)
	slices.Sort(all)
	return slices.Compact(all)
}

// Answer is a watch rule that the grower has dealt with.
type Answer struct {
	Plant int
	Rule  string // RuleKey
	Time  string // RFC 3339
	Note  string
}

// Answers gives all answers to watch rules, oldest first.
func (c *Collection) Answers() []Answer {
	var out []Answer
	for _, k := range c.Corrections {
		if k.Field == FieldAnswer {
			n, _, _ := ParseNumbers(k.Old)
			out = append(out, Answer{Plant: n[0], Rule: k.New, Time: k.Time, Note: k.Reason})
		}
	}
	return out
}

// AnswerFor gives the latest answer for a plant and rule.
func (c *Collection) AnswerFor(plant int, w record.WatchRule) (Answer, bool) {
	var last Answer
	found := false
	for _, a := range c.Answers() {
		if a.Plant == plant && a.Rule == w.Key() {
			last, found = a, true
		}
	}
	return last, found
}
