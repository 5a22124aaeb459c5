package publish

import (
	"errors"
	"os"
	"path/filepath"
	"slices"

	"phototrack/internal/collection"
	"phototrack/internal/gate"
	"phototrack/internal/record"
)

// current are the photos as they stand today: a tag that was not listed when its photo was measured may be listed now, and
// a photo that was refused and that the grower has deleted since is not asked for any more.
func current(c *collection.Collection, photos []record.Photo) []record.Photo {
	out := make([]record.Photo, 0, len(photos))
	for i := range photos {
		p := photos[i]
		if Withdrawn(&p) {
			continue
		}
		if _, listed := c.Plant(p.Plant); listed && p.HasReason(gate.UnknownTag) {
			p.Reasons = slices.DeleteFunc(slices.Clone(p.Reasons), func(r record.Reason) bool { return r.Code == gate.UnknownTag })
			p.Status = gate.StatusOf(p.Reasons)
		}
		out = append(out, p)
	}
	return out
}

// Withdrawn says that a photo was refused and that the grower has deleted its file from among others. Where the whole
// folder was emptied or is out of reach, nothing can be told from that.
func Withdrawn(p *record.Photo) bool {
	if p.Status != record.Rejected || p.Path == "" {
		return false
	}
	if _, err := os.Lstat(p.Path); !errors.Is(err, os.ErrNotExist) {
		return false
	}
	rest, err := os.ReadDir(filepath.Dir(p.Path))
	return err == nil && len(rest) > 0
}
