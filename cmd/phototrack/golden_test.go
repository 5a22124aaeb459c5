package main

import (
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"phototrack/internal/drawnshelf"
	"phototrack/internal/golden"
)

// seconds are the times that the program says it took.
var seconds = regexp.MustCompile(`\b\d+\.\d s\b`)

// session runs commands one after the other in a folder and gives what a terminal would show; the folder is named DIR.
func session(t *testing.T, dir string, commands ...string) string {
	t.Helper()
	var b strings.Builder
	for _, c := range commands {
		fmt.Fprintf(&b, "$ phototrack %s\n", c)
		cmd := exec.Command(bin, strings.Fields(c)...)
		cmd.Dir, cmd.Env = dir, append(os.Environ(), "PHOTOTRACK_COLLECTION=")
		cmd.Stdout, cmd.Stderr = &b, &b
		var exit *exec.ExitError
		if err := cmd.Run(); err != nil && !errors.As(err, &exit) {
			t.Fatal(err)
		}
		fmt.Fprintf(&b, "[%d]\n\n", cmd.ProcessState.ExitCode())
	}
	return seconds.ReplaceAllString(strings.ReplaceAll(b.String(), dir, "DIR"), "N s")
}

// TestOutputAsKept compares what the commands say with kept texts: help, a new collection, a drawn one, and what goes wrong.
func TestOutputAsKept(t *testing.T) {
	var help strings.Builder
	for _, c := range visible(newRoot()) {
		fmt.Fprintf(&help, "# %s\n%s\n\n%s\n", c.CommandPath(), c.Long, c.UsageString())
	}
	golden.Check(t, "help.txt", help.String())

	dir, err := filepath.EvalSymlinks(t.TempDir())
	require.NoError(t, err)
	drawnshelf.Make(t, filepath.Join(dir, "shelf"))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "torn.jpg"), []byte("no picture at all"), 0o644))
	begun := session(t, dir, "init bench", "init bench", "run --collection bench", "report --collection bench", "doctor --collection bench")
	drawn := session(t, dir, "report --collection shelf", "report --month 2023-09 --collection shelf", "run --collection shelf", "event 2023-10-20 1,2 feed half_strength --collection shelf",
		"answer 1 leaf_area moved --collection shelf", "round --collection shelf", "export --out tables --collection shelf", "doctor --collection shelf", "backup kept.zip --collection shelf")
	wrong := session(t, dir, "runn", "check", "check nothing.jpg", "check torn.jpg", "run --collection nowhere", "report --month 2023-13 --collection shelf", "report --from 2023-08-01 --collection shelf",
		"plate 7 --collection shelf", "plate 1 --collection shelf", "event soon 1 feed --collection shelf", "event 2023-10-20 7 feed --collection shelf", "answer 2 leaf_area --collection shelf",
		"card --measured 99.4 --collection shelf", "restore nothing.zip --collection shelf", "export --collection shelf", "run --part 3/2 --results out --collection shelf")
	for name, text := range map[string]string{"begun.txt": begun, "drawn.txt": drawn, "wrong.txt": wrong} {
		golden.Check(t, name, text)
	}
}
