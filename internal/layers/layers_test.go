package layers

import (
	"fmt"
	"maps"
	"os"
	"os/exec"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/golden"
)

// row is a line of layers.tsv.
type row struct {
	packages []string
	owns     string
}

func rows(t *testing.T) (out []row) {
	t.Helper()
	data, err := os.ReadFile("layers.tsv")
	require.NoError(t, err)
	for line := range strings.Lines(string(data)) {
		if names, owns, ok := strings.Cut(strings.TrimSpace(line), "\t"); ok && !strings.HasPrefix(line, "#") {
			out = append(out, row{strings.Split(names, ", "), owns})
		}
	}
	return out
}

// imports are what each package of ours imports of ours, tests left out, as the go command lists them.
func imports(t *testing.T) map[string][]string {
	t.Helper()
	cmd := exec.Command("go", "list", "-f", `{{.ImportPath}} {{join .Imports " "}}`, "./cmd/...", "./internal/...")
	cmd.Dir = "../.."
	text, err := cmd.Output()
	require.NoError(t, err)
	out := map[string][]string{}
	for line := range strings.Lines(string(text)) {
		words := strings.Fields(line)
		p := strings.TrimPrefix(words[0], "phototrack/")
		out[p] = nil
		for _, q := range words[1:] {
			if q, ok := strings.CutPrefix(q, "phototrack/"); ok {
				out[p] = append(out[p], q)
			}
		}
	}
	require.Greater(t, len(out), 40)
	return out
}

func TestImportsPointDown(t *testing.T) {
	table, list := rows(t), imports(t)
	at := map[string]int{}
	for i, r := range table {
		for _, p := range r.packages {
			assert.NotContains(t, at, p, "it stands in the table twice")
			at[p] = i
			assert.Contains(t, list, p, "it stands in layers.tsv and is no package any more")
		}
		assert.NotEmpty(t, r.owns, r.packages)
	}
	for _, p := range slices.Sorted(maps.Keys(list)) {
		i, ok := at[p]
		if !assert.True(t, ok, "%s is not in layers.tsv: put it above all that it imports, with what it owns", p) {
			continue
		}
		for _, q := range list[p] {
			assert.GreaterOrEqual(t, at[q], i, "%s imports %s, which stands above it in layers.tsv", p, q)
		}
	}
}

const guide, begin, end = "../../DEVELOPERS.md", "<!-- layers:begin -->\n", "<!-- layers:end -->"

func TestTheGuidesTableIsTheTable(t *testing.T) {
	data, err := os.ReadFile(guide)
	require.NoError(t, err)
	before, rest, ok := strings.Cut(string(data), begin)
	require.True(t, ok, begin)
	shown, after, ok := strings.Cut(rest, end)
	require.True(t, ok, end)
	want := written(rows(t), imports(t))
	if golden.Update() {
		require.NoError(t, os.WriteFile(guide, []byte(before+begin+want+end+after), 0o644))
		return
	}
	assert.Equal(t, want, shown, "write it anew with: go test ./internal/layers -update")
}

// written is the table as the guide shows it, the packages in the order of the layers.
func written(table []row, list map[string][]string) string {
	var b strings.Builder
	b.WriteString("| package | owns | imports of ours |\n| --- | --- | --- |\n")
	for _, r := range table {
		of := map[string]bool{}
		for _, p := range r.packages {
			for _, q := range list[p] {
				if !slices.Contains(r.packages, q) {
					of[strings.TrimPrefix(q, "internal/")] = true
				}
			}
		}
		names := "none"
		switch {
		case strings.HasPrefix(r.packages[0], "cmd/"):
			names = "nearly everything"
		case len(of) > 0:
			names = strings.Join(slices.Sorted(maps.Keys(of)), ", ")
		}
		fmt.Fprintf(&b, "| `%s` | %s | %s |\n", strings.Join(r.packages, "`, `"), r.owns, names)
	}
	return b.String()
}
