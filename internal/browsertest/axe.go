package browsertest

import (
	_ "embed"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// axePin names axe-core's version and the checksum of its npm package; scripts/install-deps.sh fetches it from there.
//
//go:embed axe.pin
var axePin string

// Axe is the text of axe-core, the examiner of accessibility. It is the file that AXE_CORE names, or the one that
// scripts/install-deps.sh put into the user's cache. Without it the test goes on and NothingSerious looks at nothing, but in
// CI the test fails.
func Axe(t *testing.T) string {
	t.Helper()
	path := os.Getenv("AXE_CORE")
	if path == "" {
		cache, err := os.UserCacheDir()
		require.NoError(t, err)
		name, version, _ := strings.Cut(axePin, " ")
		version, _, _ = strings.Cut(version, " ")
		path = filepath.Join(cache, "phototrack-tests", name+"-"+version, "axe.min.js")
	}
	data, err := os.ReadFile(path)
	switch {
	case err == nil:
		return string(data)
	case os.Getenv("CI") == "true":
		t.Fatalf("axe-core is not installed (scripts/install-deps.sh does it): %v", err)
	}
	t.Logf("axe-core is not installed (scripts/install-deps.sh does it), so accessibility is not examined: %v", err)
	return ""
}

// axeRun gives the serious and critical findings on the page, each with the elements it is about.
const axeRun = `axe.run({resultTypes:["violations"]}).then(r=>r.violations.filter(v=>v.impact==="serious"||v.impact==="critical").map(v=>v.id+": "+v.nodes.map(n=>n.html.slice(0,90)).slice(0,3).join(" | ")))`

// NothingSerious asserts that axe-core, given as its text, finds nothing serious or critical on the page as it is now.
func (b *Browser) NothingSerious(t *testing.T, axe, page string) {
	t.Helper()
	if axe == "" {
		return
	}
	Eval[int](t, b, axe+"; 0")
	assert.Empty(t, Eval[[]string](t, b, axeRun), page)
}
