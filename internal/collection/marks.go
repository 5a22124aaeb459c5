package collection

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"sort"
	"strings"

	"phototrack/internal/fsx"
)

// What a mark does with the area it encloses.
const (
	MarkKeep     = "keep"      // this is leaf (or root), whatever the program thinks
	MarkLeaveOut = "leave_out" // this is not
)

// Limits of a file of marks: far above what a hand draws, so that a damaged file is not worked through.
const (
	maxMarkBytes  = 8 << 20
	maxMarks      = 500
	maxRingPoints = 20000
)

// Mark is an area, or a line along a part, drawn on a photo. Rings are closed (first point = last); the first is the outline, others are holes.
// Coordinates are relative to the displayed photo: x from 0 (left edge) to 1 (right edge), y from 0 (top) to 1.
type Mark struct {
	What  string         `json:"what"` // keep | leave_out | line
	Who   string         `json:"who"`
	When  string         `json:"when"` // RFC 3339 or ""
	Note  string         `json:"note"`
	Rings [][][2]float64 `json:"rings"`
	Line  *Line          `json:"line,omitempty"` // of a line; it has no rings
}

// PhotoMarks are all marks of one photo.
type PhotoMarks struct {
	SHA256 string // whole hash, or as much of it as the file gives
	Name   string // base name of the photo, "" where unknown
	File   string // marks/..., relative to the collection
	Marks  []Mark
}

// The GeoJSON form (RFC 7946), with relative photo coordinates in place of longitude and latitude.
type featureCollection struct {
	Type     string    `json:"type"`
	Photo    photoID   `json:"photo"`
	Features []feature `json:"features"`
}

type photoID struct {
	SHA256 string `json:"sha256"`
	Name   string `json:"name,omitempty"`
}

type feature struct {
	Type       string     `json:"type"`
	Properties properties `json:"properties"`
	Geometry   geometry   `json:"geometry"`
}

type properties struct {
	What   string `json:"what"`
	Who    string `json:"who,omitempty"`
	When   string `json:"when,omitempty"`
	Note   string `json:"note,omitempty"`
	SHA256 string `json:"sha256,omitempty"`

	// Of lines.
	Part    string   `json:"part,omitempty"`
	Measure []string `json:"measure,omitempty"`
	Drawn   string   `json:"drawn,omitempty"`
	Snap    *bool    `json:"snap,omitempty"`
	Zoom    float64  `json:"zoom,omitempty"`
}

type geometry struct {
	Type        string          `json:"type"`
	Coordinates json.RawMessage `json:"coordinates"`
}

// Hexadecimal digits of a photo's hash in a file of marks: the whole SHA-256, or a beginning that no two photos of a collection share.
const leastHashDigits, wholeHashDigits = 8, 64

// ParseMarks reads a GeoJSON FeatureCollection of polygons (areas) and line strings (lines on parts). The photo's hash stands in its member photo.sha256 or in
// the features' properties; file (its base name) may begin with it too. On an error nothing else is returned.
func ParseMarks(data []byte, file string) (PhotoMarks, error) {
	var fc featureCollection
	dec := json.NewDecoder(bytes.NewReader(data))
	if err := dec.Decode(&fc); err != nil {
		return PhotoMarks{}, fmt.Errorf("not a JSON file of marks: %w", err)
	}
	if dec.More() {
		return PhotoMarks{}, errors.New("there is more text after the end of the marks")
	}
	if fc.Type != "FeatureCollection" {
		return PhotoMarks{}, fmt.Errorf("the type is %q, not FeatureCollection", clip(fc.Type))
	}
	if len(fc.Features) > maxMarks {
		return PhotoMarks{}, fmt.Errorf("%d marks; at most %d can be", len(fc.Features), maxMarks)
	}
	out := PhotoMarks{SHA256: strings.ToLower(fc.Photo.SHA256), Name: fc.Photo.Name}
	for i, f := range fc.Features {
		m, err := f.mark()
		if err != nil {
			return PhotoMarks{}, fmt.Errorf("mark %d: %w", i+1, err)
		}
		if sha := strings.ToLower(f.Properties.SHA256); sha != "" {
			if out.SHA256 != "" && out.SHA256 != sha {
				return PhotoMarks{}, fmt.Errorf("mark %d belongs to another photo than those before it", i+1)
			}
			out.SHA256 = sha
		}
		out.Marks = append(out.Marks, m)
	}
	if out.SHA256 == "" {
		hash, _, _ := strings.Cut(strings.TrimSuffix(filepath.Base(file), ".json"), "-")
		out.SHA256 = strings.ToLower(hash)
	}
	if n := len(out.SHA256); n < leastHashDigits || n > wholeHashDigits || !isHex(out.SHA256) {
		return PhotoMarks{}, errors.New("the photo's sha256 is missing")
	}
	return out, nil
}

func (f feature) mark() (Mark, error) {
	m := Mark{What: f.Properties.What, Who: f.Properties.Who, When: f.Properties.When, Note: f.Properties.Note}
	switch {
	case f.Type == "Feature" && f.Geometry.Type == "LineString":
		l := &Line{Part: oneLine(f.Properties.Part), Measure: f.Properties.Measure, Drawn: f.Properties.Drawn, Zoom: f.Properties.Zoom,
			NoSnap: f.Properties.Snap != nil && !*f.Properties.Snap}
		if l.Drawn == "" {
			l.Drawn = DrawnByHand
		}
		if err := json.Unmarshal(f.Geometry.Coordinates, &l.Points); err != nil {
			return Mark{}, errors.New("its points are no pairs of numbers")
		}
		if m.What != MarkLine {
			return Mark{}, fmt.Errorf("%q is not %s, which is what a LineString can be", clip(m.What), MarkLine)
		}
		m.Line = l // a faulty line is kept and named, see lineFaults: it stands beside marks that are of use
		return m, nil
	case f.Type != "Feature" || f.Geometry.Type != "Polygon":
		return Mark{}, fmt.Errorf("it is a %s of a %s, not a Feature of a Polygon or a LineString", clip(f.Type), clip(f.Geometry.Type))
	}
	if err := json.Unmarshal(f.Geometry.Coordinates, &m.Rings); err != nil {
		return Mark{}, errors.New("its corners are no pairs of numbers")
	}
	return m, m.Check()
}

// lineFaults says of each line of a photo that cannot be measured why.
func (p *PhotoMarks) lineFaults() (out []LineError) {
	for i, m := range p.Marks {
		if m.Line == nil {
			continue
		}
		if err := m.Line.Check(); err != nil {
			out = append(out, LineError{File: p.File, What: fmt.Sprintf("mark %d, a line for %q: %v; it is kept but not measured", i+1, clip(m.Line.Part), err),
				Hint: "Open the photo on the desk page and draw the line again."})
		}
	}
	return out
}

// leastRing is the area, of the photo's, below which an outline encloses nothing: less than a pixel.
const leastRing = 1e-9

// Check says what is wrong with a mark, nil where it can be used.
func (m Mark) Check() error {
	if m.Line != nil {
		return m.Line.Check()
	}
	if m.What != MarkKeep && m.What != MarkLeaveOut {
		return fmt.Errorf("%q is not one of %s, %s", clip(m.What), MarkKeep, MarkLeaveOut)
	}
	if len(m.Rings) == 0 {
		return errors.New("it has no outline")
	}
	points := 0
	for _, ring := range m.Rings {
		points += len(ring)
		if len(ring) < 4 {
			return errors.New("an outline needs at least three corners and ends where it begins")
		}
		if ring[0] != ring[len(ring)-1] {
			return errors.New("an outline does not end where it begins")
		}
		for _, p := range ring {
			if !(p[0] >= 0 && p[0] <= 1 && p[1] >= 0 && p[1] <= 1) {
				return fmt.Errorf("the point %g, %g is outside the photo (0 to 1)", p[0], p[1])
			}
		}
		if math.Abs(ringArea(ring)) < leastRing {
			return errors.New("an outline encloses no area")
		}
	}
	if points > maxRingPoints {
		return fmt.Errorf("%d points; at most %d can be", points, maxRingPoints)
	}
	return nil
}

// ringArea is the signed area of a closed ring in relative coordinates (the shoelace formula).
func ringArea(ring [][2]float64) float64 {
	sum := 0.0
	for i := 1; i < len(ring); i++ {
		sum += ring[i-1][0]*ring[i][1] - ring[i][0]*ring[i-1][1]
	}
	return sum / 2
}

// EncodeMarks writes marks as GeoJSON, the form that ParseMarks reads.
func EncodeMarks(p PhotoMarks) ([]byte, error) {
	fc := featureCollection{Type: "FeatureCollection", Photo: photoID{p.SHA256, p.Name}, Features: []feature{}}
	for i, m := range p.Marks {
		f, err := m.feature()
		if err != nil {
			return nil, fmt.Errorf("mark %d: %w", i+1, err)
		}
		fc.Features = append(fc.Features, f)
	}
	data, err := json.MarshalIndent(fc, "", " ")
	return append(data, '\n'), err
}

// feature is the GeoJSON form of a mark. A line that cannot be measured is written all the same: it was kept when it was
// read, and must not get lost when a mark beside it is saved.
func (m Mark) feature() (feature, error) {
	f := feature{Type: "Feature", Properties: properties{What: m.What, Who: m.Who, When: m.When, Note: m.Note}}
	if l := m.Line; l != nil {
		f.Properties.What, f.Properties.Part, f.Properties.Measure, f.Properties.Drawn, f.Properties.Zoom = MarkLine, l.Part, l.Measure, l.Drawn, l.Zoom
		if l.NoSnap {
			f.Properties.Snap = new(bool)
		}
		points := l.Points
		if points == nil {
			points = [][2]float64{}
		}
		data, err := json.Marshal(points)
		f.Geometry = geometry{Type: "LineString", Coordinates: data}
		return f, err
	}
	if err := m.Check(); err != nil {
		return f, err
	}
	data, err := json.Marshal(m.Rings)
	f.Geometry = geometry{Type: "Polygon", Coordinates: data}
	return f, err
}

func (c *Collection) readMarks() {
	entries, err := os.ReadDir(c.Path(MarksDir))
	if err != nil {
		return // no folder, no marks
	}
	for _, e := range entries {
		if !e.Type().IsRegular() || strings.HasPrefix(e.Name(), ".") || !strings.EqualFold(filepath.Ext(e.Name()), ".json") {
			continue
		}
		file := MarksDir + "/" + e.Name()
		data, err := readLimited(c.Path(MarksDir, e.Name()), maxMarkBytes)
		var p PhotoMarks
		if err == nil {
			p, err = ParseMarks(data, e.Name())
		}
		if err != nil {
			c.Problems = append(c.Problems, LineError{File: file, What: err.Error(), Hint: "Draw the marks of this photo again on the desk page, or move the file away."})
			continue
		}
		p.File = file
		c.Problems = append(c.Problems, p.lineFaults()...)
		c.Marks = append(c.Marks, p)
	}
	sort.Slice(c.Marks, func(i, j int) bool { return c.Marks[i].File < c.Marks[j].File })
}

// MarksFor gives the marks of a photo.
func (c *Collection) MarksFor(sha256 string) []Mark {
	var out []Mark
	for _, p := range c.Marks {
		if strings.HasPrefix(sha256, p.SHA256) {
			out = append(out, p.Marks...)
		}
	}
	return out
}

// SaveMarks replaces the marks of a photo; none removes nothing but leaves an empty file of marks, so that the
// decision is on record.
func (c *Collection) SaveMarks(sha256, name string, marks []Mark) error {
	if len(sha256) != 64 || !isHex(sha256) {
		return fmt.Errorf("%q is not a photo's sha256", clip(sha256))
	}
	data, err := EncodeMarks(PhotoMarks{SHA256: sha256, Name: name, Marks: marks})
	if err != nil {
		return err
	}
	if err := os.MkdirAll(c.Path(MarksDir), 0o755); err != nil {
		return fsx.Explain(c.Path(MarksDir), err)
	}
	file := c.Path(MarksDir, PhotoRef(sha256, name)+".json")
	for _, p := range c.Marks { // a photo that was renamed keeps its file
		if strings.HasPrefix(sha256, p.SHA256) {
			file = c.Path(filepath.FromSlash(p.File))
		}
	}
	if err := fsx.WriteFileAtomic(file, data, 0o644); err != nil {
		return err
	}
	return c.Reload()
}

// ImportMarks reads a file of marks from elsewhere and makes them the marks of its photo.
func (c *Collection) ImportMarks(path string) (PhotoMarks, error) {
	data, err := readLimited(path, maxMarkBytes)
	if err != nil {
		return PhotoMarks{}, err
	}
	p, err := ParseMarks(data, filepath.Base(path))
	if err != nil {
		return PhotoMarks{}, &fsx.HintError{What: path, Hint: "Marks are a GeoJSON FeatureCollection of polygons and lines in relative photo coordinates, 0 to 1.", Err: err}
	}
	if len(p.SHA256) != 64 {
		return PhotoMarks{}, &fsx.HintError{What: path + ": only a part of the photo's sha256 is given", Hint: "Write the whole sha256 into the member photo."}
	}
	return p, c.SaveMarks(p.SHA256, p.Name, p.Marks)
}

// ExportMarks writes the marks of a photo to a file.
func (c *Collection) ExportMarks(sha256, name, path string) error {
	data, err := EncodeMarks(PhotoMarks{SHA256: sha256, Name: name, Marks: c.MarksFor(sha256)})
	if err != nil {
		return err
	}
	return fsx.WriteFileAtomic(path, data, 0o644)
}
