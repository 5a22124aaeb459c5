// Package golden is for tests: it compares a text that the program writes with the file in which it was kept when a person last looked
// it over, testdata/golden/NAME of the tested package. With -update the file is written anew; its difference is then read before it is
// committed.
package golden

import (
	"flag"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var update = flag.Bool("update", false, "write kept files anew; read their difference before you keep them")

// Update says whether kept files are to be written anew.
func Update() bool { return *update }

// Check compares a text with the kept file of that name. The test goes on after a difference, so that one run shows or writes all.
func Check(t testing.TB, name, got string) {
	t.Helper()
	file := filepath.Join("testdata", "golden", filepath.FromSlash(name))
	if *update {
		require.NoError(t, os.MkdirAll(filepath.Dir(file), 0o755))
		require.NoError(t, os.WriteFile(file, []byte(got), 0o644))
	}
	want, err := os.ReadFile(file)
	require.NoError(t, err, "where the file is new, run the test with -update")
	assert.Equal(t, string(want), got, "%s: where this is meant, run the test with -update and read the difference", name)
}

var (
	ownCode = regexp.MustCompile(`(?s)<(style|script)\b[^>]*>.*?</(style|script)>`)
	inlined = regexp.MustCompile(`(data:[a-z]+/[a-z0-9+.-]+;base64,)[A-Za-z0-9+/=]+`)
	blank   = regexp.MustCompile(`[ \t]*\n\s*`)
	block   = regexp.MustCompile(`>\s*(<(?:section|article|table|thead|tbody|tr|th|td|ul|ol|li|p|div|figure|figcaption|details|summary|h[1-6]|nav|header|footer|main|form|label|button|input|select|option|fieldset|legend|textarea|dl|dt|dd|a|img|svg|g|path|line|rect|circle|polyline|polygon|text)\b)`)
)

// Page makes a page fit to be kept: its style sheet and script, which lie in files of their own, and the bytes of pictures are left
// out; an element begins a line, so that a difference shows where it is. It is kept as a text: without those it is no page to look at.
func Page(html string) string {
	html = ownCode.ReplaceAllString(html, "<$1>…</$1>")
	html = inlined.ReplaceAllString(html, "$1…")
	html = blank.ReplaceAllString(html, "\n")
	return strings.TrimSpace(block.ReplaceAllString(html, ">\n$1")) + "\n"
}
