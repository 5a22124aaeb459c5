package report

import (
	"image"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/record"
)

func TestPortraitIsOfThePlant(t *testing.T) {
	picture := image.Rect(0, 0, 1200, 900) // of a photo of 4000 x 3000
	leaf := record.Outline{Kind: "leaf", Closed: true, Points: []record.Point{{X: 400, Y: 1000}, {X: 1400, Y: 1000}, {X: 900, Y: 1800}}}
	card := record.Outline{Kind: "card", Closed: true, Points: []record.Point{{X: 2500, Y: 500}, {X: 3900, Y: 500}, {X: 3900, Y: 2000}}}
	p := &record.Photo{SHA256: "a", WidthPx: 4000, HeightPx: 3000, Outlines: []record.Outline{card, leaf}}
	box := subject(p, picture)
	assert.Equal(t, box.Dx(), box.Dy(), "a square")
	assert.True(t, image.Rect(120, 300, 420, 540).In(box), "all of the leaf is in it")
	assert.Less(t, box.Max.X, 750, "the card is not")

	bare := &record.Photo{SHA256: "a", WidthPx: 4000, HeightPx: 3000}
	assert.Equal(t, image.Rect(150, 0, 1050, 900), subject(bare, picture), "the middle, where nothing is known")
	pics := newPictures(nil, 1)
	pics.whole = func(string) (record.Photo, bool) { return *p, true }
	require.Len(t, pics.outlined(bare).Outlines, 2, "outlines are fetched where the list lacks them")
	pics.whole = func(string) (record.Photo, bool) { return record.Photo{SHA256: "b"}, true }
	assert.Same(t, bare, pics.outlined(bare), "another photo's outlines are not taken")
}

func TestPicturesShrinkWithTheirNumber(t *testing.T) {
	few, many := newPictures(nil, 12).width, newPictures(nil, 400).width
	assert.Equal(t, 760, few)
	assert.Less(t, many, few)
	assert.GreaterOrEqual(t, many, 300)
}
