package report

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"phototrack/internal/gate"
	"phototrack/internal/golden"
	"phototrack/internal/record"
)

// TestPagesAsKept compares the pages of a drawn month with kept ones: the index, a plant with leaves and roots and a repot behind it, a
// plant without photos, and the sheet for the next round.
func TestPagesAsKept(t *testing.T) {
	d := gardenData(t, 5, 3)
	d.Plants = append(d.Plants, record.Plant{Number: 9, Name: "Not photographed yet"})
	d.Missing = []record.Missing{{Plant: 9, Name: "Not photographed yet", Kind: "no photo"},
		{Kind: "rejected", Photo: "IMG_9.jpg", Reasons: []record.Reason{{Code: gate.Blurred, Detail: "1.4 mm"}}}}
	d.Watch = []record.WatchHit{{Rule: record.WatchRule{Quantity: record.YellowShare, Message: "Look at the lower leaves."}, Plant: 2, State: "fired", Evidence: "Yellow share 5.4 ± 2.0 % on 9 October 2023."}}
	d.Faults = []string{"plants.csv, line 7: the number 12 stands twice."}
	dir := t.TempDir()
	_, err := WriteFiles(dir, d)
	require.NoError(t, err)
	for name, file := range map[string]string{"index.txt": "index.html", "leaves.txt": plantFile(5), "roots.txt": plantFile(3)} {
		page, err := os.ReadFile(filepath.Join(dir, filepath.FromSlash(file)))
		require.NoError(t, err)
		golden.Check(t, name, golden.Page(string(page)))
	}
	var round bytes.Buffer
	require.NoError(t, WriteRound(&round, d))
	golden.Check(t, "round.txt", golden.Page(round.String()))
}
