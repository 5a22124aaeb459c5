package change

import (
	"bytes"
	"encoding/csv"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/gate"
	"phototrack/internal/record"
)

func TestExports(t *testing.T) {
	nan := math.NaN()
	read := func(f func(*bytes.Buffer) error) [][]string {
		var b bytes.Buffer
		require.NoError(t, f(&b))
		rows, err := csv.NewReader(&b).ReadAll()
		require.NoError(t, err)
		return rows
	}
	rejected := record.Photo{Name: "=cmd|x.jpg", Status: record.Rejected, Reasons: []record.Reason{{Code: gate.NoTag}, {Code: gate.Blurred}}, SHA256: "ab"}
	good := leaf(3, "2025-07-01", 21370.713)
	rows := read(func(b *bytes.Buffer) error { return WriteMeasurements(b, []record.Photo{rejected, good}) })
	assert.Equal(t, "photo,date,plant,view,quantity,part,value,unit,u95,status,reasons,sha256", strings.Join(rows[0], ","))
	assert.Equal(t, []string{"'=cmd|x.jpg", "", "", "", "", "", "", "", "", "rejected", "blurred;no_tag", "ab"}, rows[1])
	assert.Equal(t, []string{"leaf_area", "", "21371", "mm2"}, rows[2][4:8])
	assert.Equal(t, "2025-07-01T10:00:00", rows[2][1])

	rows = read(func(b *bytes.Buffer) error {
		return WriteChanges(b, []record.Change{{Plant: 1, Name: "+Aloe, \"big\"", View: record.Leaf, Quantity: record.LeafArea, FromValue: nan, ToValue: 5, Change: nan, U95: nan,
			SmallestDetectable: nan, Verdict: record.TooFew, Basis: record.BasisLast, Q: nan}})
	})
	assert.Equal(t, "plant,name,view,quantity,part,from_date,to_date,from_value,to_value,change,unit,u95,smallest_detectable,verdict,basis,event,q", strings.Join(rows[0], ","))
	assert.Equal(t, "'+Aloe, \"big\"", rows[1][1])
	assert.Equal(t, []string{"", "5.000", "", "", "", "", "too few photos", "last session", "", ""}, rows[1][7:])

	heads := map[string]func(*bytes.Buffer) error{
		"plant,view,date,quantity,part,value,unit,u95,photos": func(b *bytes.Buffer) error { return WriteSessions(b, []record.Session{{}}) },
		"plant,view,quantity,part,phase,from_date,to_date,sessions,slope_per_month,slope_low,slope_high,mk_p,mk_q,relative_growth_per_month,growth_low,growth_high": func(b *bytes.Buffer) error {
			return WriteTrends(b, []record.Trend{{}})
		},
		"plant,view,event,date,quantity,part,slope_before,slope_after,level_change,comparison_plants,difference,low,high,p,p_smallest,q,other_events": func(b *bytes.Buffer) error {
			return WriteEffects(b, []record.EventEffect{{ComparisonPlants: []int{4, 5}}})
		},
		"event,group,quantity,part,month_from_event,plants,median_change,low,high,share_rose,share_fell,unit": func(b *bytes.Buffer) error {
			return WritePooled(b, []record.PooledEffect{{Group: "@home"}})
		},
	}
	for head, f := range heads {
		rows := read(f)
		assert.Equal(t, head, strings.Join(rows[0], ","))
		assert.Len(t, rows, 2)
	}
}

func TestFormatValue(t *testing.T) {
	for _, c := range []struct {
		name       string
		value, u95 float64
		want       string
	}{
		{"whole units", 21370.71, 412, "21371"}, {"two digits of the uncertainty", 0.27412, 0.0213, "0.274"}, {"fine", 0.2741234, 0.00021, "0.27412"},
		{"as fine as a coarse uncertainty", 3.14159, 5, "3.1"}, {"unknown", math.NaN(), 1, ""}, {"zero with u95", 0, 0.02, "0.000"}, {"negative", -12.3456, 0.5, "-12.35"}, {"lost in its uncertainty", 0.0001092, 0.0012, "0.0001"},
		{"no minus before zero", -1e-12, 0.1, "0.00"}, {"no u95", 12.3456, 0, "12.35"}, {"infinite", math.Inf(1), 1, ""},
	} {
		t.Run(c.name, func(t *testing.T) { assert.Equal(t, c.want, FormatValue(c.value, c.u95)) })
	}
}

func TestMonthsForSpreadsheets(t *testing.T) {
	sessions := []record.Session{
		{Plant: 12, View: record.Leaf, Date: "2026-07-02", Quantity: record.LeafArea, Unit: "mm2", Value: 28000, U95: 900, Photos: 1},
		{Plant: 12, View: record.Leaf, Date: "2026-07-11", Quantity: record.LeafArea, Unit: "mm2", Value: 29370, U95: 1300, Photos: 2},
		{Plant: 12, View: record.Leaf, Date: "2026-07-11", Quantity: record.YellowShare, Unit: "1", Value: 0.201, U95: 0.008, Photos: 2},
		{Plant: 12, View: record.Leaf, Date: "2026-06-13", Quantity: record.LeafArea, Unit: "mm2", Value: 26900, U95: 1100, Photos: 1},
		{Plant: 12, View: record.Leaf, Date: "2026-07-11", Quantity: record.PartLength, Part: "spike 1", Unit: "mm", Value: 139.2, U95: 8, Photos: 1},
		{Plant: 12, Date: "2026-07-11", Quantity: record.CountOf, Part: "buds", Unit: "1", Value: 9},
	}
	var b bytes.Buffer
	require.NoError(t, WriteMonths(&b, sessions, []record.Plant{{Number: 12, Name: "=Clivia", Group: "clivia"}}, []record.Event{{Date: "2026-07-05", Plant: 12, Kind: "feed", Note: "half"}, {Date: "2026-07-05", Plant: 13, Kind: "feed"}}))
	lines := strings.Split(strings.TrimSpace(b.String()), "\n")
	require.Len(t, lines, 5, "a row a plant and month, and one for each part and count")
	assert.True(t, strings.HasPrefix(lines[0], "month,plant,name,group,last photo,leaf area cm2,leaf area cm2 +-,green %,green % +-,yellow %,yellow % +-"))
	assert.True(t, strings.HasPrefix(lines[1], "2026-06,12,'=Clivia,clivia,2026-06-13,269,11,,,,"), lines[1])
	assert.True(t, strings.HasPrefix(lines[2], "2026-07,12,'=Clivia,clivia,2026-07-11,294,13,,,20.10,0.80,"), lines[2])
	assert.True(t, strings.Contains(lines[2], ",3,2026-07-05 feed half,,"), lines[2])
	head := strings.Split(lines[0], ",")
	cell := func(line, column string) string {
		i := slices.Index(head, column)
		require.GreaterOrEqual(t, i, 0, column)
		return strings.Split(line, ",")[i]
	}
	for column, want := range map[string]string{"part": "buds", "count": "9", "length mm": "", "photos": "", "last photo": "2026-07-11"} {
		assert.Equal(t, want, cell(lines[3], column), column)
	}
	for column, want := range map[string]string{"part": "spike 1", "count": "", "length mm": "139.2", "length mm +-": "8.0", "width mm": "", "leaf area cm2": "", "photos": "1"} {
		assert.Equal(t, want, cell(lines[4], column), column)
	}
}
