package pipeline

import (
	"phototrack/internal/calib"
	"phototrack/internal/gate"
)

func (m *measuring) calibrate() bool {
	cal, why, err := calib.Calibrate(m.frame.Img, m.frame.F35MM, m.calibSettings())
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
	m.takeOverride()
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

// takeOverride puts what the grower's corrections say of plant, view and use in the place of what was seen.
func (m *measuring) takeOverride() {
	if m.override.Plant > 0 {
		m.p.Plant = m.override.Plant
	}
	if m.override.View != "" {
		m.p.View = m.override.View
	}
	if m.override.Excluded {
		m.fail(gate.Excluded, "%s", m.override.ExcludeReason)
	}
}

// calibSettings are what the collection says of the card, its print and the plant's place. What is wrong with the card's colours is a reason.
func (m *measuring) calibSettings() calib.Settings {
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
	return s
}

// ruleReadingRelU is the relative standard uncertainty of a print that was checked with a steel rule: read to +-0.15 mm
// on 100 mm, rectangular.
const ruleReadingRelU = 0.15 / 100 / 1.7320508
