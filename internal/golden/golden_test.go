package golden

import (
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// told is a test that notes whether it failed.
type told struct {
	testing.TB
	failed bool
}

func (t *told) Errorf(string, ...any) { t.failed = true }

func TestADifferenceFails(t *testing.T) {
	if Update() {
		t.Skip("it compares with a text of its own")
	}
	t.Chdir(t.TempDir())
	require.NoError(t, os.MkdirAll("testdata/golden/a", 0o755))
	require.NoError(t, os.WriteFile("testdata/golden/a/b.txt", []byte("one\n"), 0o644))
	for got, want := range map[string]bool{"one\n": false, "two\n": true, "one": true} {
		x := &told{TB: t}
		Check(x, "a/b.txt", got)
		assert.Equal(t, want, x.failed, got)
	}
}

func TestAPageIsKeptWithoutItsCodeAndPictures(t *testing.T) {
	page := "<head>\n<style>a{\n}</style><script>1</script></head>\n\n\n  <p>Text <b>bold</b></p><p><img src=\"data:image/jpeg;base64,abc/+=\"></p>\n"
	assert.Equal(t, "<head>\n<style>…</style><script>…</script></head>\n<p>Text <b>bold</b></p>\n<p>\n<img src=\"data:image/jpeg;base64,…\"></p>\n", Page(page))
}
