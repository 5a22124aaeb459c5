// Package cgats reads colour readings from text files in the format of CGATS.17 (ISO 28178), as the programs of
// colorimeters and spectrophotometers write them: keywords, a list of field names, and a table of samples.
//
// CIELAB (LAB_L, LAB_A, LAB_B) and tristimulus values (XYZ_X, XYZ_Y, XYZ_Z) are read; CIELAB is taken where a file has
// both. Files that hold only spectra are refused with a message that says so. Pure text in, plain values out.
package cgats

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"phototrack/internal/colour"
)

// What can be wrong with a file. Errors returned wrap one of these and, where there is one, carry the line.
var (
	ErrFormat      = errors.New("this is no CGATS.17 text file")
	ErrNoColours   = errors.New("the file has neither LAB_L, LAB_A, LAB_B nor XYZ_X, XYZ_Y, XYZ_Z")
	ErrOnlySpectra = errors.New("the file holds spectra only: write it again with LAB or XYZ")
	ErrRow         = errors.New("a row of the table cannot be read")
	ErrTooLarge    = errors.New("the file is too large for a list of readings")
	ErrObserver    = errors.New("the readings are for another observer than 2 degrees")
	ErrWhite       = errors.New("the readings are for a light other than D50 or D65")
)

// LineError is an error at a line (from 1) of the file.
type LineError struct {
	Line int
	What string
	Err  error
}

func (e *LineError) Error() string { return fmt.Sprintf("line %d: %v: %s", e.Line, e.Err, e.What) }

// Unwrap gives the kind of error.
func (e *LineError) Unwrap() error { return e.Err }

// Sample is one reading.
type Sample struct {
	ID, Name string     // SAMPLE_ID and SAMPLE_NAME (or SAMPLE_LOC), "" where missing
	Line     int        // in the file, from 1
	Linear   colour.RGB // linear sRGB for D65, adapted by the Bradford transform where the reading is for D50
}

// File is what a file of readings holds.
type File struct {
	Samples  []Sample
	White    string   // D50 | D65
	Assumed  []string // what the file does not say and was taken: sentences for the reader
	Keywords map[string]string
}

const (
	maxBytes   = 4 << 20
	maxSamples = 20000
)

// IsCGATS says whether the beginning of a file looks like CGATS.17: by its first word, or by its data markers.
func IsCGATS(head []byte) bool {
	head = bytes.TrimPrefix(head, []byte("\xef\xbb\xbf"))
	word, _, _ := bytes.Cut(bytes.TrimSpace(head), []byte("\n"))
	w := strings.ToUpper(string(bytes.TrimSpace(word)))
	if strings.HasPrefix(w, "CGATS") || strings.HasPrefix(w, "IT8.7") || strings.HasPrefix(w, "ISO28178") {
		return true
	}
	return bytes.Contains(head, []byte("BEGIN_DATA_FORMAT"))
}

// Read reads the first table of a file.
func Read(r io.Reader) (*File, error) {
	data, err := io.ReadAll(io.LimitReader(r, maxBytes+1))
	if err != nil {
		return nil, err
	}
	if len(data) > maxBytes {
		return nil, ErrTooLarge
	}
	if !IsCGATS(data) {
		return nil, ErrFormat
	}
	p := parser{f: &File{Keywords: map[string]string{}}}
	sc := bufio.NewScanner(bytes.NewReader(bytes.ReplaceAll(bytes.TrimPrefix(data, []byte("\xef\xbb\xbf")), []byte("\r"), []byte("\n"))))
	crlf := bytes.Contains(data, []byte("\r\n"))
	sc.Buffer(nil, maxBytes)
	for n := 1; sc.Scan(); n++ {
		line := n
		if crlf {
			line = (n + 1) / 2
		}
		if done, err := p.line(sc.Text(), line); err != nil {
			return nil, err
		} else if done {
			break
		}
	}
	if err := sc.Err(); err != nil {
		return nil, ErrTooLarge
	}
	return p.finish()
}

type parser struct {
	f        *File
	inFormat bool
	inData   bool
	fields   []string
	rows     [][]string
	lines    []int
	started  bool
	ended    bool
}

// line takes one line; done says that the first table is complete.
func (p *parser) line(text string, n int) (done bool, err error) {
	words, ok := split(text)
	if !ok {
		return false, &LineError{n, "a quotation mark is not closed", ErrFormat}
	}
	if len(words) == 0 {
		return false, nil
	}
	switch first := strings.ToUpper(words[0]); {
	case first == "BEGIN_DATA_FORMAT":
		p.inFormat, p.fields = true, nil
	case first == "END_DATA_FORMAT":
		p.inFormat = false
	case first == "BEGIN_DATA":
		p.inData, p.started = true, true
	case first == "END_DATA":
		p.ended = true
		return true, nil
	case p.inFormat:
		for _, w := range words {
			p.fields = append(p.fields, strings.ToUpper(w))
		}
	case p.inData:
		if len(p.rows) >= maxSamples {
			return false, &LineError{n, fmt.Sprintf("more than %d samples", maxSamples), ErrTooLarge}
		}
		if len(words) != len(p.fields) {
			return false, &LineError{n, fmt.Sprintf("%d values for %d fields", len(words), len(p.fields)), ErrRow}
		}
		p.rows, p.lines = append(p.rows, words), append(p.lines, n)
	case len(words) > 1:
		key := first
		if key == "KEYWORD" { // declares a name, has no value of its own
			return false, nil
		}
		if had := p.f.Keywords[key]; had != "" { // WEIGHTING_FUNCTION stands once for the light and once for the observer
			words = append([]string{key, had}, words[1:]...)
		}
		p.f.Keywords[key] = strings.Join(words[1:], " ")
	}
	return false, nil
}

// split takes a line apart into words and quoted strings; # begins a comment.
func split(s string) (words []string, ok bool) {
	for i := 0; i < len(s); {
		switch c := s[i]; {
		case c == ' ' || c == '\t' || c == '\f' || c == '\v':
			i++
		case c == '#':
			return words, true
		case c == '"':
			j := strings.IndexByte(s[i+1:], '"')
			if j < 0 {
				return words, false
			}
			words = append(words, s[i+1:i+1+j])
			i += j + 2
		default:
			j := strings.IndexAny(s[i:], " \t\f\v")
			if j < 0 {
				j = len(s) - i
			}
			words = append(words, s[i:i+j])
			i += j
		}
	}
	return words, true
}

func (p *parser) column(names ...string) int {
	for _, n := range names {
		for i, f := range p.fields {
			if f == n {
				return i
			}
		}
	}
	return -1
}

func (p *parser) finish() (*File, error) {
	f := p.f
	if len(p.fields) == 0 || !p.started {
		return nil, fmt.Errorf("%w: it has no table of samples", ErrFormat)
	}
	if sets, err := strconv.Atoi(f.Keywords["NUMBER_OF_SETS"]); !p.ended || err == nil && sets != len(p.rows) {
		return nil, fmt.Errorf("%w: it is cut short (%d samples of %s)", ErrFormat, len(p.rows), f.Keywords["NUMBER_OF_SETS"])
	}
	if err := p.conditions(); err != nil {
		return nil, err
	}
	cols, isLab, err := p.colours()
	if err != nil {
		return nil, err
	}
	values, err := p.values(cols)
	if err != nil {
		return nil, err
	}
	white := map[string]colour.XYZ{"D50": colour.WhiteD50, "D65": colour.WhiteD65}[f.White]
	scale := 1.0
	if !isLab {
		scale = p.whiteY(values)
	}
	id, name := p.column("SAMPLE_ID", "SAMPLEID"), p.column("SAMPLE_NAME", "SAMPLE_LOC")
	for i, v := range values {
		c := colour.XYZ{v[0] / scale, v[1] / scale, v[2] / scale}
		if isLab {
			c = colour.Lab{L: v[0], A: v[1], B: v[2]}.XYZ(white)
		}
		s := Sample{Line: p.lines[i], Linear: colour.FromXYZ(c.Adapt(white, colour.WhiteD65))}
		if id >= 0 {
			s.ID = p.rows[i][id]
		}
		if name >= 0 {
			s.Name = p.rows[i][name]
		}
		f.Samples = append(f.Samples, s)
	}
	return f, nil
}

// colours finds the columns that hold colours: CIELAB where there is all of it, else XYZ.
func (p *parser) colours() (cols [3]int, isLab bool, err error) {
	all := func(names ...string) (cols [3]int, ok bool) {
		ok = true
		for i, n := range names {
			cols[i] = p.column(n)
			ok = ok && cols[i] >= 0
		}
		return cols, ok
	}
	if cols, ok := all("LAB_L", "LAB_A", "LAB_B"); ok {
		return cols, true, nil
	}
	if cols, ok := all("XYZ_X", "XYZ_Y", "XYZ_Z"); ok {
		return cols, false, nil
	}
	for _, n := range p.fields {
		if strings.HasPrefix(n, "SPECTRAL") || strings.HasPrefix(n, "NM") || strings.HasPrefix(n, "R_") {
			return cols, false, ErrOnlySpectra
		}
	}
	return cols, false, ErrNoColours
}

// mostValue is far beyond what a colour of a print can have in CIELAB or XYZ: a number above it is no reading.
const mostValue = 1000

// values reads the three numbers of each row. A comma is taken as the decimal point that it is in half of the world.
func (p *parser) values(cols [3]int) ([][3]float64, error) {
	values := make([][3]float64, len(p.rows))
	for i, row := range p.rows {
		for k, c := range cols {
			v, err := strconv.ParseFloat(strings.Replace(row[c], ",", ".", 1), 64)
			if err != nil || math.IsNaN(v) || math.Abs(v) > mostValue {
				return nil, &LineError{p.lines[i], fmt.Sprintf("%s is %q", p.fields[c], row[c]), ErrRow}
			}
			values[i][k] = v
		}
	}
	return values, nil
}

// brightY is above the Y of any paper where white is 1 (fluorescent paper reaches about 1.1, from memory), and far below that of
// any white patch where white is 100.
const brightY = 1.5

// whiteY is the Y of white in a file of XYZ: 100, or 1 where no sample is brighter than that allows, which is said.
func (p *parser) whiteY(values [][3]float64) float64 {
	most := 0.0
	for _, v := range values {
		most = math.Max(most, v[1])
	}
	if most > brightY || len(values) == 0 {
		return 100
	}
	p.f.Assumed = append(p.f.Assumed, "No Y is above 1.5, so white was taken to be Y = 1, not 100.")
	return 1
}

// conditions reads the light and the observer from the keywords that programs use for them. ISO 13655 makes D50 and
// 2 degrees the rule for print; a file that says nothing is taken so, and that is said.
func (p *parser) conditions() error {
	f := p.f
	var said string
	for _, k := range []string{"ILLUMINATION_NAME", "ILLUMINANT", "WEIGHTING_FUNCTION", "REFERENCE_ILLUMINANT", "MEASUREMENT_ILLUMINANT"} {
		said += " " + strings.ToUpper(f.Keywords[k])
	}
	observer := said + " " + strings.ToUpper(f.Keywords["OBSERVER_ANGLE"]+" "+f.Keywords["OBSERVER"])
	if strings.Contains(observer, "10") {
		return fmt.Errorf("%w (%s)", ErrObserver, strings.TrimSpace(observer))
	}
	switch {
	case strings.Contains(said, "D65"):
		f.White = "D65"
	case strings.Contains(said, "D50"):
		f.White = "D50"
	case strings.TrimSpace(said) == "" || strings.TrimSpace(said) == "2":
		f.White = "D50"
		f.Assumed = append(f.Assumed, "The file does not say for which light: D50 and 2 degrees were taken, the rule for prints (ISO 13655).")
	case strings.Contains(said, "D5") || strings.Contains(said, "D7") || strings.Contains(said, "ILLUMINANT, A") || strings.Contains(said, "F2"):
		return fmt.Errorf("%w (%s)", ErrWhite, strings.TrimSpace(said))
	default:
		f.White = "D50"
		f.Assumed = append(f.Assumed, fmt.Sprintf("The light is given as %q, which names neither D50 nor D65: D50 was taken.", strings.TrimSpace(said)))
	}
	return nil
}
