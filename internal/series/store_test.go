package series

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"sort"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/fsx"
	"phototrack/internal/gate"
	"phototrack/internal/record"
)

var ctx = context.Background()

func hashOf(i int) string {
	sum := sha256.Sum256([]byte(fmt.Sprint("photo ", i)))
	return hex.EncodeToString(sum[:])
}

// benchPhoto makes a photo as full as a measured one: 25 quantities with 6 terms each.
func benchPhoto(i int) *record.Photo {
	r := rand.New(rand.NewPCG(uint64(i), 1))
	day := time.Date(2026, 1, 1, 9, 30, 0, 0, time.FixedZone("", 7200)).AddDate(0, 0, i%900)
	p := &record.Photo{Name: fmt.Sprintf("IMG_%04d.jpg", i), Path: fmt.Sprintf("/bench/inbox/IMG_%04d.jpg", i), SHA256: hashOf(i), Bytes: int64(i) + 1,
		WidthPx: 4000, HeightPx: 3000, Taken: record.Stamp{Time: day, HasOffset: true, Source: "exif"}, Camera: "Handheld Demo 12",
		Plant: 1 + i%70, View: record.Leaf, Status: record.Flagged, SettingsKey: "key one",
		Reasons: []record.Reason{{Code: gate.Tilted, Detail: "38 degrees"}}, Notes: []string{"the pot's size was found in the photo"}}
	for q := range 25 {
		quantity := record.Quantity{Name: record.QuantityName(fmt.Sprintf("quantity_%d", q)), Unit: "mm2", Value: r.Float64() * 30000, U95: r.Float64() * 300}
		for k := range 6 {
			quantity.Terms = append(quantity.Terms, record.Term{Name: fmt.Sprintf("term %d", k), U: r.Float64(), Shape: record.Rectangular, Common: k%2 == 0})
		}
		p.Quantities = append(p.Quantities, quantity)
	}
	p.Calibration = &record.Calibration{MarkersSeen: 6, ScalePxPerMM: 5.123456789, TiltDeg: 12.3, ColourModel: "root-polynomial"}
	for range 9 {
		p.Calibration.CardToPx = append(p.Calibration.CardToPx, r.NormFloat64())
		p.Calibration.RotationCardCam = append(p.Calibration.RotationCardCam, r.NormFloat64())
	}
	p.Outlines = []record.Outline{{Kind: "leaf", Closed: true, Points: []record.Point{{X: 1, Y: 2}, {X: 3.5, Y: 4.25}, {X: 0, Y: 9}}}}
	p.WallRoots = [][]record.Point{{{X: 1, Y: 2}, {X: 2, Y: 3}}}
	p.Pictures = map[string][]byte{"plain": []byte("plain picture"), "overlay": []byte("overlay picture")}
	return p
}

func newStore(t *testing.T) *Store {
	t.Helper()
	s, err := Open(filepath.Join(t.TempDir(), "phototrack.db"))
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, s.Close()) })
	return s
}

// sameTime makes two photos comparable: a time read back has another zone pointer for the same zone.
func sameTime(t *testing.T, want, got *record.Photo) {
	t.Helper()
	assert.Equal(t, want.Taken.String(), got.Taken.String())
	got.Taken = want.Taken
}

func TestPutAndGetGiveBackTheWholePhoto(t *testing.T) {
	s := newStore(t)
	want := benchPhoto(1)
	require.NoError(t, s.Put(ctx, want))
	got, ok, err := s.Get(ctx, want.SHA256)
	require.NoError(t, err)
	require.True(t, ok)
	sameTime(t, want, &got)
	pictures, err := s.Pictures(ctx, want.SHA256)
	require.NoError(t, err)
	got.Pictures = pictures
	assert.Equal(t, *want, got)

	one, ok, err := s.Picture(ctx, want.SHA256, "overlay")
	require.NoError(t, err)
	assert.True(t, ok)
	assert.Equal(t, "overlay picture", string(one))
	_, ok, err = s.Picture(ctx, want.SHA256, "wall")
	require.NoError(t, err)
	assert.False(t, ok)
	some, err := s.Pictures(ctx, want.SHA256, "plain", "wall")
	require.NoError(t, err)
	assert.Equal(t, map[string][]byte{"plain": []byte("plain picture")}, some)
	_, ok, err = s.Get(ctx, hashOf(2))
	require.NoError(t, err)
	assert.False(t, ok)
}

func TestQuantitiesThatAreNoNumbersAreKeptAsTheyAre(t *testing.T) {
	s := newStore(t)
	p := &record.Photo{Name: "a.jpg", SHA256: hashOf(1), Status: record.Accepted, Quantities: []record.Quantity{{Name: record.LeafHue, Unit: "deg", Value: math.NaN(), U95: math.Inf(1)}}}
	require.NoError(t, s.Put(ctx, p))
	got, _, err := s.Get(ctx, p.SHA256)
	require.NoError(t, err)
	assert.True(t, math.IsNaN(got.Quantities[0].Value))
	assert.True(t, math.IsInf(got.Quantities[0].U95, 1))
}

func TestPutRefusesWhatIsNoPhoto(t *testing.T) {
	s := newStore(t)
	for name, change := range map[string]func(p *record.Photo){
		"no hash":             func(p *record.Photo) { p.SHA256 = "" },
		"upper case":          func(p *record.Photo) { p.SHA256 = "A" + p.SHA256[1:] },
		"no status":           func(p *record.Photo) { p.Status = "" },
		"NaN in calibration":  func(p *record.Photo) { p.Calibration.TiltDeg = math.NaN() },
		"infinite in outline": func(p *record.Photo) { p.Outlines[0].Points[0].X = math.Inf(1) },
	} {
		p := benchPhoto(1)
		change(p)
		assert.Error(t, s.Put(ctx, p), name)
	}
	all, err := s.All(ctx)
	require.NoError(t, err)
	assert.Empty(t, all)
}

func TestAllIsSortedAndDoesNotDependOnTheOrderOfPut(t *testing.T) {
	var photos []*record.Photo
	for i := range 40 {
		p := benchPhoto(i)
		p.Plant, p.Taken.Time = 1+i%3, p.Taken.Time.AddDate(0, 0, -i+i/10)
		if i%4 == 0 {
			p.View = record.Root
		}
		if i == 7 {
			p.Taken = record.Stamp{}
		}
		p.Name = fmt.Sprintf("IMG_%d.jpg", i%5)
		photos = append(photos, p)
	}
	var first []record.Photo
	for round := range 3 {
		rand.New(rand.NewPCG(uint64(round), 2)).Shuffle(len(photos), func(i, j int) { photos[i], photos[j] = photos[j], photos[i] })
		s := newStore(t)
		for _, p := range photos {
			require.NoError(t, s.Put(ctx, p))
		}
		all, err := s.All(ctx)
		require.NoError(t, err)
		require.Len(t, all, len(photos))
		assert.True(t, sort.SliceIsSorted(all, func(i, j int) bool {
			a, b := all[i], all[j]
			return fmt.Sprintf("%s %03d %s %s %s", a.Taken.Day(), a.Plant, a.View, a.Name, a.SHA256) < fmt.Sprintf("%s %03d %s %s %s", b.Taken.Day(), b.Plant, b.View, b.Name, b.SHA256)
		}))
		assert.Nil(t, all[3].Pictures)
		assert.Nil(t, all[3].Outlines)
		if first == nil {
			first = all
		}
		assert.Equal(t, first, all)
	}
}

func TestANewMeasurementMovesTheOldOneToTheHistory(t *testing.T) {
	s := newStore(t)
	p := benchPhoto(1)
	require.NoError(t, s.Put(ctx, p))
	require.NoError(t, s.Put(ctx, p))
	old, err := s.History(ctx, p.SHA256)
	require.NoError(t, err)
	assert.Empty(t, old, "the same again is no change")

	before := p.Quantities[0].Value
	p.Quantities[0].Value, p.SettingsKey, p.Pictures = 77, "key two", map[string][]byte{"plain": []byte("newer")}
	require.NoError(t, s.Put(ctx, p))
	old, err = s.History(ctx, p.SHA256)
	require.NoError(t, err)
	require.Len(t, old, 1)
	assert.Equal(t, before, old[0].Quantities[0].Value)
	assert.Equal(t, "key one", old[0].SettingsKey)
	all, err := s.All(ctx)
	require.NoError(t, err)
	require.Len(t, all, 1)
	assert.Equal(t, 77.0, all[0].Quantities[0].Value)
	pictures, err := s.Pictures(ctx, p.SHA256)
	require.NoError(t, err)
	assert.Equal(t, map[string][]byte{"plain": []byte("newer")}, pictures, "pictures of another measurement would mislead")
}

func TestStaleness(t *testing.T) {
	s := newStore(t)
	for i := range 4 {
		require.NoError(t, s.Put(ctx, benchPhoto(i)))
	}
	needs := func(i int, key string) bool {
		n, err := s.NeedsMeasuring(ctx, hashOf(i), key)
		require.NoError(t, err)
		return n
	}
	assert.False(t, needs(1, "key one"))
	assert.True(t, needs(1, "key two"), "other settings")
	assert.True(t, needs(99, "key one"), "never measured")

	stale, err := s.MarkStale(ctx, func(p *record.Photo) string {
		if p.SHA256 == hashOf(2) {
			return "key two"
		}
		return "key one"
	})
	require.NoError(t, err)
	assert.Equal(t, []string{hashOf(2)}, stale)
	assert.True(t, needs(2, "key one"))
	all, err := s.All(ctx)
	require.NoError(t, err)
	assert.Len(t, all, 4, "a stale photo keeps its numbers until it is measured again")

	stale, err = s.MarkStale(ctx, func(*record.Photo) string { return "key one" })
	require.NoError(t, err)
	assert.Empty(t, stale)
	assert.False(t, needs(2, "key one"), "settings that were put back make nothing due")
}

func TestSeenSparesReading(t *testing.T) {
	s := newStore(t)
	at := time.Unix(1_780_000_000, 123456789)
	require.NoError(t, s.NoteSeen(ctx, SeenFile{"inbox/a.jpg", 100, at, hashOf(1)}, SeenFile{"inbox/copy of a.jpg", 100, at, hashOf(1)}))
	sha, ok, err := s.Seen(ctx, "inbox/a.jpg", 100, at)
	require.NoError(t, err)
	assert.True(t, ok)
	assert.Equal(t, hashOf(1), sha)
	for name, f := range map[string]SeenFile{"other size": {Path: "inbox/a.jpg", Size: 101, MTime: at}, "other time": {Path: "inbox/a.jpg", Size: 100, MTime: at.Add(1)}, "other path": {Path: "inbox/b.jpg", Size: 100, MTime: at}} {
		_, ok, err := s.Seen(ctx, f.Path, f.Size, f.MTime)
		require.NoError(t, err)
		assert.False(t, ok, name)
	}
	// A name used twice: the file now is another photo, and the first keeps its name in the record.
	require.NoError(t, s.NoteSeen(ctx, SeenFile{"inbox/a.jpg", 222, at, hashOf(2)}))
	sha, ok, err = s.Seen(ctx, "inbox/a.jpg", 222, at)
	require.NoError(t, err)
	assert.True(t, ok)
	assert.Equal(t, hashOf(2), sha)
	names, err := s.Names(ctx, hashOf(1))
	require.NoError(t, err)
	assert.Equal(t, []string{"inbox/a.jpg", "inbox/copy of a.jpg"}, names)
	seen, err := s.AllSeen(ctx)
	require.NoError(t, err)
	assert.Len(t, seen, 2)
	assert.True(t, seen["inbox/a.jpg"].MTime.Equal(at))
}

func TestRunsAreOnRecord(t *testing.T) {
	s := newStore(t)
	id, err := s.BeginRun(ctx, "1.0")
	require.NoError(t, err)
	cut, err := s.BeginRun(ctx, "1.0")
	require.NoError(t, err)
	require.NoError(t, s.EndRun(ctx, Run{ID: id, Found: 5, Measured: 4, Accepted: 3, Flagged: 1, Outcome: "done"}))
	runs, err := s.Runs(ctx)
	require.NoError(t, err)
	require.Len(t, runs, 2)
	assert.Equal(t, 4, runs[0].Measured)
	assert.NotEmpty(t, runs[0].EndedAt)
	assert.Equal(t, cut, runs[1].ID)
	assert.Empty(t, runs[1].EndedAt, "a run that was cut off shows as such")
}

func TestACancelledPutLeavesNothing(t *testing.T) {
	s := newStore(t)
	gone, cancel := context.WithCancel(ctx)
	cancel()
	require.ErrorIs(t, s.Put(gone, benchPhoto(1)), context.Canceled)
	all, err := s.All(ctx)
	require.NoError(t, err)
	assert.Empty(t, all)
	require.NoError(t, s.Put(ctx, benchPhoto(1)), "the store is not left locked")
}

func TestNamesOfFoldersMayHoldAnything(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "bench 50% #1? & more; äö")
	require.NoError(t, os.Mkdir(dir, 0o755))
	s, err := Open(filepath.Join(dir, "phototrack.db"))
	require.NoError(t, err)
	require.NoError(t, s.Put(ctx, benchPhoto(1)))
	require.NoError(t, s.Close())
	assert.FileExists(t, filepath.Join(dir, "phototrack.db"))
	entries, err := os.ReadDir(dir)
	require.NoError(t, err)
	assert.Len(t, entries, 1, "the log is tidied away by Close")
}

func TestReadersAreNotHeldUpByTheWriter(t *testing.T) {
	s := newStore(t)
	require.NoError(t, s.Put(ctx, benchPhoto(1)))
	r, err := OpenReader(s.Path())
	require.NoError(t, err)
	defer r.Close()
	tx, err := s.db.BeginTx(ctx, nil) // a write under way
	require.NoError(t, err)
	defer tx.Rollback()
	_, err = tx.Exec("UPDATE measurements SET stale = 1")
	require.NoError(t, err)
	quick, cancel := context.WithTimeout(ctx, 2*time.Second)
	defer cancel()
	all, err := r.All(quick)
	require.NoError(t, err)
	assert.Len(t, all, 1)
	err = r.Put(ctx, benchPhoto(2))
	require.ErrorIs(t, err, ErrReadOnly)
	assert.NotEmpty(t, fsx.HintOf(err))
}

func TestOpenReaderWithoutAStore(t *testing.T) {
	_, err := OpenReader(filepath.Join(t.TempDir(), "phototrack.db"))
	require.ErrorIs(t, err, ErrNotFound)
	assert.NotEmpty(t, fsx.HintOf(err))
}
