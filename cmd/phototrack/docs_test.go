package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/reftest"
)

// visible gives all commands that people may use, the root first.
func visible(cmd *cobra.Command) []*cobra.Command {
	all := []*cobra.Command{cmd}
	for _, c := range cmd.Commands() {
		if c.IsAvailableCommand() {
			all = append(all, visible(c)...)
		}
	}
	return all
}

func writtenDocs(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	code, _, errs := program(t, "docs", dir)
	require.Zero(t, code, errs)
	return dir
}

// The guide names tests as proof: they must be there.
func TestNamedTestsExist(t *testing.T) {
	guide, err := os.ReadFile("../../DEVELOPERS.md")
	require.NoError(t, err)
	named := regexp.MustCompile(`\bTest[A-Z]\w+`).FindAllString(string(guide), -1)
	require.Greater(t, len(named), 40)
	var tests strings.Builder
	for _, pattern := range []string{"*_test.go", "../../internal/*/*_test.go", "../../internal/*/*/*_test.go"} {
		files, err := filepath.Glob(pattern)
		require.NoError(t, err)
		for _, f := range files {
			data, err := os.ReadFile(f)
			require.NoError(t, err)
			tests.Write(data)
		}
	}
	for _, name := range named {
		assert.Contains(t, tests.String(), "\nfunc "+name+"(", name)
	}
}

func TestManPagesTellOfEveryCommandAndFlag(t *testing.T) {
	dir := filepath.Join(writtenDocs(t), "man")
	first, err := os.ReadFile(filepath.Join(dir, "phototrack.1"))
	require.NoError(t, err)
	commands := visible(newRoot())
	assert.Greater(t, len(commands), 15)
	for _, c := range commands {
		page, err := os.ReadFile(filepath.Join(dir, strings.ReplaceAll(c.CommandPath(), " ", "-")+".1"))
		require.NoError(t, err)
		assert.Contains(t, string(page), c.Short)
		assert.NotContains(t, string(page), "Exit codes:", "they have a section")
		assert.Contains(t, string(page), ".SH EXIT STATUS")
		c.Flags().VisitAll(func(f *pflag.Flag) {
			assert.Contains(t, string(page), strings.ReplaceAll("--"+f.Name, "-", `\-`), c.CommandPath())
			assert.Contains(t, string(page), "\n"+f.Usage+"\n", c.CommandPath())
		})
		if c.HasParent() && !c.Parent().HasParent() {
			assert.Contains(t, string(first), "\n.B "+c.Name()+"\n"+c.Short+"\n")
		}
	}
	pages, err := os.ReadDir(dir)
	require.NoError(t, err)
	assert.Len(t, pages, len(commands), "what is not for people has no page")
}

func TestManPagesAreSoundForMan(t *testing.T) {
	groff := reftest.Tool(t, "groff") // what man formats pages with
	pages, err := filepath.Glob(filepath.Join(writtenDocs(t), "man", "*.1"))
	require.NoError(t, err)
	for _, p := range pages {
		cmd := exec.Command(groff, "-k", "-Tutf8", "-P-cbou", "-man", "-ww", p)
		var errs strings.Builder
		cmd.Stderr = &errs
		out, err := cmd.Output()
		require.NoError(t, err, errs.String())
		assert.Empty(t, errs.String(), filepath.Base(p))
		assert.Contains(t, string(out), "SYNOPSIS")
	}
}

func TestCompletionsAreThereAndKnowEveryCommand(t *testing.T) {
	dir := filepath.Join(writtenDocs(t), "completions")
	for shell, path := range map[string]string{"bash": "bash/phototrack", "zsh": "zsh/_phototrack", "fish": "fish/phototrack.fish"} {
		data, err := os.ReadFile(filepath.Join(dir, path))
		require.NoError(t, err)
		assert.Contains(t, string(data), "__complete", "the shell asks the program")
		if found, err := exec.LookPath(shell); err == nil {
			out, err := exec.Command(found, "-n", filepath.Join(dir, path)).CombinedOutput()
			assert.NoError(t, err, "%s: %s", shell, out)
		}
	}
	code, offered, errs := program(t, "__complete", "")
	require.Zero(t, code, errs)
	for _, c := range newRoot().Commands() {
		line := "\n" + c.Name() + "\t"
		assert.Equal(t, c.IsAvailableCommand(), strings.Contains("\n"+offered, line), c.Name())
	}
}

func TestManPageKeepsExamplesAsLines(t *testing.T) {
	assert.Equal(t, "Words.\n\n    phototrack run\n    phototrack report\n\nMore words.",
		manText("Words.\n  phototrack run\n  phototrack report\nMore words."+exitHelp))
}

// The menu's entry is what the desktops ask for, and starts a command that there is.
func TestTheMenusEntryIsValid(t *testing.T) {
	const path = "../../packaging/phototrack.desktop"
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	_, line, found := strings.Cut(string(data), "\nExec=phototrack ")
	require.True(t, found)
	line, _, _ = strings.Cut(line, "\n")
	cmd, flags, err := newRoot().Find(strings.Fields(line))
	require.NoError(t, err)
	assert.Equal(t, "desk", cmd.Name())
	assert.NoError(t, cmd.ParseFlags(flags))
	out, err := exec.Command(reftest.Tool(t, "desktop-file-validate"), path).CombinedOutput()
	assert.NoError(t, err)
	assert.Empty(t, string(out))
}
