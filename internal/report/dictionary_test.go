package report

import (
	"bytes"
	"encoding/json"
	"io"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/change"
	"phototrack/internal/digest"
)

// TestDictionaryHasTheExportsColumns compares with the tables' own first lines, and with the column lists that others
// rely on, kept here as text: columns may be added behind them.
func TestDictionaryHasTheExportsColumns(t *testing.T) {
	want := map[string]string{
		"measurements":  "photo,date,plant,view,quantity,part,value,unit,u95,status,reasons,sha256",
		"sessions":      "plant,view,date,quantity,part,value,unit,u95,photos",
		"changes":       "plant,name,view,quantity,part,from_date,to_date,from_value,to_value,change,unit,u95,smallest_detectable,verdict,basis,event,q",
		"parts":         "plant,part,kind,name,from,until,note",
		"counts":        "date,plant,what,count,note",
		"trends":        "plant,view,quantity,part,phase,from_date,to_date,sessions,slope_per_month,slope_low,slope_high,mk_p,mk_q,relative_growth_per_month,growth_low,growth_high",
		"events_effect": "plant,view,event,date,quantity,part,slope_before,slope_after,level_change,comparison_plants,difference,low,high,p,p_smallest,q,other_events",
		"events_pooled": "event,group,quantity,part,month_from_event,plants,median_change,low,high,share_rose,share_fell",
		"digest":        "rank,plant,name,view,quantity,part,unit,last_from_date,last_change,last_u95,last_verdict,long_basis,long_from_date,long_change,long_u95,long_verdict,times_u95",
		"months":        "month,plant,name,group,last photo,leaf area cm2,leaf area cm2 +-,green %,green % +-",
	}
	tables := map[string]func(io.Writer) error{
		"measurements":  func(w io.Writer) error { return change.WriteMeasurements(w, nil) },
		"sessions":      func(w io.Writer) error { return change.WriteSessions(w, nil) },
		"changes":       func(w io.Writer) error { return change.WriteChanges(w, nil) },
		"trends":        func(w io.Writer) error { return change.WriteTrends(w, nil) },
		"parts":         func(w io.Writer) error { return change.WriteParts(w, nil) },
		"counts":        func(w io.Writer) error { return change.WriteCounts(w, nil) },
		"events_effect": func(w io.Writer) error { return change.WriteEffects(w, nil) },
		"events_pooled": func(w io.Writer) error { return change.WritePooled(w, nil) },
		"digest":        func(w io.Writer) error { return (&digest.Digest{}).WriteCSV(w) },
		"months":        func(w io.Writer) error { return change.WriteMonths(w, nil, nil, nil) },
	}
	var b bytes.Buffer
	require.NoError(t, WriteDictionary(&b, "North bench", time.Date(2026, 8, 1, 0, 0, 0, 0, time.UTC)))
	var p Package
	require.NoError(t, json.Unmarshal(b.Bytes(), &p))
	require.Len(t, p.Resources, len(want))
	types := map[string]bool{"string": true, "integer": true, "number": true, "date": true}
	for _, r := range p.Resources {
		var names []string
		for _, f := range r.Schema.Fields {
			names = append(names, f.Name)
			assert.True(t, types[f.Type], "%s is a type of Table Schema", f.Type)
			assert.NotEmpty(t, f.Description, f.Name)
		}
		columns := strings.Join(names, ",")
		assert.True(t, strings.HasPrefix(columns+",", want[r.Name]+","), "%s: %s", r.Name, columns)
		var table bytes.Buffer
		require.NoError(t, tables[r.Name](&table))
		assert.Equal(t, strings.TrimSpace(table.String()), columns, r.Name)
	}
	assert.Equal(t, "mm2", p.Quantities["leaf_area"]["unit"])
}
