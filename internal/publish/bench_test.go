package publish

import (
	"context"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"phototrack/internal/collection"
	"phototrack/internal/series"
)

// BenchmarkReport writes the latest report of the collection that PHOTOTRACK_COLLECTION names (make demo makes one).
func BenchmarkReport(b *testing.B) {
	dir := os.Getenv("PHOTOTRACK_COLLECTION")
	if dir == "" {
		b.Skip("PHOTOTRACK_COLLECTION names no collection")
	}
	c, err := collection.Open(dir)
	require.NoError(b, err)
	st, err := series.OpenReader(c.StorePath())
	require.NoError(b, err)
	defer st.Close()
	for b.Loop() {
		made, err := filepath.Glob(c.ReportDir("*/" + fingerprintFile))
		require.NoError(b, err)
		for _, f := range made { // or a report that is there would be left
			require.NoError(b, os.Remove(f))
		}
		_, err = Report(context.Background(), c, st, Period{}, "bench")
		require.NoError(b, err)
	}
}
