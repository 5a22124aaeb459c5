package collection

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"phototrack/internal/record"
)

// MarkLine is the kind of mark that measures a part instead of enclosing an area.
const MarkLine = "line"

// How a line came to be.
const (
	DrawnByHand   = "hand"
	DrawnAccepted = "accepted" // a proposal that the grower took
)

// Measures of a line.
const (
	MeasureLength = "length"
	MeasureWidth  = "width"
	MeasureBend   = "bend"
	MeasureAngle  = "angle"
)

var lineMeasures = []string{MeasureLength, MeasureWidth, MeasureBend, MeasureAngle}

// maxLinePoints is far above what a hand clicks along a part.
const maxLinePoints = 2000

// Line is a path drawn on a photo along or across a part. Points are kept as they were drawn, relative to the displayed
// photo like the rings of areas; drawing to the part's middle or edges happens when measuring.
type Line struct {
	Part    string       `json:"part"`
	Measure []string     `json:"measure"`
	Drawn   string       `json:"drawn"`             // hand | accepted
	NoSnap  bool         `json:"no_snap,omitempty"` // take the points as they are
	Zoom    float64      `json:"zoom,omitempty"`    // screen pixels per photo pixel at which it was drawn, 0 where unknown
	Points  [][2]float64 `json:"points"`
}

// Measures says whether the line is to give a quantity.
func (l *Line) Measures(what string) bool { return slices.Contains(l.Measure, what) }

// leastLine is the length of a line, of the photo's side, below which it is a point.
const leastLine = 1e-6

// Check says what is wrong with a line, nil where it can be measured: what the words mean and whether the points make a
// line. Whether the part is listed and where on the photo the line lies is looked at when it is measured.
func (l *Line) Check() error {
	if what, _ := partNameFault(oneLine(l.Part)); what != "" {
		return errors.New(what)
	}
	if len(l.Measure) == 0 {
		return fmt.Errorf("it does not say what to measure: %s", strings.Join(lineMeasures, ", "))
	}
	for _, m := range l.Measure {
		if !slices.Contains(lineMeasures, m) {
			return fmt.Errorf("%q cannot be measured along a line: use %s", clip(m), strings.Join(lineMeasures, ", "))
		}
	}
	if l.Drawn != DrawnByHand && l.Drawn != DrawnAccepted {
		return fmt.Errorf("drawn is %q, not %s or %s", clip(l.Drawn), DrawnByHand, DrawnAccepted)
	}
	return checkPath(l.Points)
}

// checkPath says what is wrong with the points of a line.
func checkPath(points [][2]float64) error {
	if len(points) > maxLinePoints {
		return fmt.Errorf("%d points; at most %d can be", len(points), maxLinePoints)
	}
	for _, p := range points {
		if !(p[0] >= 0 && p[0] <= 1 && p[1] >= 0 && p[1] <= 1) {
			return fmt.Errorf("the point %g, %g is outside the photo (0 to 1)", p[0], p[1])
		}
	}
	length := 0.0
	for i := 1; i < len(points); i++ {
		length += math.Hypot(points[i][0]-points[i-1][0], points[i][1]-points[i-1][1])
	}
	if len(points) < 2 || length < leastLine {
		return errors.New("it has one point only; a line needs two or more")
	}
	if crosses(points) {
		return errors.New("it crosses itself")
	}
	return nil
}

// crosses says whether two pieces of a path that are no neighbours meet.
func crosses(p [][2]float64) bool {
	side := func(a, b, c [2]float64) float64 { return (b[0]-a[0])*(c[1]-a[1]) - (b[1]-a[1])*(c[0]-a[0]) }
	for i := 1; i < len(p); i++ {
		for j := i + 2; j < len(p); j++ {
			a, b, c, d := p[i-1], p[i], p[j-1], p[j]
			if side(a, b, c)*side(a, b, d) < 0 && side(c, d, a)*side(c, d, b) < 0 {
				return true
			}
		}
	}
	return false
}

// Areas are those marks that enclose an area; Lines those that are lines.
func Areas(marks []Mark) (out []Mark) {
	for _, m := range marks {
		if m.Line == nil {
			out = append(out, m)
		}
	}
	return out
}

// Lines are the marks that are lines on parts.
func Lines(marks []Mark) (out []Mark) {
	for _, m := range marks {
		if m.Line != nil {
			out = append(out, m)
		}
	}
	return out
}

// lineInputs is what goes into the measuring of a photo's lines besides the marks: the settings and the parts they name.
type lineInputs struct {
	Settings PartSettings
	Parts    []record.Part
}

// linesInput is nil for a photo without lines, whose measurement does not depend on parts.csv.
func (c *Collection) linesInput(plant int, marks []Mark) *lineInputs {
	lines := Lines(marks)
	if len(lines) == 0 {
		return nil
	}
	in := &lineInputs{Settings: c.Settings.Parts}
	for _, m := range lines {
		if p, ok := c.Part(plant, m.Line.Part); ok {
			p.Line, p.Name, p.Note = 0, "", "" // where it stands in the file and what is said of it change no number
			in.Parts = append(in.Parts, p)
		}
	}
	return in
}
