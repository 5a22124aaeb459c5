//go:build amd64

package collection

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/killtest"
	"phototrack/internal/record"
)

// The test program changes a line of events.csv in the collection that editorEnv names, or adds one to that which adderEnv
// names.
const (
	editorEnv = "PHOTOTRACK_TEST_EDITOR"
	adderEnv  = "PHOTOTRACK_TEST_ADDER"
)

func TestMain(m *testing.M) {
	part := func(dir string, f func(c *Collection) error) {
		c, lock, err := OpenToWrite(dir)
		if err == nil {
			err = f(c)
			lock.Close()
		}
		if err != nil {
			fmt.Println(err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	if dir := os.Getenv(editorEnv); dir != "" {
		part(dir, func(c *Collection) error {
			kind := "repot"
			return c.ChangeEvents(c.Version(EventsFile), []int{2, 3}, EventChange{Kind: &kind}, "a test")
		})
	}
	if dir := os.Getenv(adderEnv); dir != "" {
		part(dir, func(c *Collection) error {
			_, err := c.AppendEvent("2026-05-03", "12", "move", "ours", record.Pot{})
			return err
		})
	}
	os.Exit(m.Run())
}

// An edit that is cut off before any of its changes on the disk is, when the collection is opened next, there with its
// record or not there at all, and nothing is left lying about.
func TestAnEditKilledAtEverySystemCall(t *testing.T) {
	plain := newCollection(t, map[string]string{PlantsFile: "number\n12\n", EventsFile: "date,plant,event\n2026-05-01,12,feed\n2026-05-02,12,feed\n"})
	edit := func(n int) (*Collection, []string, bool) {
		dir := filepath.Join(t.TempDir(), "bench")
		require.NoError(t, os.CopyFS(dir, os.DirFS(plain.Dir)))
		cmd := exec.Command(os.Args[0])
		cmd.Env = append(os.Environ(), editorEnv+"="+dir)
		calls, killed, err := killtest.Run(cmd, dir, n)
		require.NoError(t, err)
		c, lock, err := OpenToWrite(dir)
		require.NoError(t, err, "killed before change %d", n)
		lock.Close()
		return c, calls, killed
	}
	_, calls, killed := edit(0)
	require.False(t, killed)
	require.Greater(t, len(calls), 15)
	outcomes := map[string]int{}
	for n := 1; n <= len(calls); n++ {
		c, _, killed := edit(n)
		require.True(t, killed, "change %d", n)
		at := fmt.Sprintf("killed before change %d of %d, a %s", n, len(calls), calls[n-1])
		require.Len(t, c.EventLines, 2, at)
		kinds := c.EventLines[0].Kind + " " + c.EventLines[1].Kind
		switch len(c.Corrections) {
		case 0:
			assert.Equal(t, "feed feed", kinds, at)
		case 2:
			assert.Equal(t, "repot repot", kinds, at)
		default:
			assert.Fail(t, "half a record", at)
		}
		outcomes[kinds]++
		left, err := filepath.Glob(c.Path(".phototrack-*"))
		require.NoError(t, err)
		assert.Empty(t, left, at)
	}
	assert.Len(t, outcomes, 2, "both outcomes were met")
	t.Logf("%d places (%v): %v", len(calls), calls, outcomes)
}

// spreadsheet loads a list and saves it with one more line, into the file as it lies there or by putting another in its place.
func spreadsheet(t *testing.T, path string, inPlace bool) {
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	data = append(data, "2026-05-04,12,feed,theirs\n"...)
	if inPlace {
		require.NoError(t, os.WriteFile(path, data, 0o644))
		return
	}
	require.NoError(t, os.WriteFile(path+".saving", data, 0o644))
	require.NoError(t, os.Rename(path+".saving", path))
}

// A spreadsheet that saves a list at any moment at which the program is about to change something, while a line is added or
// lines are changed: what it saved is there in the end, and so is what was added; a change is whole or not there.
func TestASpreadsheetSavesAtEveryMoment(t *testing.T) {
	plain := newCollection(t, map[string]string{PlantsFile: "number\n12\n", EventsFile: "date,plant,event,note\n2026-05-01,12,feed,\n2026-05-02,12,feed,\n"})
	for _, env := range []string{adderEnv, editorEnv} {
		for _, inPlace := range []bool{false, true} {
			moments, done, step := 0, 0, 1
			if env == editorEnv && os.Getenv("PHOTOTRACK_TORTURE") == "" {
				step = 5
			}
			for n := 1; ; n += step {
				dir := filepath.Join(t.TempDir(), "bench")
				require.NoError(t, os.CopyFS(dir, os.DirFS(plain.Dir)))
				cmd := exec.Command(os.Args[0])
				cmd.Env = append(os.Environ(), env+"="+dir)
				path := filepath.Join(dir, EventsFile)
				calls, met, exit, err := killtest.Meanwhile(cmd, dir, n, func() { spreadsheet(t, path, inPlace) })
				require.NoError(t, err)
				if !met {
					break
				}
				moments++
				at := fmt.Sprintf("%s, saved before change %d, a %s, in place: %v", env, n, calls[n-1], inPlace)
				c, err := Open(dir)
				require.NoError(t, err, at)
				kinds := ""
				notes := map[string]int{}
				for _, e := range c.EventLines {
					kinds += e.Kind + " "
					notes[e.Note]++
				}
				assert.Equal(t, 1, notes["theirs"], at)
				if env == adderEnv {
					assert.Zero(t, exit, at)
					assert.Equal(t, 1, notes["ours"], at)
					assert.Len(t, c.EventLines, 4, at)
					done++
				} else if exit == 0 {
					assert.Equal(t, "repot repot feed ", kinds, at)
					assert.Len(t, c.Corrections, 2, at)
					done++
				} else {
					assert.Equal(t, "feed feed feed ", kinds, at)
					assert.Empty(t, c.Corrections, at)
				}
				left, err := filepath.Glob(c.Path(".phototrack-*"))
				require.NoError(t, err)
				assert.Empty(t, left, at)
			}
			assert.GreaterOrEqual(t, moments, 9)
			assert.Positive(t, done)
			t.Logf("%s, in place %v: saved at %d moments, %d times both", env, inPlace, moments, done)
		}
	}
}
