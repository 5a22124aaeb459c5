package desk

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A plant's charts have the trend of each phase and the plants of its group behind, as the report's have them.
func TestChartsHaveTrendsAndComparisonPlants(t *testing.T) {
	b := serve(t, "012_2026-03_L.jpg", "012_2026-04_L.jpg", "012_2026-05_L.jpg", "012_2026-06_L.jpg", "012_2026-07_L.jpg", "044_2026-03_L.jpg", "044_2026-04_L.jpg", "044_2026-05_L.jpg")
	code, page := b.get(t, "/plant/12")
	require.Equal(t, 200, code)
	area, rest, ok := strings.Cut(page[strings.Index(page, "<b>Leaf area</b>"):], "</figure>")
	require.True(t, ok)
	for _, want := range []string{`class="s trend"`, `class="s other"`, "trend</span>", "comparison plant 44, scaled to the same start", "A: repotted, 18 April 2026"} {
		assert.Contains(t, area, want)
	}
	assert.Contains(t, rest, `<b class="letter">A</b> 18 April 2026: repotted`, "the list of events has the chart's letters")
	_, page = b.get(t, "/plant/44")
	assert.Contains(t, page, "comparison plant 12")
	assert.NotContains(t, page, "Visible root length")
}
