package photo

import (
	"phototrack/internal/icc"
	"phototrack/internal/raster"
)

// Colour spaces that a file can give by name instead of by a profile.
const (
	spaceDisplayP3 = "Display P3"
	spaceAdobeRGB  = "Adobe RGB (1998)"
)

// clipWorthNoting is the share of pixels outside sRGB from which the reader is told.
const clipWorthNoting = 0.001

// toSRGB converts the pixels in place from the file's colour space to sRGB and says what was done. A profile that cannot
// be used leaves them as they are: most such files are sRGB, and the reader is told.
func toSRGB(img raster.BGR, h *header, m *Meta) {
	if h.iccFault != "" {
		m.Profile = "damaged profile: taken as sRGB"
		m.note("The photo's colour profile is damaged (%s); its colours were taken as sRGB.", h.iccFault)
		return
	}
	p, err := profileOf(h)
	switch {
	case err != nil:
		m.Profile = "unusable profile: taken as sRGB"
		m.note("The photo's colour profile cannot be used; its colours were taken as sRGB.")
	case p == nil:
		m.Profile = "no profile: taken as sRGB"
	default:
		defer p.Close()
		m.apply(p, img, h.grey)
	}
}

// profileOf opens the embedded profile or builds the named one; nil where there is neither.
func profileOf(h *header) (*icc.Profile, error) {
	switch {
	case h.icc != nil:
		return icc.Open(h.icc)
	case h.namedSpace == spaceDisplayP3:
		return icc.DisplayP3()
	case h.namedSpace == spaceAdobeRGB:
		return icc.AdobeRGB()
	}
	return nil, nil
}

// apply converts the pixels and writes down what came of it.
func (m *Meta) apply(p *icc.Profile, img raster.BGR, grey bool) {
	name := p.Name()
	if name == "" {
		name = "unnamed profile"
	}
	if p.Grey() && !grey {
		m.Profile = name + ": for grey pictures, taken as sRGB"
		m.note("The photo's colour profile is one for grey pictures; its colours were taken as sRGB.")
		return
	}
	r, err := p.ToSRGB(img.Pix)
	switch {
	case err != nil:
		m.Profile = name + ": unusable, taken as sRGB"
		m.note("The photo's colour profile cannot be used; its colours were taken as sRGB.")
	case r.Untouched:
		m.Profile = name + ": is sRGB, unchanged"
	default:
		m.Profile = name + ": converted to sRGB"
	}
	if r.ClippedShare >= clipWorthNoting {
		m.note("%.1f %% of the photo has colours stronger than sRGB can hold; they were clipped.", 100*r.ClippedShare)
	}
}
