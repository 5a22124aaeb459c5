package report_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/digest"
	"phototrack/internal/record"
	"phototrack/internal/report"
)

// TestPartsAreDrawnBeforeSiblings: behind the chart of a part lie the parts of the same name on plants of the same group, and no others.
func TestPartsAreDrawnBeforeSiblings(t *testing.T) {
	d := &report.Data{From: "2026-03-01", To: "2026-05-31", Digest: &digest.Digest{}}
	for n, group := range map[int]string{1: "Cattleya", 2: "Cattleya", 3: "Vanda", 4: "Cattleya"} {
		d.Plants = append(d.Plants, record.Plant{Number: n, Name: "plant", Group: group})
	}
	add := func(plant int, part string, values ...float64) {
		for i, v := range values {
			d.Sessions = append(d.Sessions, record.Session{Plant: plant, View: record.Leaf, Date: []string{"2026-03-07", "2026-04-11", "2026-05-09"}[i],
				Quantity: record.PartLength, Part: part, Unit: "mm", Value: v, U95: 3, UVarying: 1, UCommon: 1, Photos: 1})
		}
	}
	add(1, "spike 1", 40, 80, 120)
	add(2, "spike 1", 30, 50, 66)
	add(3, "spike 1", 20, 30, 90)
	add(4, "spike 2", 20, 30, 90)
	sec, err := report.Parts(d, 1)
	require.NoError(t, err)
	require.NotNil(t, sec)
	require.NotEmpty(t, sec.Charts)
	var key []string
	for _, k := range sec.Charts[0].Key {
		key = append(key, k.Text)
	}
	words := strings.Join(key, "; ")
	assert.Contains(t, words, "plant 2", "a sibling's spike of the same name")
	assert.NotContains(t, words, "3")
	assert.NotContains(t, words, "4")
	sec, err = report.Parts(d, 3)
	require.NoError(t, err)
	for _, k := range sec.Charts[0].Key {
		assert.NotContains(t, k.Text, "comparison", "no sibling, no line behind")
	}
}
