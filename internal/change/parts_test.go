package change

import (
	"bytes"
	"encoding/csv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/record"
	"phototrack/internal/uncert"
)

// withParts is a leaf photo with lengths of parts beside its area.
func withParts(plant int, day string, mm map[string]float64) record.Photo {
	p := leaf(plant, day, 20000)
	for _, part := range []string{"spike 1", "spike 2", "bulb 1"} {
		if v, ok := mm[part]; ok {
			q := uncert.Quantity(record.PartLength, "mm", v, uncert.Normal("pointing", 0.3), uncert.Common(uncert.Rectangular("depth common", v*0.025)))
			q.Part = part
			p.Quantities = append(p.Quantities, q)
		}
	}
	return p
}

func TestPartsAreFollowedEachByItself(t *testing.T) {
	in := Input{Plants: []record.Plant{{Number: 44, Name: "Orchid", Group: "g"}, {Number: 45, Name: "Sister", Group: "g"}},
		Parts:  []record.Part{{Plant: 44, Part: "spike 1", Kind: "spike"}, {Plant: 44, Part: "spike 2", Kind: "spike"}, {Plant: 45, Part: "spike 1", Kind: "spike"}, {Plant: 44, Part: "bulb 1", Kind: "bulb", Until: "2026-06-20"}},
		Counts: []record.Count{{Date: "2026-05-01", Plant: 44, What: "buds", Count: 3}, {Date: "2026-06-10", Plant: 44, What: "buds", Count: 5}, {Date: "2026-06-01", Plant: 45, What: "leaves", Count: 4}},
		Events: []record.Event{{Date: "2026-05-20", Plant: 44, Kind: "repot"}},
		Rules: []record.WatchRule{{Quantity: record.PartLength, Of: "value", Condition: ">=", Limit: 150, Part: "spike", Message: "stake it"},
			{Quantity: record.PartLength, Of: "value", Condition: ">=", Limit: 10, Part: "bulb 1", Message: "long"},
			{Quantity: record.CountOf, Of: "value", Condition: ">=", Limit: 5, Part: "buds", Message: "many buds"}},
		Photos: []record.Photo{
			withParts(44, "2026-04-10", map[string]float64{"spike 1": 100, "bulb 1": 30}), withParts(44, "2026-05-10", map[string]float64{"spike 1": 150, "bulb 1": 30.1}),
			withParts(44, "2026-06-10", map[string]float64{"spike 1": 201, "spike 2": 20, "bulb 1": 29.9}),
			withParts(45, "2026-05-10", map[string]float64{"spike 1": 90}), withParts(45, "2026-06-10", map[string]float64{"spike 1": 91}),
		},
		From: "2026-06-01", To: "2026-06-30", Settings: DefaultSettings()}
	a := Analyze(in)
	find := func(plant int, part string, quantity record.QuantityName) record.Change {
		for _, c := range a.Changes {
			if c.Plant == plant && c.Part == part && c.Quantity == quantity && c.Basis == record.BasisLast {
				return c
			}
		}
		t.Fatalf("no change of %s of %s of plant %d", quantity, part, plant)
		return record.Change{}
	}
	assert.Equal(t, record.Rose, find(44, "spike 1", record.PartLength).Verdict)
	assert.Contains(t, find(44, "spike 1", record.PartLength).Sentence, "length of spike 1 rose by 51")
	assert.Equal(t, record.NoChange, find(44, "bulb 1", record.PartLength).Verdict)
	assert.Equal(t, record.TooFew, find(44, "spike 2", record.PartLength).Verdict)
	buds := find(44, "buds", record.CountOf)
	assert.Equal(t, record.Rose, buds.Verdict)
	assert.Equal(t, 2.0, buds.Change)
	assert.Zero(t, buds.U95)
	assert.Contains(t, buds.Sentence, "number of buds rose by 2 since")
	var listed bool
	for _, c := range a.FirstScreen {
		listed = listed || c.Part == "spike 1" && c.Plant == 44
		assert.NotEqual(t, record.CountOf, c.Quantity)
	}
	assert.True(t, listed)

	var news []string
	for _, n := range a.News {
		news = append(news, n.Sentence)
	}
	assert.Equal(t, []string{"Orchid (44): new: spike 2, first seen on 10 June 2026.", "Orchid (44): bulb 1 is gone since 20 June 2026.",
		"Orchid (44): 5 buds on 10 June 2026; there were 3 on 1 May 2026."}, news)

	fired := map[string]string{}
	for _, w := range a.Watch {
		fired[w.Rule.Message+" "+w.Part] = w.State
	}
	assert.Equal(t, map[string]string{"stake it spike 1": "fired", "long bulb 1": "fired", "many buds buds": "fired"}, fired)

	var effect *record.EventEffect
	for i := range a.Effects {
		if a.Effects[i].Part == "spike 1" {
			effect = &a.Effects[i]
		}
	}
	require.NotNil(t, effect)
	assert.Equal(t, []int{45}, effect.ComparisonPlants, "the sister's spike is the comparison")
	assert.Contains(t, effect.Sentence, "length of spike 1")

	var b bytes.Buffer
	require.NoError(t, WriteSessions(&b, a.Sessions))
	rows, err := csv.NewReader(&b).ReadAll()
	require.NoError(t, err)
	var counts int
	for _, r := range rows[1:] {
		if r[3] == "count" {
			counts++
			assert.Empty(t, r[7], "a count has no interval")
			assert.Contains(t, []string{"buds", "leaves"}, r[4])
		}
	}
	assert.Equal(t, 3, counts)
}

func TestAnyTwoDaysOfAPartAreCompared(t *testing.T) {
	c := NewComparer(Input{Plants: []record.Plant{{Number: 44}}, Parts: []record.Part{{Plant: 44, Part: "spike 1", Kind: "spike"}}, Photos: []record.Photo{
		withParts(44, "2026-04-10", map[string]float64{"spike 1": 100, "bulb 1": 30}), withParts(44, "2026-05-10", map[string]float64{"spike 1": 120}), withParts(44, "2026-06-10", map[string]float64{"spike 1": 140, "bulb 1": 30})}})
	found := map[string]record.Change{}
	for _, k := range c.Between(44, record.Leaf, "2026-04-10", "2026-06-10") {
		found[k.Part] = k
	}
	assert.InDelta(t, 40, found["spike 1"].Change, 1e-9)
	assert.Equal(t, record.Rose, found["spike 1"].Verdict)
	assert.Equal(t, record.NoChange, found["bulb 1"].Verdict)
	for _, k := range c.Between(44, record.Leaf, "2026-04-10", "2026-05-10") {
		assert.NotEqual(t, "bulb 1", k.Part, "one day has no line on it")
	}
}
