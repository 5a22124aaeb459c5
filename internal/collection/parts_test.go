package collection

import (
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/record"
)

func TestPartsAndCountsAreReadAndFaultsNamed(t *testing.T) {
	c := newCollection(t, map[string]string{
		PlantsFile: "number,name\n44,Orchid\n",
		PartsFile: "plant,part,kind,name,from,until,note\n" +
			"44,spike 1,spike,,2026-03-01,,\n" +
			"44,Spike 1,spike,,,,\n" + // the name again
			"44,bulb 2,,front bulb,,2026-05-20,shrivels\n" + // kind from the name
			"44,x,stem,,,,\n" +
			"999,y,leaf,,,,\n" +
			"44,,leaf,,,,\n" +
			"44,z,leaf,,2026-05-01,2026-04-01,\n",
		CountsFile: "date,plant,what,count,note\n2026-05-01,44,Buds,3,\n2026-05-01,44,buds,4,\n2026-05-02,44,buds,-1,\n2026-05-02,44,buds,many,\n2026-05-02,44,,2,\n,44,buds,2,\n2026-04-01,44,leaves,0,\n",
	})
	require.Len(t, c.Parts, 2)
	assert.Equal(t, record.Part{Line: 2, Plant: 44, Part: "spike 1", Kind: "spike", From: "2026-03-01"}, c.Parts[0])
	assert.Equal(t, "bulb", c.Parts[1].Kind)
	assert.True(t, c.Parts[1].Gone("2026-05-21"))
	assert.False(t, c.Parts[1].Gone("2026-05-20"))
	p, ok := c.Part(44, " SPIKE 1")
	assert.True(t, ok)
	assert.Equal(t, "spike 1", p.Part)
	require.Len(t, c.Counts, 2)
	assert.Equal(t, record.Count{Line: 8, Date: "2026-04-01", Plant: 44, What: "leaves"}, c.Counts[0])
	assert.Equal(t, 4, c.Counts[1].Count, "the later line of a day counts")
	said := map[string]string{}
	for _, e := range c.Problems {
		said[e.Place()] = e.What
	}
	assert.Contains(t, said["parts.csv line 3, column B (part)"], "already")
	assert.Contains(t, said["parts.csv line 5, column C (kind)"], "stem")
	assert.Contains(t, said["parts.csv line 6, column A (plant)"], "999")
	assert.Contains(t, said["parts.csv line 7, column B (part)"], "missing")
	assert.Contains(t, said["parts.csv line 8, column F (until)"], "gone before")
	assert.Contains(t, said["counts.csv line 4, column D (count)"], "below zero")
	assert.Contains(t, said["counts.csv line 5, column D (count)"], "many")
	assert.Contains(t, said["counts.csv line 6, column C (what)"], "missing")
	assert.Contains(t, said["counts.csv line 7, column A (date)"], "missing")
}

func TestPartsAndCountsAreWrittenChangedAndTakenBack(t *testing.T) {
	c := newCollection(t, map[string]string{PlantsFile: "number,name\n44,Orchid\n"})
	require.NoError(t, os.Remove(c.Path(PartsFile)))
	require.NoError(t, os.Remove(c.Path(CountsFile)))
	require.NoError(t, c.Reload())
	assert.Empty(t, c.Problems, "collections of an older program have neither file")
	require.NoError(t, c.AppendPart(record.Part{Plant: 44, Part: "spike 1"}))
	assert.ErrorContains(t, c.AppendPart(record.Part{Plant: 44, Part: "SPIKE 1"}), "already")
	assert.ErrorContains(t, c.AppendPart(record.Part{Plant: 44, Part: strings.Repeat("x", 50)}), "longer")
	assert.ErrorContains(t, c.AppendPart(record.Part{Plant: 45, Part: "a"}), "plants.csv")
	gone := "2026-06-01"
	require.NoError(t, c.ChangePart(c.Version(PartsFile), 44, "spike 1", PartChange{Until: &gone}, "cut"))
	p, _ := c.Part(44, "spike 1")
	assert.Equal(t, gone, p.Until)
	require.NoError(t, c.TakeBack(c.Corrections[len(c.Corrections)-1], "taken back"))
	p, _ = c.Part(44, "spike 1")
	assert.Empty(t, p.Until)

	require.NoError(t, c.SetCount("2026-05-01", 44, "Buds", "3", ""))
	require.NoError(t, c.SetCount("2026-05-01", 44, "buds", "5", "two more"))
	assert.ErrorContains(t, c.SetCount("2026-05-01", 44, "buds", "-2", ""), "below zero")
	assert.ErrorContains(t, c.SetCount("2026-05-01", 44, "buds", "x", ""), "whole number")
	require.Len(t, c.Counts, 1)
	assert.Equal(t, 5, c.Counts[0].Count)
	require.NoError(t, c.TakeBack(c.Corrections[len(c.Corrections)-1], "taken back"))
	assert.Equal(t, 3, c.Counts[0].Count)
}

func lineOf(points ...[2]float64) Mark {
	return Mark{What: MarkLine, Who: "Ann", Line: &Line{Part: "spike 1", Measure: []string{MeasureLength, MeasureBend}, Drawn: DrawnByHand, Zoom: 1.5, Points: points}}
}

func TestLinesStandBesideAreas(t *testing.T) {
	c := newCollection(t, map[string]string{PlantsFile: "number,name\n44,Orchid\n"})
	line := lineOf([2]float64{0.1, 0.9}, [2]float64{0.2, 0.5}, [2]float64{0.4, 0.1})
	across := lineOf([2]float64{0.1, 0.9}, [2]float64{0.2, 0.9})
	across.Line.NoSnap, across.Line.Drawn = true, DrawnAccepted
	p := &record.Photo{SHA256: hashA, Name: "a.jpg", Plant: 44, View: record.Leaf}
	bare := c.InputsKey("v", p)
	require.NoError(t, c.SaveMarks(hashA, "a.jpg", []Mark{triangle}))
	area := c.InputsKey("v", p)
	require.NoError(t, c.SaveMarks(hashA, "a.jpg", []Mark{triangle, line, across}))
	assert.Equal(t, []Mark{triangle, line, across}, c.MarksFor(hashA))
	assert.Equal(t, []Mark{triangle}, Areas(c.MarksFor(hashA)))
	assert.Equal(t, []Mark{line, across}, Lines(c.MarksFor(hashA)))
	lined := c.InputsKey("v", p)
	assert.NotEqual(t, bare, area)
	assert.NotEqual(t, area, lined)
	require.NoError(t, c.AppendPart(record.Part{Plant: 44, Part: "spike 1"}))
	assert.NotEqual(t, lined, c.InputsKey("v", p), "a part that is listed now can be measured")
	other := &record.Photo{SHA256: hashB, Name: "b.jpg", Plant: 44, View: record.Leaf}
	was := c.InputsKey("v", other)
	require.NoError(t, c.AppendPart(record.Part{Plant: 44, Part: "spike 2"}))
	assert.Equal(t, was, c.InputsKey("v", other), "a photo without lines does not rest on parts.csv")
}

// A line that cannot be measured is named, kept, and costs no other mark.
func TestFaultyLinesAreNamedAndKept(t *testing.T) {
	feature := func(points, properties string) string {
		return `{"type":"FeatureCollection","photo":{"sha256":"` + hashA + `"},"features":[` +
			`{"type":"Feature","properties":{"what":"keep"},"geometry":{"type":"Polygon","coordinates":[[[0.1,0.1],[0.9,0.1],[0.5,0.8],[0.1,0.1]]]}},` +
			`{"type":"Feature","properties":{"what":"line"` + properties + `},"geometry":{"type":"LineString","coordinates":` + points + `}}]}`
	}
	const good = `,"part":"spike 1","measure":["length"]`
	for name, k := range map[string]struct{ points, properties, want string }{
		"one point":      {`[[0.1,0.1]]`, good, "one point"},
		"no point":       {`[]`, good, "one point"},
		"twice the same": {`[[0.1,0.1],[0.1,0.1]]`, good, "one point"},
		"crosses itself": {`[[0.1,0.1],[0.5,0.5],[0.5,0.1],[0.1,0.5]]`, good, "crosses itself"},
		"outside":        {`[[0.1,0.1],[1.5,0.5]]`, good, "outside the photo"},
		"no part":        {`[[0.1,0.1],[0.5,0.5]]`, `,"measure":["length"]`, "name is missing"},
		"no measure":     {`[[0.1,0.1],[0.5,0.5]]`, `,"part":"spike 1"`, "what to measure"},
		"odd measure":    {`[[0.1,0.1],[0.5,0.5]]`, `,"part":"spike 1","measure":["weight"]`, "weight"},
		"odd drawn":      {`[[0.1,0.1],[0.5,0.5]]`, good + `,"drawn":"guess"`, "guess"},
	} {
		t.Run(name, func(t *testing.T) {
			c := newCollection(t, map[string]string{MarksDir + "/a.json": feature(k.points, k.properties)})
			require.Len(t, c.Problems, 1)
			assert.Contains(t, c.Problems[0].What, k.want)
			assert.Len(t, c.MarksFor(hashA), 2, "kept, with the area beside it")
			require.NoError(t, c.SaveMarks(hashA, "a.jpg", c.MarksFor(hashA)), "and not lost when the file is written again")
			assert.Len(t, c.MarksFor(hashA), 2)
		})
	}
}

func TestRulesOnParts(t *testing.T) {
	c := newCollection(t, map[string]string{WatchFile: "quantity,of,condition,limit,message,plants,part\n" +
		"part_length,value,>=,300,stake it,,spike\nleaf_area,value,>=,1,x,,spike 1\npart_width,change,<=,detectable,shrinks,,bulb 2\n"})
	require.Len(t, c.Rules, 2)
	assert.Equal(t, "spike", c.Rules[0].Part)
	assert.Equal(t, "part_width change <= detectable of bulb 2", c.Rules[1].Key())
	require.Len(t, c.Problems, 1)
	assert.Contains(t, c.Problems[0].What, "whole plant")
}
