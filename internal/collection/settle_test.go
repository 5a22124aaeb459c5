package collection

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/fsx"
)

// cutOffEdit leaves a collection as a change of events.csv leaves it that was cut off after its first file.
func cutOffEdit(t *testing.T) *Collection {
	t.Helper()
	c := newCollection(t, map[string]string{PlantsFile: "number\n12\n", EventsFile: "date,plant,event\n2026-05-01,12,feed\n"})
	events, corrections := read(t, c, EventsFile), read(t, c, CorrectionsFile)
	later := strings.ReplaceAll(events, "feed", "repot")
	require.NoError(t, os.WriteFile(c.Path(".phototrack-0-a.tmp"), []byte(events), 0o644)) // the names were exchanged
	require.NoError(t, os.WriteFile(c.Path(".phototrack-0-b.tmp"), []byte(corrections+"2026-05-02T10:00:00Z,,event_line,\"date=2026-05-01,plant=12,event=feed\",\"date=2026-05-01,plant=12,event=repot\",\n"), 0o644))
	require.NoError(t, os.WriteFile(c.Path(".phototrack-0-c.tmp"), []byte(events), 0o644))
	require.NoError(t, os.WriteFile(c.Path(EventsFile), []byte(later), 0o644))
	fresh := read(t, c, ".phototrack-0-b.tmp")
	journal := fmt.Sprintf(`{"What":"a change of events.csv","Replace":[{"To":"events.csv","Fresh":".phototrack-0-a.tmp","Former":".phototrack-0-c.tmp","Old":%q,"New":%q},{"To":"corrections.csv","Fresh":".phototrack-0-b.tmp","Old":%q,"New":%q}]}`,
		hash(events), hash(later), hash(corrections), hash(fresh))
	require.NoError(t, os.WriteFile(c.Path(fsx.JournalFile), []byte(journal), 0o644))
	return c
}

func read(t *testing.T, c *Collection, name string) string {
	t.Helper()
	data, err := os.ReadFile(c.Path(name))
	require.NoError(t, err)
	return string(data)
}

func hash(text string) string {
	dir, err := os.MkdirTemp("", "hash")
	if err != nil {
		panic(err)
	}
	defer os.RemoveAll(dir)
	path := filepath.Join(dir, "f")
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		panic(err)
	}
	sum, err := HashFile(path)
	if err != nil {
		panic(err)
	}
	return sum
}

func TestAnEditThatWasCutOffIsFinishedWhenTheCollectionIsOpened(t *testing.T) {
	c := cutOffEdit(t)
	as, err := OpenAsIs(c.Dir)
	require.NoError(t, err)
	assert.Empty(t, as.Corrections, "a look leaves it as it is")
	assert.Equal(t, "a change of events.csv", fsx.Interrupted(c.Dir))

	c, err = Open(c.Dir)
	require.NoError(t, err)
	assert.Equal(t, "repot", c.EventLines[0].Kind)
	require.Len(t, c.Corrections, 1, "what was changed is on record")
	require.Len(t, c.Settled, 1)
	assert.Contains(t, c.Settled[0], "A change of events.csv had been cut off")
	left, err := filepath.Glob(c.Path(".phototrack-*"))
	require.NoError(t, err)
	assert.Empty(t, left)
	c, err = Open(c.Dir)
	require.NoError(t, err)
	assert.Empty(t, c.Settled, "it is said once")
}

func TestAnEditThatWasCutOffIsTakenBackWhereTheFileWasSavedSince(t *testing.T) {
	c := cutOffEdit(t)
	require.NoError(t, os.WriteFile(c.Path(CorrectionsFile), []byte("time,photo,field,old,new,reason\n2026-05-02,x,exclude,,yes,mine\n"), 0o644))
	c, lock, err := OpenToWrite(c.Dir)
	require.NoError(t, err)
	defer lock.Close()
	assert.Equal(t, "feed", c.EventLines[0].Kind, "no changed line without a record")
	require.Len(t, c.Corrections, 1)
	assert.Equal(t, "mine", c.Corrections[0].Reason)
	require.Len(t, c.Settled, 1)
	assert.Contains(t, c.Settled[0], "taken back")
}

// The lists are read after the right to write was taken: what another writer put there before is known.
func TestWhatIsWrittenBeforeTheLockIsKnownAfterIt(t *testing.T) {
	c := newCollection(t, map[string]string{PlantsFile: "number\n12\n"})
	var wait sync.WaitGroup
	for i := range 5 {
		wait.Add(1)
		go func() {
			defer wait.Done()
			for {
				c, lock, err := OpenToWrite(c.Dir)
				if err != nil {
					time.Sleep(time.Millisecond) // another one is at it
					continue
				}
				marks := append(c.MarksFor(hashA), Mark{What: MarkKeep, Note: fmt.Sprint(i), Rings: [][][2]float64{{{0, 0}, {1, 0}, {1, 1}, {0, 0}}}})
				assert.NoError(t, c.SaveMarks(hashA, "a.jpg", marks))
				lock.Close()
				return
			}
		}()
	}
	wait.Wait()
	require.NoError(t, c.Reload())
	assert.Len(t, c.MarksFor(hashA), 5, "no writer has overwritten another's marks")
}

func TestAChangeAndItsRecordWhileASpreadsheetSavesTheRecord(t *testing.T) {
	c := newCollection(t, map[string]string{PlantsFile: "number\n12\n", EventsFile: "date,plant,event\n2026-05-01,12,feed\n"})
	require.NoError(t, os.WriteFile(c.Path(CorrectionsFile), []byte("time,photo,field,old,new,reason\n2026-05-02,x,exclude,,yes,mine\n"), 0o644)) // after c was read
	kind := "repot"
	require.NoError(t, c.ChangeEvents(c.Version(EventsFile), []int{2}, EventChange{Kind: &kind}, ""))
	assert.Len(t, c.Corrections, 2)
	assert.Equal(t, "repot", c.EventLines[0].Kind)
}

func TestALostStoreIsNotTakenForANewOne(t *testing.T) {
	c := newCollection(t, nil)
	require.NoError(t, c.CheckStore(), "a new collection")
	photo := c.Path(PhotosDir, "2026-05", "x.jpg")
	for name, sign := range map[string]func(){
		"mark": func() { require.NoError(t, c.MarkStore()) },
		"photos": func() {
			require.NoError(t, os.MkdirAll(filepath.Dir(photo), 0o755))
			require.NoError(t, os.WriteFile(photo, nil, 0o644))
		},
		"report": func() { require.NoError(t, os.Mkdir(c.Path(ReportsDir, "2026-05"), 0o755)) },
	} {
		sign()
		require.ErrorIs(t, c.CheckStore(), ErrStoreLost, name)
		assert.Contains(t, fsx.HintOf(c.CheckStore()), "restore")
		assert.Contains(t, fsx.HintOf(c.CheckStore()), "--anew")
		require.NoError(t, os.WriteFile(c.StorePath(), nil, 0o644))
		require.ErrorIs(t, c.CheckStore(), ErrStoreLost, "%s, an empty file", name)
		require.NoError(t, os.WriteFile(c.StorePath(), []byte("x"), 0o644))
		require.NoError(t, c.CheckStore())
		require.NoError(t, os.Remove(c.StorePath()))
		require.NoError(t, os.RemoveAll(c.Path(ReportsDir, "2026-05")))
		require.NoError(t, os.RemoveAll(c.Path(PhotosDir, "2026-05")))
		require.NoError(t, os.RemoveAll(c.Path(StoreMark)))
	}
	require.NoError(t, c.CheckStore())
	require.NoError(t, os.Symlink("nowhere.db", c.StorePath()))
	require.ErrorIs(t, c.CheckStore(), ErrStoreLost, "a link that leads nowhere")
}
