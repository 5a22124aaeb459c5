// Package pipeline is the way of a photo: from the bytes of a file to a row with numbers or reasons, in worker
// processes that can die without harm, and into the store.
package pipeline

import (
	"math"

	"phototrack/internal/calib"
	"phototrack/internal/collection"
	"phototrack/internal/gate"
	"phototrack/internal/geom"
	"phototrack/internal/leafnet"
	"phototrack/internal/measure/leaf"
	"phototrack/internal/measure/part"
	"phototrack/internal/photo"
	"phototrack/internal/record"
	"phototrack/internal/regions"
	"phototrack/internal/uncert"
)

// MeasuringVersion names the state of the measuring code. Raise it with every change that can move a number: photos
// measured by another version are measured anew.
const MeasuringVersion = "2026.12.01b"

// Job is one photo to be measured.
type Job struct {
	Path      string       `json:"path"`
	Rel       string       `json:"rel"`  // within the folder of photos: a date in it may date the photo; the name where empty
	Name      string       `json:"name"` // as the grower knows it; the path's last part where empty
	GivenDate record.Stamp `json:"given_date"`
	Pictures  bool         `json:"pictures"` // make the working pictures
	Regions   bool         `json:"regions"`  // make the picture of classes, also of a photo that is refused
	Today     string       `json:"today"`    // YYYY-MM-DD, what later dates are judged by; "" judges none
	Attempts  int          `json:"attempts"` // runs that could not measure it before
}

func (j Job) rel() string {
	if j.Rel != "" {
		return j.Rel
	}
	return j.Name
}

// Measure measures one photo: a pure function of its bytes, the job and the collection's files (settings, pots, cards,
// corrections, marks). c may be nil for a photo that belongs to no collection. Whatever is wrong with the photo becomes
// reasons; the result is always complete.
func Measure(data []byte, job Job, c *collection.Collection) record.Photo {
	var w Measurer
	defer w.Close()
	return w.Measure(data, job, c)
}

// Measurer measures one photo after another in the same memory. The zero value is ready; it is not for use by several
// goroutines at once. What it measured before leaves no trace in a result.
type Measurer struct {
	reader photo.Reader
	net    leafnet.Net
}

// Close frees the network. The Measurer can be used again afterwards.
func (w *Measurer) Close() { _ = w.net.Close() }

// Measure is the function Measure.
func (w *Measurer) Measure(data []byte, job Job, c *collection.Collection) record.Photo {
	p := record.Photo{Name: job.Name, Path: job.Path, SHA256: collection.Hash(data), Bytes: int64(len(data))}
	m := measuring{job: job, c: c, p: &p, settings: collection.DefaultSettings(), net: &w.net}
	if c != nil {
		m.settings = c.Settings
		m.override = c.OverrideFor(p.SHA256, p.Name)
	}
	m.run(data, &w.reader)
	m.regionsAlone()
	if code, detail := dateDoubt(c, &p, job.Today); code != "" {
		m.fail(code, "%s", detail)
	}
	keepFinite(&p)
	p.Status = gate.StatusOf(p.Reasons)
	if p.Status == record.Rejected {
		p.Quantities = nil
	}
	if c != nil {
		p.SettingsKey = c.InputsKey(MeasuringVersion, &p)
	}
	return p
}

type measuring struct {
	job      Job
	c        *collection.Collection
	settings collection.Settings
	override collection.Override
	p        *record.Photo
	frame    *photo.Frame
	cal      *calib.Calibration
	wall     *part.Wall // of a clear pot that was found
	leaves   leaf.Mask  // classes by pixel, for the overlay
	net      regions.Seer
	colours  *lut // the photo's colour correction, made when it is first asked for
}

func (m *measuring) fail(code record.GateCode, format string, args ...any) {
	m.p.Reasons = append(m.p.Reasons, gate.Because(code, format, args...))
}

// leastPhotoPx is the side of the smallest photo that is looked at: a card of markers of 8 cells cannot be seen in less.
const leastPhotoPx = 64

func tooSmall(f *photo.Frame) bool { return f.WidthPx < leastPhotoPx || f.HeightPx < leastPhotoPx }

func (m *measuring) run(data []byte, reader *photo.Reader) {
	limits := photo.Limits{MaxPixels: int64(m.settings.Run.MaxMegapixels) * 1_000_000, MaxBytes: int64(m.settings.Run.MaxFileMB) * 1_000_000}
	frame, err := reader.Read(data, limits)
	if err != nil {
		m.p.Reasons = append(m.p.Reasons, photo.ReasonOf(err))
		m.date(record.Stamp{})
		return
	}
	m.frame = frame
	m.p.WidthPx, m.p.HeightPx, m.p.Camera = frame.WidthPx, frame.HeightPx, frame.Camera
	m.p.Notes = append(m.p.Notes, frame.Notes...)
	m.date(frame.Taken)
	if frame.Unchecked != "" {
		m.fail(gate.Unchecked, "%s", frame.Unchecked)
	}
	if tooSmall(frame) {
		m.fail(gate.NoCard, "the photo is only %d x %d px", frame.WidthPx, frame.HeightPx)
		return
	}
	if !m.calibrate() {
		return
	}
	if gate.StatusOf(m.p.Reasons) == record.Rejected {
		m.parts() // which says that they are not measured
		m.pictures(nil)
		return
	}
	switch m.p.View {
	case record.Leaf:
		m.leaf()
	case record.Root:
		m.root()
	}
	m.quality()
}

// date settles when the photo was taken: a correction, the camera, the name, then what the command line said.
func (m *measuring) date(exif record.Stamp) {
	p := m.p
	switch {
	case !m.override.Date.IsZero():
		p.Taken = m.override.Date
	case !exif.IsZero():
		p.Taken = exif
	default:
		if s, ok := collection.DateFromName(m.job.rel()); ok {
			p.Taken = s
		} else {
			p.Taken = m.job.GivenDate
		}
	}
	if p.Taken.IsZero() {
		m.fail(gate.NoDate, "")
	}
}

// extra keeps a small text with the photo.
func (m *measuring) extra(key, text string) {
	if text == "" {
		return
	}
	if m.p.Extra == nil {
		m.p.Extra = map[string]string{}
	}
	m.p.Extra[key] = text
}

// drawn gives the grower's marks of the photo: their outlines in px, and whether they keep or leave out.
func (m *measuring) drawn(each func(keep bool, outline []record.Point)) {
	if m.c == nil {
		return
	}
	for _, k := range m.c.MarksFor(m.p.SHA256) {
		if len(k.Rings) == 0 {
			continue // a line
		}
		each(k.What == collection.MarkKeep, m.outline(k.Rings))
	}
}

// outline makes one outline of an area with holes: each hole is joined to the outside by a way there and back, which
// encloses nothing (areas are filled by the even-odd rule).
func (m *measuring) outline(rings [][][2]float64) (out []record.Point) {
	for _, ring := range rings {
		for _, p := range ring {
			out = append(out, record.Point{X: p[0]*float64(m.p.WidthPx) - 0.5, Y: p[1]*float64(m.p.HeightPx) - 0.5})
		}
		out = append(out, out[0])
	}
	return out
}

func points(q []geom.PX) (out []record.Point) {
	for _, p := range q {
		out = append(out, record.Point{X: p.X, Y: p.Y})
	}
	return
}

// quality adds the quantities that say how good the photo was.
func (m *measuring) quality() {
	c := m.cal
	add := func(name record.QuantityName, unit string, v float64, terms ...record.Term) {
		if !math.IsNaN(v) {
			m.p.Quantities = append(m.p.Quantities, uncert.Quantity(name, unit, v, terms...))
		}
	}
	add(record.CardScale, "px_per_mm", c.ScalePxPerMM, uncert.Normal("scale fit", c.ScalePxPerMM*c.ScaleRelU), uncert.Common(uncert.Normal("print", c.ScalePxPerMM*c.PrintRelU)))
	add(record.CardTilt, "deg", c.TiltDeg, uncert.Normal("scale fit", c.TiltU))
	add(record.CameraDistance, "mm", c.DistanceMM, uncert.Normal("focal length and pose", c.DistanceU), uncert.Common(uncert.Normal("print", c.DistanceMM*c.PrintRelU)))
	add(record.ColourError, "CIEDE2000", c.Colour.Median)
	for _, t := range c.TagOutlines(0) { // plates show a tag whole or not at all
		m.p.Outlines = append(m.p.Outlines, record.Outline{Kind: "tag", Closed: true, Points: points(t)})
	}
}
