package desk

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/collection"
	"phototrack/internal/record"
)

// Of a root photo the stretches in doubt are asked about, the longest first; the answer is a dot on the stretch.
func TestStretchesInDoubt(t *testing.T) {
	line := func(kind string, x, y, long float64) record.Outline {
		o := record.Outline{Kind: kind}
		for k := range 11 {
			o.Points = append(o.Points, record.Point{X: x, Y: y + long*float64(k)/10})
		}
		return o
	}
	p := &record.Photo{View: record.Root, WidthPx: 1000, HeightPx: 800, Outlines: []record.Outline{line("root", 100, 100, 300), line("root_doubt", 200, 100, 60), line("root_doubt", 300, 100, 200), line("root_doubt", 400, 100, 10)}}
	list := placesOf(&collection.Collection{}, nil, p)
	require.Len(t, list, 2, "what is shorter than 4 mm is not asked about")
	assert.InDelta(t, .3, list[0].At[0], .001)
	assert.InDelta(t, .25, list[0].At[1], .001)
	assert.Len(t, list[0].Line, 11)
	for _, k := range list {
		assert.True(t, within(k.Rings, k.At))
		assert.NoError(t, collection.Mark{What: collection.MarkKeep, Rings: k.Rings}.Check())
		assert.Less(t, k.Rings[0][1][0]-k.Rings[0][0][0], .008, "small enough to be taken as a word on a stretch")
	}
}

// A click on a root asks whether it is one; the answer takes its length away, and undoing gives it back.
func TestARootIsClickedAway(t *testing.T) {
	const name = "031_2026-06_R.jpg"
	b := serve(t, name)
	w := openBrowser(t, b)
	w.open(t, "/photo/"+b.sha(t, name))
	full := b.value(t, name, record.RootLength)
	before := eval[string](t, w, areaShown)
	d := b.drawingOf(t, name)
	asked := len(d.Places)
	var root record.Outline
	for _, o := range d.Outlines {
		if o.Kind == "root" && len(o.Points) > len(root.Points) {
			root = o
		}
	}
	require.NotEmpty(t, root.Points)
	at := root.Points[len(root.Points)/2]
	w.drag(t, [][2]float64{{(at.X + .5) / float64(d.Width), (at.Y + .5) / float64(d.Height)}})
	require.Equal(t, asked+1, eval[int](t, w, `document.querySelectorAll("#placelist > li").length`))
	w.shoot(t, "root-clicked")
	w.click(t, `#placelist li.now button[aria-label$=": not root"]`)
	w.measured(t, before)
	assert.Less(t, b.value(t, name, record.RootLength), full-20)
	said := eval[string](t, w, areaShown)
	w.shoot(t, "root-said")
	w.click(t, "#undo")
	w.measured(t, said)
	assert.Equal(t, full, b.value(t, name, record.RootLength))
	w.Quiet(t)
}
