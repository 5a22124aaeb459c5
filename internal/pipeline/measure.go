// Package pipeline is the way of a photo: from the bytes of a file to a row with numbers or reasons, in worker
// processes that can die without harm, and into the store.
package pipeline

import (
	"fmt"
	"math"
	"strings"

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
const MeasuringVersion = "2026.11.30.4"

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

func (m *measuring) calibrate() bool {
	s := calib.Settings{ColourMode: calib.ModeNominal, OffsetMM: m.settings.Measurement.OffsetMM,
		Print: calib.TruePrint(m.settings.Measurement.UnmeasuredPrint)}
	if m.override.OffsetMM != nil {
		s.OffsetMM = *m.override.OffsetMM
	}
	if m.c != nil {
		k := m.c.CardAt(m.p.Taken.Day())
		s.Print = printOf(k, m.settings.Measurement.UnmeasuredPrint)
		own := colours(m.c, m.c.CardIndex(m.p.Taken.Day()))
		if own.err != nil {
			m.fail(gate.CardColours, "%v", own.err)
		} else {
			s.Targets, s.ColourMode = own.targets, own.mode
			m.p.Notes = append(m.p.Notes, own.notes...)
		}
	}
	cal, why, err := calib.Calibrate(m.frame.Img, m.frame.F35MM, s)
	if err != nil {
		m.fail(gate.Unreadable, "%v", err)
		return false
	}
	m.cal = cal
	m.p.Plant, m.p.View = cal.Plant, cal.View
	for _, r := range why {
		tag := r.Code == gate.NoTag || r.Code == gate.TwoTags
		if tag && m.override.Plant > 0 {
			continue
		}
		m.p.Reasons = append(m.p.Reasons, r)
	}
	if m.override.Plant > 0 {
		m.p.Plant = m.override.Plant
	}
	if m.override.View != "" {
		m.p.View = m.override.View
	}
	if m.override.Excluded {
		m.fail(gate.Excluded, "%s", m.override.ExcludeReason)
	}
	if m.c != nil && m.p.Plant > 0 {
		if _, ok := m.c.Plant(m.p.Plant); !ok {
			m.fail(gate.UnknownTag, "number %d", m.p.Plant)
		}
	}
	if cal.ScalePxPerMM > 0 {
		m.p.Calibration = cal.Record()
	}
	return true
}

// ruleReadingRelU is the relative standard uncertainty of a print that was checked with a steel rule: read to +-0.15 mm
// on 100 mm, rectangular.
const ruleReadingRelU = 0.15 / 100 / 1.7320508

// leafInput is the calibrated photo as the measuring of leaves takes it.
func (m *measuring) leafInput() leaf.Input {
	cal := m.cal
	in := leaf.Input{
		Img: m.frame.Img, CardToPx: cal.Plane, DistanceMM: cal.DistanceMM, ScalePxPerMM: cal.ScalePxPerMM,
		EdgeSpreadPx: cal.EdgeSpreadPx, Eye: cal.Camera.Centre(), Colour: leafColour(&cal.Colour),
		AreaRelU: cal.AreaRelU(geom.MM{X: 0, Y: 100}), PrintRelU: cal.PrintRelU,
		LU: cal.Colour.LU, AU: cal.Colour.AU, BU: cal.Colour.BU, HueDegU: cal.Colour.HueU,
		Card: points(cal.Outline(2)), Net: m.net, WantRegions: m.job.Regions,
	}
	for _, t := range cal.TagOutlines(1) {
		in.Tags = append(in.Tags, points(t))
	}
	m.drawn(func(keep bool, outline []record.Point) {
		in.Marks = append(in.Marks, leaf.Mark{Keep: keep, Points: outline})
	})
	return in
}

func (m *measuring) leaf() {
	ms := m.settings.Measurement
	in := m.leafInput()
	s := leaf.DefaultSettings()
	s.DepthCommonMM, s.DepthShotMM, s.SlopeDeg = ms.DepthCommonMM, ms.DepthShotMM, ms.SlopeDeg
	s.MinSpeckMM2, s.MinHoleMM2 = ms.MinSpeckMM2, ms.MinHoleMM2
	s.Classes = ClassTable(m.settings.Classes)
	m.wholeFoot(in, s)
	res, why, err := leaf.Measure(in, s)
	if err != nil {
		m.fail(gate.NoPlant, "%v", err)
		m.parts()
		m.pictures(nil)
		return
	}
	m.p.Reasons = append(m.p.Reasons, why...)
	m.p.Quantities = append(m.p.Quantities, res.Quantities...)
	m.p.Outlines, m.leaves = res.Outlines, res.Mask
	for _, d := range res.Doubtful {
		m.p.Outlines = append(m.p.Outlines, record.Outline{Kind: KindUnsure, Closed: true, Points: d.Outline})
		for _, hole := range d.Holes {
			m.p.Outlines = append(m.p.Outlines, record.Outline{Kind: KindUnsureHole, Closed: true, Points: hole})
		}
	}
	m.keepRegions(res.Regions)
	m.p.Notes = append(m.p.Notes, res.Notes...)
	if len(res.Colours.Parts) > 0 {
		m.extra("colours", res.Colours.String())
	}
	m.parts()
	m.pictures(&in)
}

// wholeFoot notes which kinds of areas were drawn and, where there are any, where the foot of the whole plant lies: what is
// left out by hand must not move the point on which photos are laid over each other.
func (m *measuring) wholeFoot(in leaf.Input, s leaf.Settings) {
	if len(in.Marks) == 0 {
		return
	}
	kinds := map[bool]string{}
	for _, k := range in.Marks {
		kinds[k.Keep] = collection.MarkLeaveOut
		if k.Keep {
			kinds[k.Keep] = collection.MarkKeep
		}
	}
	m.extra(record.ExtraAreas, strings.TrimSpace(kinds[true]+" "+kinds[false]))
	in.Marks = nil
	res, _, err := leaf.Measure(in, s)
	if err != nil {
		return // without areas there is nothing to be found; then the areas say where it is
	}
	if x, y, ok := footPX(res.Outlines, m.cal); ok {
		m.extra(record.ExtraFoot, fmt.Sprintf("%.1f,%.1f", x, y))
	}
}

// footPX is the middle of the lowest tenth of the leaves in the plane of the card, in px of the photo.
func footPX(outlines []record.Outline, cal *calib.Calibration) (x, y float64, ok bool) {
	var all []geom.MM
	for _, o := range outlines {
		if o.Kind == "leaf" {
			for _, q := range o.Points {
				all = append(all, cal.ToPlane.MM(geom.PX{X: q.X, Y: q.Y}))
			}
		}
	}
	if len(all) == 0 {
		return 0, 0, false
	}
	top, foot := math.Inf(1), math.Inf(-1)
	for _, p := range all {
		top, foot = min(top, p.Y), max(foot, p.Y)
	}
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, p := range all {
		if p.Y >= foot-(foot-top)/10 {
			lo, hi = min(lo, p.X), max(hi, p.X)
		}
	}
	px := cal.Plane.Px(geom.MM{X: (lo + hi) / 2, Y: foot})
	return px.X, px.Y, finite(px.X) && finite(px.Y)
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
