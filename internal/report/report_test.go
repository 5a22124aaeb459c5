package report

import (
	"os"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestBenchReport(t *testing.T) {
	for _, month := range []string{"2026-03", "2026-07"} {
		path := write(t, "bench-"+month+".html", benchData(t, month))
		st, err := os.Stat(path)
		require.NoError(t, err)
		t.Log(month, st.Size())
	}
}
