package scenebank_test

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"phototrack/internal/gate"
	"phototrack/internal/pipeline"
	"phototrack/internal/scenebank"
	"phototrack/internal/scenemaker"
)

var bankFile = filepath.Join("testdata", "bank.csv")

// measure renders a photo of the bank and measures it.
func measure(t testing.TB, w *pipeline.Measurer, at scenebank.Place) scenebank.Row {
	t.Helper()
	shot, err := scenemaker.Render(scenebank.Scene(at))
	require.NoError(t, err)
	p := w.Measure(shot.JPEG, pipeline.Job{Name: fmt.Sprintf("%03d_%d_%d_%d.jpg", at.Plant, at.Session, at.Replicate, at.Level)}, nil)
	return scenebank.NewRow(at, shot.Truth, &p, gate.Codes(p.Reasons))
}

// measureAll measures the places on all processors, in no order.
func measureAll(t *testing.T, places []scenebank.Place) <-chan scenebank.Row {
	queue, rows := make(chan scenebank.Place), make(chan scenebank.Row)
	var wg sync.WaitGroup
	for range runtime.NumCPU() {
		wg.Go(func() {
			var w pipeline.Measurer
			defer w.Close()
			for at := range queue {
				rows <- measure(t, &w, at)
			}
		})
	}
	go func() {
		for _, at := range places {
			queue <- at
		}
		close(queue)
		wg.Wait()
		close(rows)
	}()
	return rows
}

// TestMeasureTheBank renders and measures the whole bank anew (make simulate): about half an hour of one processor. What
// was measured before it was cut off is not measured again.
func TestMeasureTheBank(t *testing.T) {
	if os.Getenv("PHOTOTRACK_SIMULATE") == "" {
		t.Skip("measures some thousand photos: make simulate")
	}
	part := bankFile + ".part"
	done := map[scenebank.Place]bool{}
	var w *scenebank.Writer
	f, err := os.OpenFile(part, os.O_CREATE|os.O_RDWR|os.O_APPEND, 0o600)
	require.NoError(t, err)
	defer f.Close()
	if rows, version, err := scenebank.Read(f); err == nil && version == pipeline.MeasuringVersion {
		for _, r := range rows {
			done[r.Place] = true
		}
		w = scenebank.Append(f)
	} else {
		require.NoError(t, f.Truncate(0))
		w, err = scenebank.NewWriter(f, pipeline.MeasuringVersion)
		require.NoError(t, err)
	}
	start, n := time.Now(), 0
	places := slices.DeleteFunc(scenebank.Places(), func(at scenebank.Place) bool { return done[at] })
	for row := range measureAll(t, places) {
		require.NoError(t, w.Write(&row))
		if n++; n%100 == 0 {
			fmt.Printf("%d of %d photos, %.2f s each\n", n, len(places), time.Since(start).Seconds()/float64(n))
		}
	}
	_, err = f.Seek(0, io.SeekStart)
	require.NoError(t, err)
	rows, version, err := scenebank.Read(f)
	require.NoError(t, err)
	require.NoError(t, f.Close())
	save(t, rows, version)
	require.NoError(t, os.Remove(part))
}

// save writes a whole bank in the order of its places.
func save(t *testing.T, rows []scenebank.Row, version string) {
	at := map[scenebank.Place]*scenebank.Row{}
	for i := range rows {
		at[rows[i].Place] = &rows[i]
	}
	f, err := os.Create(bankFile)
	require.NoError(t, err)
	w, err := scenebank.NewWriter(f, version)
	require.NoError(t, err)
	for _, p := range scenebank.Places() {
		require.NotNil(t, at[p], "%+v", p)
		require.NoError(t, w.Write(at[p]))
	}
	require.NoError(t, f.Close())
}

func bank(t testing.TB) ([]scenebank.Row, string) {
	t.Helper()
	f, err := os.Open(bankFile)
	require.NoError(t, err)
	defer f.Close()
	rows, version, err := scenebank.Read(f)
	require.NoError(t, err)
	require.Len(t, rows, len(scenebank.Places()), "the bank is not whole: make simulate")
	return rows, version
}
