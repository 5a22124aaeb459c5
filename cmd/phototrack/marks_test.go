package main

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/collection"
	"phototrack/internal/geom"
	"phototrack/internal/pipeline"
	"phototrack/internal/record"
)

// An area given to another photo lies at the same place beside the card, in millimetres, and is measured with; nothing else
// changes, and nothing is given where it means nothing.
func TestMarksCopiedToAnotherPhoto(t *testing.T) {
	const from, to, other = "012_2026-03_L.jpg", "012_2026-04_L.jpg", "023_2026-03_L.jpg"
	dir := samples(t, func(name string) bool { return name == from || name == to || name == other })
	run := func() map[string]record.Photo {
		code, out, errs := program(t, "run", "--no-report", "--collection", dir)
		require.LessOrEqual(t, code, 1, out+errs)
		by := map[string]record.Photo{}
		for _, p := range storedPhotos(t, dir) {
			by[p.Name] = p
		}
		require.Len(t, by, 3)
		return by
	}
	before := run()
	p, q := before[from], before[to]
	refused := func(what string, args ...string) {
		t.Helper()
		code, _, errs := inProcess(append([]string{"marks", "copy", "--collection", dir}, args...)...)
		assert.Equal(t, 2, code, args)
		assert.Contains(t, errs, what)
		assert.Contains(t, errs, "hint:")
	}
	refused("no areas are drawn on "+from, from, to)
	// The upper half of the plant is left out, but for a window; and a line lies on a leaf.
	ring := func(x0, y0, x1, y1 float64) [][2]float64 {
		return [][2]float64{{x0, y0}, {x1, y0}, {x1, y1}, {x0, y1}, {x0, y0}}
	}
	drawn := []collection.Mark{
		{What: collection.MarkLeaveOut, Rings: [][][2]float64{ring(0.05, 0.02, 0.55, 0.4), ring(0.2, 0.2, 0.3, 0.3)}},
		{What: "line", Line: &collection.Line{Part: "leaf 1", Drawn: collection.DrawnByHand, Measure: []string{collection.MeasureLength}, Points: [][2]float64{{0.2, 0.5}, {0.3, 0.4}}}},
	}
	c, err := collection.Open(dir)
	require.NoError(t, err)
	require.NoError(t, c.SaveMarks(p.SHA256, p.Name, drawn[1:]))
	refused("no areas are drawn on "+from, from, to)
	require.NoError(t, c.SaveMarks(p.SHA256, p.Name, drawn))
	refused("the same photo", from, from)
	refused("plant 23", from, other)
	refused("no photo is called nowhere.jpg", from, "nowhere.jpg")

	code, out, errs := inProcess("marks", "copy", from, q.SHA256, "--collection", dir)
	require.Zero(t, code, errs)
	assert.Contains(t, out, to+" now has 1 area of "+from)
	c, err = collection.Open(dir)
	require.NoError(t, err)
	assert.Len(t, c.MarksFor(p.SHA256), 2, "where they were")
	assert.Empty(t, c.MarksFor(before[other].SHA256))
	got := c.MarksFor(q.SHA256)
	require.Len(t, got, 1, "the line is not copied")
	assert.Equal(t, collection.MarkLeaveOut, got[0].What)
	assert.Contains(t, got[0].Note, from)
	require.Len(t, got[0].Rings, 2, "with its hole")
	onCard := func(p record.Photo, at [2]float64) geom.PX { // in mm
		toPx, ok := pipeline.CardToPx(&p)
		require.True(t, ok)
		inv, err := toPx.Inv()
		require.NoError(t, err)
		x, y, ok := inv.Project(at[0]*float64(p.WidthPx)-0.5, at[1]*float64(p.HeightPx)-0.5)
		require.True(t, ok)
		return geom.PX{X: x, Y: y}
	}
	moved := 0.0
	for i, ring := range got[0].Rings {
		require.Len(t, ring, 5)
		for j, at := range ring {
			a, b := onCard(p, drawn[0].Rings[i][j]), onCard(q, at)
			if at[0] > 0 && at[1] > 0 { // not put on the photo's edge
				assert.InDelta(t, a.X, b.X, 0.1)
				assert.InDelta(t, a.Y, b.Y, 0.1)
			}
			moved = max(moved, at[0]-drawn[0].Rings[i][j][0], drawn[0].Rings[i][j][0]-at[0])
		}
	}
	assert.Greater(t, moved, 0.002, "the camera stood elsewhere: in the frame the place is another")

	code, out, errs = inProcess("marks", "copy", from, to, "--collection", dir)
	require.Zero(t, code, errs)
	assert.Contains(t, out, "has them already")
	c, err = collection.Open(dir)
	require.NoError(t, err)
	assert.Len(t, c.MarksFor(q.SHA256), 1)

	after := run()
	area := func(p record.Photo) float64 { v, _ := p.Find(record.LeafArea); return v.Value }
	assert.Less(t, area(after[to]), 0.9*area(before[to]), "measured with it")
	assert.Equal(t, area(before[other]), area(after[other]))
	left, err := os.ReadDir(filepath.Join(dir, "marks"))
	require.NoError(t, err)
	assert.Len(t, left, 2)
}
