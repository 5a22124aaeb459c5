package desk

import (
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/collection"
)

// An empty collection leads to the page on how to begin, and from there to the card, the plants and their tags.
func TestTheBeginningOfACollection(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "Phototrack")
	_, err := collection.Init(dir)
	require.NoError(t, err)
	b := serveDir(t, dir, false)

	code, page := b.get(t, "/")
	assert.Equal(t, 200, code)
	assert.Contains(t, page, `href="/start"`)
	code, page = b.get(t, "/start")
	assert.Equal(t, 200, code)
	assert.Contains(t, page, dir)
	assert.Contains(t, page, `href="/print/card-letter.pdf"`)
	assert.NotContains(t, page, "/print/tags", "nobody to print tags for yet")

	code, pdf := b.get(t, "/print/card-a4.pdf")
	assert.Equal(t, 200, code)
	assert.True(t, strings.HasPrefix(pdf, "%PDF-"))
	for path, want := range map[string]int{"/print/tags-a4.pdf": 422, "/print/card-a0.pdf": 404, "/print/secret-a4.pdf": 404} {
		code, _ = b.get(t, path)
		assert.Equal(t, want, code, path)
	}
}

func TestTagsAreForTheListedPlants(t *testing.T) {
	b := serve(t)
	_, page := b.get(t, "/start")
	assert.Contains(t, page, `href="/print/tags-a4.pdf"`)
	_, few := b.get(t, "/print/tags-a4.pdf")
	assert.True(t, strings.HasPrefix(few, "%PDF-"))
}
