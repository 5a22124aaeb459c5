package intake

import (
	"time"

	"phototrack/internal/collection"
	"phototrack/internal/gate"
	"phototrack/internal/record"
)

// date notes a photo's date where it stands nowhere but in the store: it came from the command line or from the name of a folder,
// which the kept original does not have, and is not with the grower's corrections yet. A folder's date that is in doubt is not
// noted: what stands there is believed.
func (s *storeSink) date(p *record.Photo) {
	folder := p.Taken.Source == "folder"
	if !p.Taken.FromOutside() || folder && gate.DateInDoubt(p) || !s.c.OverrideFor(p.SHA256, p.Name).Date.IsZero() {
		return
	}
	why := "given with --date"
	if folder {
		why = "from the name of the photo's folder"
	}
	s.dated = append(s.dated, collection.Correction{Time: time.Now().Format(time.RFC3339), Photo: collection.PhotoRef(p.SHA256, p.Name),
		Field: collection.FieldDate, New: p.Taken.String(), Reason: why})
}

// writeDates keeps these dates with the grower's corrections, one line a photo, so that nothing lives in the store alone.
func (s *storeSink) writeDates() error {
	seen := map[string]bool{}
	var once []collection.Correction
	for _, k := range s.dated {
		if !seen[k.Photo] {
			once = append(once, k)
		}
		seen[k.Photo] = true
	}
	return s.c.AppendCorrections(once...)
}
