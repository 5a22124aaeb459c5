package desk

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/collection"
	"phototrack/internal/record"
	"phototrack/internal/reftest"
)

// Areas drawn round the flowers of a rendered plant in bloom bring its leaf area and shares to the scene's truth.
func TestMarksOnABloomBringTheTruth(t *testing.T) {
	var truth struct {
		Files []struct {
			File  string
			WH    [2]float64                      `json:"image_wh"`
			Bloom []struct{ Points [][2]float64 } `json:"bloom_outlines_px"`
			Leaf  struct {
				Outside float64            `json:"visible_area_outside_bloom_outlines_total_mm2"`
				Shares  map[string]float64 `json:"visible_share"`
			}
		}
	}
	reftest.JSON(t, &truth, "scenes", "hard", "truth.json")
	b := serve(t)
	for _, f := range truth.Files {
		if len(f.Bloom) == 0 {
			continue
		}
		data, err := os.ReadFile(reftest.Path(t, "scenes", "hard", f.File))
		require.NoError(t, err)
		code, _, text := b.drop(t, map[string][]byte{f.File: data})
		require.Equal(t, 200, code, text)
		b.settle(t)
		var marks []collection.Mark
		for _, o := range f.Bloom {
			m := collection.Mark{What: collection.MarkLeaveOut, Rings: [][][2]float64{nil}}
			for _, p := range append(o.Points, o.Points[0]) {
				m.Rings[0] = append(m.Rings[0], [2]float64{(p[0] + 0.5) / f.WH[0], (p[1] + 0.5) / f.WH[1]})
			}
			marks = append(marks, m)
		}
		body, err := json.Marshal(map[string]any{"marks": marks})
		require.NoError(t, err)
		code, text = b.send(t, "/photo/"+b.sha(t, f.File)+"/marks", "application/json", strings.NewReader(string(body)))
		require.Equal(t, 200, code, text)
		var got measured
		require.NoError(t, json.Unmarshal([]byte(text), &got))
		area := b.value(t, f.File, record.LeafArea)
		t.Logf("%s: %.0f mm2 of %.0f (%+.2f %%)", f.File, area, f.Leaf.Outside, 100*(area/f.Leaf.Outside-1))
		// The network loses some leaf close to the bloom: what is promised of a photo that is not flagged is 4 %.
		assert.InDelta(t, 1, area/f.Leaf.Outside, 0.04, f.File)
		for class, want := range f.Leaf.Shares {
			assert.InDelta(t, want, b.value(t, f.File, record.QuantityName(class+"_share")), 0.02, "%s %s", f.File, class)
		}
		kept, err := filepath.Glob(filepath.Join(b.dir, "marks", "*.json"))
		require.NoError(t, err)
		assert.Len(t, kept, 1)
		return
	}
	t.Fatal("no scene with a bloom")
}

// Marks that are none, or of no photo, are refused, and the photo keeps the ones it has.
func TestWrongMarksAreRefused(t *testing.T) {
	b := serve(t, "012_2026-03_L.jpg")
	sha := b.sha(t, "012_2026-03_L.jpg")
	for name, body := range map[string]string{
		"no JSON":          `marks`,
		"other members":    `{"marks":[],"path":"/etc/passwd"}`,
		"outside":          `{"marks":[{"what":"keep","rings":[[[0,0],[2,0],[2,2],[0,0]]]}]}`,
		"not closed":       `{"marks":[{"what":"keep","rings":[[[0,0],[0.5,0],[0.5,0.5],[0,0.5]]]}]}`,
		"another kind":     `{"marks":[{"what":"burn","rings":[[[0,0],[0.5,0],[0.5,0.5],[0,0]]]}]}`,
		"encloses nothing": `{"marks":[{"what":"keep","rings":[[[0,0],[0.5,0],[0.2,0],[0,0]]]}]}`,
	} {
		code, _ := b.send(t, "/photo/"+sha+"/marks", "application/json", strings.NewReader(body))
		assert.Equal(t, 400, code, name)
	}
	code, _ := b.send(t, "/photo/"+strings.Repeat("a", 64)+"/marks", "application/json", strings.NewReader(`{"marks":[]}`))
	assert.Equal(t, 404, code)
	_, err := os.Stat(filepath.Join(b.dir, "marks", collectionRef(sha, "012_2026-03_L.jpg")+".json"))
	assert.ErrorIs(t, err, os.ErrNotExist)
}
