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
)

// editorEnv makes the test program change a line of events.csv in the collection that it names.
const editorEnv = "PHOTOTRACK_TEST_EDITOR"

func TestMain(m *testing.M) {
	if dir := os.Getenv(editorEnv); dir != "" {
		c, lock, err := OpenToWrite(dir)
		if err == nil {
			kind := "repot"
			err = c.ChangeEvents(c.Version(EventsFile), []int{2, 3}, EventChange{Kind: &kind}, "a test")
			lock.Close()
		}
		if err != nil {
			fmt.Println(err)
			os.Exit(1)
		}
		os.Exit(0)
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
