// Package drawnshelf is for tests: a small collection whose store holds drawn numbers. Nothing in it was measured, so that what the
// program writes of it stays the same when the measuring changes.
package drawnshelf

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"phototrack/internal/collection"
	"phototrack/internal/gate"
	"phototrack/internal/record"
	"phototrack/internal/series"
)

// LastMonth is the month of the latest photos.
const LastMonth = "2023-10"

// Make makes it in dir: plant 1 with leaves that grow, a repot behind it and a watch rule that it reaches, plant 2 with roots on flagged
// photos and a photo of its leaves that will not do; three months each. It gives the hash of plant 1's last photo.
func Make(t testing.TB, dir string) (last string) {
	t.Helper()
	_, err := collection.Init(dir)
	require.NoError(t, err)
	for file, text := range map[string]string{
		"plants.csv": "number,name,group,pot_top_mm,pot_bottom_mm,pot_height_mm,from,until,note\n1,Hoya,climbers,,,,,,\n2,Vanda,orchids,100,84,100,,,in bark\n",
		"events.csv": "date,plant,event,note\n2023-09-20,1,repot,fresh mix\n",
		"watch.csv":  "quantity,of,condition,limit,message,plants\nleaf_area,value,>=,25000,It needs a larger place.,1\n",
	} {
		require.NoError(t, os.WriteFile(filepath.Join(dir, file), []byte(text), 0o644))
	}
	c, err := collection.Open(dir)
	require.NoError(t, err)
	st, err := series.Open(c.StorePath())
	require.NoError(t, err)
	for _, p := range photos() {
		sum := sha256.Sum256([]byte(p.Name))
		p.SHA256, p.WidthPx, p.HeightPx = hex.EncodeToString(sum[:]), 4000, 3000
		require.NoError(t, st.Put(context.Background(), &p))
		if p.Plant == 1 {
			last = p.SHA256
		}
	}
	require.NoError(t, st.Close())
	return last
}

func photos() (out []record.Photo) {
	for month := range 3 {
		at := record.Stamp{Time: time.Date(2023, time.Month(8+month), 9, 10, 0, 0, 0, time.UTC), Source: "exif"}
		grown := float64(month)
		out = append(out,
			record.Photo{Name: fmt.Sprintf("hoya_%d.jpg", month), Plant: 1, View: record.Leaf, Status: record.Accepted, Taken: at, Quantities: []record.Quantity{
				{Name: record.LeafArea, Unit: "mm2", Value: 21000 + 2500*grown, U95: 400}, {Name: record.GreenShare, Unit: "1", Value: 0.93 - 0.01*grown, U95: 0.01},
				{Name: record.YellowShare, Unit: "1", Value: 0.02, U95: 0.01}, {Name: record.LeafHue, Unit: "deg", Value: 126, U95: 2}}},
			record.Photo{Name: fmt.Sprintf("vanda_%d.jpg", month), Plant: 2, View: record.Root, Status: record.Flagged, Taken: at, Reasons: []record.Reason{{Code: gate.Oblique, Detail: "38 degrees"}},
				Quantities: []record.Quantity{{Name: record.RootLength, Unit: "mm", Value: 410 + 90*grown, U95: 30}, {Name: record.RootTips, Unit: "1", Value: 5, U95: 1}}})
	}
	return append(out, record.Photo{Name: "blurred.jpg", Plant: 2, View: record.Leaf, Status: record.Rejected, Reasons: []record.Reason{{Code: gate.Blurred, Detail: "1.4 mm"}},
		Taken: record.Stamp{Time: time.Date(2023, 10, 9, 10, 5, 0, 0, time.UTC), Source: "exif"}})
}
