package change

import (
	"bytes"
	"io"
	"testing"

	"github.com/stretchr/testify/require"

	"phototrack/internal/golden"
	"phototrack/internal/record"
)

// TestExportsAsKept compares the exports of one month of two plants with three years behind them (threeYears draws them from a fixed seed) with golden files,
// so that a change of a column, a sentence or a digit shows as a difference that a person can read.
func TestExportsAsKept(t *testing.T) {
	in := threeYears(2)
	in.From, in.To = "2026-07-01", "2026-07-31"
	a := Analyze(in)
	for name, write := range map[string]func(io.Writer) error{
		"changes.csv":   func(w io.Writer) error { return WriteChanges(w, a.Changes) },
		"trends.csv":    func(w io.Writer) error { return WriteTrends(w, a.Trends) },
		"sentences.txt": func(w io.Writer) error { return writeSentences(w, a.Changes) },
	} {
		var b bytes.Buffer
		require.NoError(t, write(&b))
		golden.Check(t, name, b.String())
	}
}

func writeSentences(w io.Writer, changes []record.Change) error {
	for _, c := range changes {
		if _, err := io.WriteString(w, c.Sentence+"\n"); err != nil {
			return err
		}
	}
	return nil
}
