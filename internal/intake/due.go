package intake

import (
	"fmt"
	"os"

	"phototrack/internal/collection"
	"phototrack/internal/gate"
	"phototrack/internal/pipeline"
	"phototrack/internal/record"
)

// Due picks the stored photos that a run would measure again: their inputs have changed, or the last run came to no
// result, and their originals can still be had.
func Due(c *collection.Collection, photos []record.Photo) (out []*record.Photo) {
	var kept map[string]bool
	for i := range photos {
		p := &photos[i]
		if !due(c, p) {
			continue
		}
		if kept == nil {
			kept = c.Originals()
		}
		if !kept[collection.PhotoRef(p.SHA256, p.Name)] {
			if _, err := os.Stat(p.Path); err != nil {
				continue
			}
		}
		out = append(out, p)
	}
	return out
}

// due says whether a measured photo must be measured again: an input other than its bytes changed, the last run could not
// come to a result, or it was refused for its size under other limits.
func due(c *collection.Collection, p *record.Photo) bool {
	return p.SettingsKey != c.InputsKey(pipeline.MeasuringVersion, p) || pipeline.TryAgain(p) || pipeline.Redate(c, p) ||
		p.HasReason(gate.TooLarge) && p.Extra[extraLimits] != limitsOf(c)
}

// extraLimits is where a photo that was refused for its size keeps the limits that refused it.
const extraLimits = "limits"

func limitsOf(c *collection.Collection) string {
	return fmt.Sprintf("%d megapixels, %d MB", c.Settings.Run.MaxMegapixels, c.Settings.Run.MaxFileMB)
}
