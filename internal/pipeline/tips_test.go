package pipeline

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/collection"
	"phototrack/internal/record"
)

// Every root tip that is counted is drawn, and lies on the pot's wall: a ring beside the wall would be a tip too many.
func TestCountedTipsLieOnTheWall(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "bench")
	_, err := collection.Init(dir)
	require.NoError(t, err)
	lists, err := os.ReadFile(filepath.Join("..", "..", "samples", "plants.csv"))
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(filepath.Join(dir, "plants.csv"), lists, 0o644))
	c, err := collection.Open(dir)
	require.NoError(t, err)
	files, err := filepath.Glob(filepath.Join("..", "..", "samples", "photos", "*_R.jpg"))
	require.NoError(t, err)
	require.NotEmpty(t, files)
	var w Measurer
	defer w.Close()
	all := 0
	for _, file := range files {
		data, err := os.ReadFile(file)
		require.NoError(t, err)
		p := w.Measure(data, Job{Name: filepath.Base(file)}, c)
		count, ok := p.Find(record.RootTips)
		require.True(t, ok, "%s: %v", file, p.Reasons)
		var pot []record.Point
		var tips []record.Point
		for _, o := range p.Outlines {
			switch o.Kind {
			case "pot":
				pot = o.Points
			case "tip":
				tips = append(tips, o.Points...)
			}
		}
		assert.Len(t, tips, int(count.Value), file)
		for _, tip := range tips {
			assert.True(t, enclosed(tip, pot), "%s: a tip at %.0f, %.0f is not on the wall", file, tip.X, tip.Y)
		}
		all += len(tips)
	}
	assert.Positive(t, all)
}

// enclosed says whether a point lies within an outline: a ray from it crosses the outline an odd number of times.
func enclosed(p record.Point, outline []record.Point) (in bool) {
	for i, a := range outline {
		b := outline[(i+1)%len(outline)]
		if (a.Y > p.Y) != (b.Y > p.Y) && p.X < a.X+(p.Y-a.Y)/(b.Y-a.Y)*(b.X-a.X) {
			in = !in
		}
	}
	return in
}
