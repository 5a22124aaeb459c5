package desk

import (
	"net/url"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestReportsFromTheDesk: a report is written, opened with its plants' pages, and called old when the lists have changed.
func TestReportsFromTheDesk(t *testing.T) {
	b := serve(t, "012_2026-03_L.jpg", "012_2026-05_L.jpg")
	_, page := b.get(t, "/reports")
	assert.Contains(t, page, "not written yet")
	code, page := b.post(t, "/reports", url.Values{"month": {"2026-05"}})
	require.Equal(t, 200, code, page)
	assert.Contains(t, page, "<h1>May 2026</h1>")
	code, page = b.get(t, "/report/2026-05/plants/012.html")
	assert.Equal(t, 200, code)
	assert.Contains(t, page, "Clivia A")
	for _, path := range []string{"/report/../phototrack.db", "/report/%2e%2e/plants.csv", "/report/2026-05/.made-from", "/report/2026-05"} {
		code, page := b.get(t, path)
		assert.NotEqual(t, 200, code, path)
		assert.NotContains(t, page, "Clivia A,", path)
	}
	_, page = b.get(t, "/?month=2026-05")
	assert.Contains(t, page, "Open the report")
	assert.NotContains(t, page, "older than the data")
	code, _ = b.post(t, "/events", url.Values{"date": {"2026-05-02"}, "plants": {"12"}, "event": {"feed"}})
	require.Equal(t, 200, code)
	_, page = b.get(t, "/?month=2026-05")
	assert.Contains(t, page, "older than the data")
	code, page = b.get(t, "/table/months.csv")
	assert.Equal(t, 200, code)
	assert.Contains(t, page, "2026-05,12,Clivia A,clivia,2026-05-09,")
	code, page = b.get(t, "/round/round.html")
	assert.Equal(t, 200, code)
	assert.Contains(t, page, "Photo round")
	code, page = b.get(t, "/round/round.pdf")
	assert.True(t, code == 200 && strings.HasPrefix(page, "%PDF"))
	b.settle(t)
}

// TestTheMonthSaysTheSame: the desk's figures are those of the report, since both read the same digest.
func TestTheMonthSaysTheSame(t *testing.T) {
	b := serve(t, "012_2026-03_L.jpg", "012_2026-07_L.jpg")
	code, page := b.post(t, "/reports", url.Values{"month": {"2026-07"}})
	require.Equal(t, 200, code, page)
	_, desk := b.get(t, "/?month=2026-07")
	for _, figure := range []string{"<b>1</b> plant measured", "<b>1</b> changed"} {
		assert.Contains(t, page, figure, "report")
		assert.Contains(t, desk, figure, "desk")
	}
	b.settle(t)
}

func TestWatchRulesOnTheDesk(t *testing.T) {
	b := serve(t)
	code, page := b.post(t, "/rules", url.Values{"quantity": {"leaf_area"}, "of": {"value"}, "condition": {"<="}, "limit": {"1o000"}, "message": {"too small"}})
	assert.Equal(t, 422, code)
	assert.Contains(t, page, `value="1o000"`, "what was typed is kept")
	assert.Contains(t, page, "is not a number", "and why it cannot be so")
	code, page = b.post(t, "/rules", url.Values{"quantity": {"leaf_area"}, "of": {"value"}, "condition": {"<="}, "limit": {"100"}, "message": {"too small"}, "plants": {"all but 17"}})
	require.Equal(t, 200, code, page)
	assert.Contains(t, page, "Leaf area falls to 100 cm²")
	rules := b.file(t, "watch.csv")
	assert.Contains(t, rules, "leaf_area,value,<=,10000,too small,all but 17")
	code, page = b.post(t, "/rules", url.Values{"quantity": {"yellow_share"}, "of": {"value"}, "condition": {">="}, "limit": {"12,5 %"}, "message": {"yellow"}})
	require.Equal(t, 200, code, page)
	assert.Contains(t, page, "Yellow share reaches 12.5 %", "typed as it is shown")
	assert.Contains(t, b.file(t, "watch.csv"), "yellow_share,value,>=,0.125,yellow")
	line := itoa(strings.Count(rules[:strings.Index(rules, "too small")], "\n") + 1)
	_, page = b.get(t, "/rules?line="+line)
	assert.Contains(t, page, `name="limit" value="100"`, "and shown so when it is changed")
	code, page = b.post(t, "/rules/switch", url.Values{"version": {b.version(t, "watch.csv")}, "line": {line}, "plant": {"12"}, "on": {"no"}})
	require.Equal(t, 200, code, page)
	assert.Regexp(t, `all but 12,? 17`, b.file(t, "watch.csv"))
	code, _ = b.post(t, "/rules/switch", url.Values{"version": {b.version(t, "watch.csv")}, "line": {line}, "plant": {"17"}, "on": {"yes"}})
	require.Equal(t, 200, code)
	assert.Contains(t, b.file(t, "watch.csv"), "too small,all but 12")
	code, _ = b.post(t, "/rules", url.Values{"version": {b.version(t, "watch.csv")}, "line": {line}, "do": {"remove"}, "limit": {"1"}})
	require.Equal(t, 200, code)
	assert.NotContains(t, b.file(t, "watch.csv"), "too small")
	_, page = b.get(t, "/corrections")
	assert.Contains(t, page, "watch.csv")
	b.settle(t)
}

func TestTheSteelRulesReading(t *testing.T) {
	b := serve(t)
	code, page := b.post(t, "/print", url.Values{"date": {"2026-08-01"}, "across": {"9,94"}, "down": {"89,6"}})
	assert.Equal(t, 422, code)
	assert.Contains(t, page, `value="89,6"`)
	assert.Contains(t, page, "The ruler&#39;s length is not given")
	code, page = b.post(t, "/print", url.Values{"date": {"2026-08-01"}, "across": {"99,4"}, "down": {"89,6"}})
	require.Equal(t, 200, code, page)
	assert.Contains(t, b.file(t, "cards.csv"), "2026-08-01,99.4,89.6,nominal")
	code, page = b.get(t, "/print/names-a4.pdf")
	assert.True(t, code == 200 && strings.HasPrefix(page, "%PDF"))
	b.settle(t)
}
