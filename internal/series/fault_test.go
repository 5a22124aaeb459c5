package series

import (
	"bufio"
	"database/sql"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/fsx"
	"phototrack/internal/reftest"
)

// writerEnv makes the test program a writer that never ends by itself.
const writerEnv = "PHOTOTRACK_TEST_WRITER"

func TestMain(m *testing.M) {
	if path := os.Getenv(writerEnv); path != "" {
		writeForEver(path)
	}
	os.Exit(m.Run())
}

// writeForEver stores photos with real amounts of pictures and says which ones Put has acknowledged.
func writeForEver(path string) {
	s, err := Open(path)
	if err != nil {
		fmt.Println("error", err)
		os.Exit(3)
	}
	picture := make([]byte, 300_000)
	for i := 0; ; i++ {
		p := benchPhoto(i % 200)
		p.SettingsKey = fmt.Sprint("key ", i/200)
		p.Pictures = map[string][]byte{"plain": picture, "overlay": picture}
		if err := s.Put(ctx, p); err != nil {
			fmt.Println("error", err)
			os.Exit(3)
		}
		fmt.Println("stored", p.SHA256)
	}
}

func TestKilledWritersLoseNothingThatWasAcknowledged(t *testing.T) {
	path := filepath.Join(t.TempDir(), "phototrack.db")
	acknowledged := map[string]bool{}
	r := rand.New(rand.NewPCG(7, 7))
	for round := range 8 {
		cmd := exec.Command(os.Args[0])
		cmd.Env = append(os.Environ(), writerEnv+"="+path)
		out, err := cmd.StdoutPipe()
		require.NoError(t, err)
		require.NoError(t, cmd.Start())
		// Every other writer is killed at any moment, the rest some time after they stored a few photos, however slow the machine is.
		wait, few := time.Duration(100+r.IntN(400))*time.Millisecond, 0
		started := wait
		if round%2 == 1 {
			started, few = 5*time.Minute, round+1
		}
		kill := time.AfterFunc(started, func() { cmd.Process.Kill() })
		for lines := bufio.NewScanner(out); lines.Scan(); {
			if few--; few == 0 {
				kill.Reset(wait)
			}
			word, sha, _ := strings.Cut(lines.Text(), " ")
			require.Equal(t, "stored", word, lines.Text())
			acknowledged[sha] = true
		}
		kill.Stop()
		cmd.Wait()

		s, err := Open(path)
		require.NoError(t, err)
		found, err := s.Check(ctx)
		require.NoError(t, err)
		assert.True(t, found.Empty(), found.First())
		all, err := s.All(ctx)
		require.NoError(t, err)
		stored := map[string]bool{}
		for _, p := range all {
			stored[p.SHA256] = true
			pictures, err := s.Pictures(ctx, p.SHA256)
			require.NoError(t, err)
			assert.Len(t, pictures, 2, "a photo is there whole or not at all")
			assert.Len(t, p.Quantities, 25)
		}
		for sha := range acknowledged {
			assert.True(t, stored[sha], "an acknowledged photo is missing")
		}
		require.NoError(t, s.Close())
	}
	assert.Greater(t, len(acknowledged), 5, "the writers must have got somewhere for this to mean anything")
}

func TestAFullDiskIsSaidAndLosesNothing(t *testing.T) {
	path := filepath.Join(t.TempDir(), "phototrack.db")
	s, err := open(path, options{migrations: migrations, pragmas: []string{"max_page_count(100)"}}) // 400 kB of disk
	require.NoError(t, err)
	require.NoError(t, s.Put(ctx, benchPhoto(1)))
	big := benchPhoto(2)
	big.Pictures["plain"] = make([]byte, 1<<20)
	err = s.Put(ctx, big)
	require.ErrorIs(t, err, ErrDiskFull)
	assert.Contains(t, fsx.HintOf(err), "space")
	require.NoError(t, s.Close())

	s, err = Open(path)
	require.NoError(t, err)
	defer s.Close()
	all, err := s.All(ctx)
	require.NoError(t, err)
	n, err := s.Count(ctx)
	require.NoError(t, err)
	assert.Equal(t, len(all), n)
	assert.Len(t, all, 1)
	require.NoError(t, s.Put(ctx, big), "with space again it goes on")
}

func TestForeignAndDamagedFilesAreRefused(t *testing.T) {
	dir := t.TempDir()
	text := filepath.Join(dir, "text.db")
	require.NoError(t, os.WriteFile(text, []byte(strings.Repeat("this is a letter, not a database\n", 100)), 0o644))
	before, _ := os.ReadFile(text)
	_, err := Open(text)
	require.ErrorIs(t, err, ErrNotStore)
	assert.NotEmpty(t, fsx.HintOf(err))
	after, _ := os.ReadFile(text)
	assert.Equal(t, before, after, "a file of someone else is not touched")

	other := filepath.Join(dir, "other.db")
	db, err := connect(other, "rwc", nil)
	require.NoError(t, err)
	_, err = db.db.Exec("CREATE TABLE recipes (name TEXT)")
	require.NoError(t, err)
	require.NoError(t, db.Close())
	_, err = Open(other)
	require.ErrorIs(t, err, ErrNotStore)

	_, err = Open(filepath.Join(dir, "no folder", "phototrack.db"))
	require.Error(t, err)
	assert.NotEmpty(t, fsx.HintOf(err))
	_, err = Open(dir)
	require.ErrorIs(t, err, ErrNotStore)
}

// A store that is moved away, deleted or replaced during a run is said at the next photo.
func TestAStoreThatVanishesIsSaid(t *testing.T) {
	for _, away := range []func(path string){
		func(path string) { os.Remove(path) },
		func(path string) { os.Rename(path, path+".away") },
		func(path string) { os.Rename(path, path+".away"); os.WriteFile(path, []byte("something else"), 0o644) },
	} {
		path := filepath.Join(t.TempDir(), "phototrack.db")
		s, err := Open(path)
		require.NoError(t, err)
		require.NoError(t, s.Put(ctx, benchPhoto(1)))
		away(path)
		err = s.Put(ctx, benchPhoto(2))
		require.ErrorIs(t, err, ErrVanished)
		assert.Contains(t, fsx.HintOf(err), "backup")
		s.Close()
	}
}

func TestBackupAndRestore(t *testing.T) {
	dir := t.TempDir()
	path, backup := filepath.Join(dir, "phototrack.db"), filepath.Join(dir, "march.backup")
	s, err := Open(path)
	require.NoError(t, err)
	require.NoError(t, s.Put(ctx, benchPhoto(1)))
	require.NoError(t, s.Backup(ctx, backup))
	require.ErrorIs(t, s.Backup(ctx, backup), os.ErrExist, "a backup is never overwritten")
	require.NoError(t, s.Put(ctx, benchPhoto(2)))
	require.NoError(t, s.Close())

	kept, err := Restore(ctx, backup, path)
	require.NoError(t, err)
	count := func(file string) int {
		s, err := OpenReader(file)
		require.NoError(t, err)
		defer s.Close()
		all, err := s.All(ctx)
		require.NoError(t, err)
		return len(all)
	}
	assert.Equal(t, 1, count(path))
	assert.Equal(t, 2, count(kept), "what was there is kept")
	assert.Equal(t, 1, count(backup))

	data, err := os.ReadFile(backup)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(backup, data[:len(data)/2], 0o644))
	_, err = Restore(ctx, backup, path)
	require.Error(t, err, "half a backup is not restored")
	assert.Equal(t, 1, count(path))
	_, err = Restore(ctx, filepath.Join(dir, "none"), path)
	require.Error(t, err)
	left, err := filepath.Glob(filepath.Join(dir, ".phototrack-*"))
	require.NoError(t, err)
	assert.Empty(t, left)
}

func TestUpgradeKeepsACopyAndNewerStoresAreRefused(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "phototrack.db")
	s, err := Open(path)
	require.NoError(t, err)
	require.NoError(t, s.Put(ctx, benchPhoto(1)))
	require.NoError(t, s.Close())

	broken := append(slices.Clone(migrations), step{sql: "ALTER TABLE photos ADD COLUMN x TEXT; SELECT * FROM no_such_table"})
	_, err = open(path, options{migrations: broken})
	require.Error(t, err)
	s, err = Open(path)
	require.NoError(t, err, "a step that fails leaves the old schema")
	require.NoError(t, s.Close())

	next := append(slices.Clone(migrations), step{sql: "ALTER TABLE photos ADD COLUMN card TEXT NOT NULL DEFAULT ''"})
	s, err = open(path, options{migrations: next})
	require.NoError(t, err)
	all, err := s.All(ctx)
	require.NoError(t, err)
	assert.Len(t, all, 1)
	require.NoError(t, s.Close())
	copies, err := filepath.Glob(fmt.Sprintf("%s.schema%d-*", path, len(migrations)))
	require.NoError(t, err)
	require.NotEmpty(t, copies)
	old, err := OpenReader(copies[len(copies)-1])
	require.NoError(t, err)
	defer old.Close()
	all, err = old.All(ctx)
	require.NoError(t, err)
	assert.Len(t, all, 1)

	_, err = Open(path)
	require.ErrorIs(t, err, ErrNewer)
	_, err = OpenReader(path)
	require.ErrorIs(t, err, ErrNewer)
}

func TestTwentyThousandPhotosAreReadQuickly(t *testing.T) {
	if testing.Short() {
		t.Skip("20,000 photos")
	}
	path := filepath.Join(t.TempDir(), "phototrack.db")
	s, err := open(path, options{migrations: migrations, pragmas: []string{"synchronous(OFF)"}})
	require.NoError(t, err)
	defer s.Close()
	n := 20000
	if reftest.RaceDetector {
		n = 2000 // a minute less
	}
	// All in one transaction: storing this many one by one would take minutes.
	first := time.Date(2020, 1, 1, 12, 0, 0, 0, time.UTC)
	require.NoError(t, s.write(ctx, func(tx *sql.Tx) error {
		p := benchPhoto(0)
		quantities := encodeQuantities(p.Quantities)
		w := txWriter{ctx: ctx, tx: tx}
		for i := range n {
			p.SHA256, p.Plant, p.Taken.Time = fmt.Sprintf("%064x", i), i%70, first.AddDate(0, 0, i%900)
			doc, err := encodeHead(p)
			require.NoError(t, err)
			r := row{sha: p.SHA256, doc: doc, quantities: quantities}
			w.exec("INSERT INTO photos VALUES (?, 1, '')", r.sha)
			w.exec("INSERT INTO measurements (sha256, name, plant, view, day, status, settings_key, measured_at, doc, quantities, sum) VALUES (?, ?, ?, ?, ?, ?, '', '', ?, ?, ?)",
				p.SHA256, p.Name, p.Plant, string(p.View), p.Taken.Day(), string(p.Status), string(r.doc), r.quantities, r.wanted())
		}
		return w.err
	}))
	start := time.Now()
	all, err := s.All(ctx)
	took := time.Since(start)
	require.NoError(t, err)
	require.Len(t, all, n)
	t.Logf("All of %d photos: %v", n, took)
	assert.Less(t, took, reftest.Patience(4*time.Second), "2 s is the aim on an idle machine")
}

func FuzzDecodeQuantities(f *testing.F) {
	f.Add(encodeQuantities(nil))
	f.Add(encodeQuantities(benchPhoto(1).Quantities[:2]))
	f.Fuzz(func(t *testing.T, data []byte) {
		list, err := decodeQuantities(data)
		if err != nil {
			if list != nil {
				t.Fatal("an error and a result")
			}
			return
		}
		again, err := decodeQuantities(encodeQuantities(list))
		if err != nil || len(again) != len(list) {
			t.Fatalf("what was read does not write back: %v", err)
		}
	})
}
