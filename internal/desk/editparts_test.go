package desk

import (
	"net/url"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/collection"
)

// Lines of parts.csv and counts.csv are changed on the desk; an entry that is refused, of these or of events and plants, stands in
// its form as it was typed, with the reason beside its field, and nothing is written.
func TestPartsAndCountsAreEditedAndRefusedEntriesKept(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "bench")
	_, err := collection.Init(dir)
	require.NoError(t, err)
	for _, f := range []string{"plants", "events", "parts", "counts"} {
		copyFile(t, "../../samples/parts/"+f+".csv", filepath.Join(dir, f+".csv"))
	}
	b := serveDir(t, dir, false)
	_, page := b.get(t, "/plant/53")
	assert.Contains(t, page, `href="/parts/edit?plant=53&part=spike%202"`)
	part := url.Values{"version": {b.version(t, "parts.csv")}, "plant": {"53"}, "part": {"spike 2"}, "back": {"53"}, "kind": {"spike"}, "name": {"the late one"}, "from": {"2026-06-13"}, "until": {""}, "note": {""}}
	code, page := b.post(t, "/parts/edit", part)
	require.Equal(t, 200, code, page)
	assert.Contains(t, b.file(t, "parts.csv"), "53,spike 2,spike,the late one,2026-06-13,,\n")
	parts := b.file(t, "parts.csv")
	part.Set("version", b.version(t, "parts.csv"))
	part.Set("until", "30 or so")
	part.Set("note", "cut for the vase")
	code, page = b.post(t, "/parts/edit", part)
	assert.Equal(t, 422, code)
	assert.Contains(t, page, `value="cut for the vase"`)
	assert.Regexp(t, `name="until" value="30 or so"><span class="wrong" role="alert">.*30 or so.* is not a date`, page)
	assert.Equal(t, parts, b.file(t, "parts.csv"))

	counts := b.file(t, "counts.csv")
	code, page = b.post(t, "/counts", url.Values{"plant": {"53"}, "date": {"2026-08-08"}, "what": {"buds"}, "count": {"-3"}, "note": {"in the evening"}})
	assert.Equal(t, 422, code)
	assert.Contains(t, page, `value="in the evening"`)
	assert.Regexp(t, `name="count" inputmode="numeric" value="-3" required><span class="wrong"`, page)
	assert.Equal(t, counts, b.file(t, "counts.csv"))
	code, page = b.post(t, "/counts", url.Values{"plant": {"53"}, "date": {"2026-08-08"}, "what": {"buds"}, "count": {"3"}})
	require.Equal(t, 200, code, page)
	assert.Contains(t, page, "8 August 2026: 3 buds")
	assert.Contains(t, b.file(t, "counts.csv"), "2026-08-08,53,buds,3,\n")

	plants := b.file(t, "plants.csv")
	code, page = b.post(t, "/plants/edit", url.Values{"version": {b.version(t, "plants.csv")}, "number": {"53"}, "name": {"Cattleya of spring"}, "pot_top": {"a hundred"}})
	assert.Equal(t, 422, code)
	assert.Contains(t, page, `value="Cattleya of spring"`)
	assert.Contains(t, page, `value="a hundred"`)
	assert.Contains(t, page, "three sizes in mm")
	assert.Equal(t, plants, b.file(t, "plants.csv"))
	code, page = b.post(t, "/events/edit", url.Values{"version": {b.version(t, "events.csv")}, "line": {"2"}, "date": {"soon"}, "plants": {"52"}, "event": {"repot"}, "note": {"typed with care"}})
	assert.Equal(t, 422, code)
	assert.Contains(t, page, `value="typed with care"`)
	assert.Regexp(t, `name="date" value="soon" required><span class="wrong"`, page)
}
