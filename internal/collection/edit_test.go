package collection

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/record"
)

func text(s string) *string { return &s }

func bytesOf(t *testing.T, c *Collection, file string) string {
	t.Helper()
	data, err := os.ReadFile(c.Path(file))
	require.NoError(t, err)
	return string(data)
}

const bench = "number,name,group\n3,Three,ferns\n4,Four,ferns\n5,Five,\n6,Six,\n7,Seven,\n"

// Whatever wrote the file: the one line changes, every other byte stays.
func TestAnEditTouchesNothingElse(t *testing.T) {
	pot := record.Pot{TopMM: 120, BottomMM: 100, HeightMM: 125}
	for _, tt := range []struct {
		name, before, after string
		line                int
		change              EventChange
	}{
		{"plain", "date,plant,event,note\n2026-05-01,3,feed,a\n2026-05-02,4,feed,b\n2026-05-03,5,feed,c\n",
			"date,plant,event,note\n2026-05-01,3,feed,a\n2026-05-12,4,feed,b\n2026-05-03,5,feed,c\n", 3, EventChange{Date: text("2026-05-12")}},
		{"quoted cells stay quoted", "date,plant,event,note\n\"2026-05-01\",\"3\",\"feed\",\"a, \"\"b\"\"\"\n", "date,plant,event,note\n\"2026-05-01\",\"3\",water,\"a, \"\"b\"\"\"\n", 2, EventChange{Kind: text("water")}},
		{"a text that needs quotes gets them", "date,plant,event,note\n2026-05-01,3,feed,a\n", "date,plant,event,note\n2026-05-01,3,feed,\"half, \"\"strong\"\"\"\n", 2, EventChange{Note: text(`half, "strong"`)}},
		{"a formula is disarmed", "date,plant,event,note\n2026-05-01,3,feed,a\n", "date,plant,event,note\n2026-05-01,3,feed,'=1+1\n", 2, EventChange{Note: text("=1+1")}},
		{"byte order mark and CRLF", "\ufeffdate,plant,event,note\r\n2026-05-01,3,feed,a\r\n2026-05-02,4,feed,b\r\n", "\ufeffdate,plant,event,note\r\n2026-05-01,3,feed,ä\r\n2026-05-02,4,feed,b\r\n", 2, EventChange{Note: text("ä")}},
		{"semicolons, a pot with decimal commas stays", "sep=;\r\ndate;plant;event;pot_top_mm;pot_bottom_mm;pot_height_mm\r\n2026-05-01;3;repot;120,0;100,0;125,0\r\n", "sep=;\r\ndate;plant;event;pot_top_mm;pot_bottom_mm;pot_height_mm\r\n2026-05-01;3, 5;repot;120,0;100,0;125,0\r\n", 3, EventChange{Plants: text("3, 5"), Pot: &pot}},
		{"tabs, no last line end", "note\tdate\tplant\tevent\n\t2026-05-01\t3\tfeed\n\t2026-05-02\t4\tfeed", "note\tdate\tplant\tevent\n\t2026-05-01\t3\tfeed\nweak\t2026-05-02\t4\tfeed", 3, EventChange{Note: text("weak")}},
		{"a short line grows to the column", "date,plant,event,note,pot_top_mm,pot_bottom_mm,pot_height_mm\n2026-05-01,3,repot\n2026-05-02,4,feed\n", "date,plant,event,note,pot_top_mm,pot_bottom_mm,pot_height_mm\n2026-05-01,3,repot,,120,100,125\n2026-05-02,4,feed\n", 2, EventChange{Pot: &pot}},
		{"faulty, blank and remarked lines stay", "date,plant,event,note\n\n# mine,,,\n2026-05-01,3,feed,a\n2026-05-99,\"4,feed,b\n", "date,plant,event,note\n\n# mine,,,\n2026-05-01,3,feed,b\n2026-05-99,\"4,feed,b\n", 4, EventChange{Note: text("b")}},
		{"a column of one's own", "date,mood,plant,event,note\n2026-05-01,good,3,feed,a\n", "date,mood,plant,event,note\n2026-05-01,good,3-4,feed,a\n", 2, EventChange{Plants: text("3-4")}},
		{"a column that stands twice", "date,plant,event,note,note\n2026-05-01,3,feed,a,b\n", "date,plant,event,note,note\n2026-05-01,3,feed,c,b\n", 2, EventChange{Note: text("c")}},
		{"a line over two lines", "date,plant,event,note\n2026-05-01,3,feed,\"one\r\ntwo\"\n2026-05-02,4,feed,b\n", "date,plant,event,note\n2026-05-01,3,water,\"one\r\ntwo\"\n2026-05-02,4,feed,b\n", 2, EventChange{Kind: text("water")}},
		{"a date that means the same", "date,plant,event,note\n2026-5-1,3,feed,a\n", "date,plant,event,note\n2026-5-1,3,feed,b\n", 2, EventChange{Date: text("2026-05-01"), Note: text("b")}},
		{"Windows code page", "date,plant,event,note\n2026-05-01,3,feed,f\xfcr\n2026-05-02,4,feed,b\xe4r\n", "date,plant,event,note\n2026-05-01,3,feed,\xfcber\n2026-05-02,4,feed,b\xe4r\n", 2, EventChange{Note: text("über")}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			c := newCollection(t, map[string]string{PlantsFile: bench, EventsFile: tt.before})
			require.NoError(t, c.ChangeEvents(c.Version(EventsFile), []int{tt.line}, tt.change, "typing error"))
			assert.Equal(t, tt.after, bytesOf(t, c, EventsFile))
			require.Len(t, c.Corrections, 1)
			k := c.Corrections[0]
			assert.Equal(t, FieldEventLine, k.Field)
			assert.Equal(t, "typing error", k.Reason)
			assert.NotEmpty(t, k.Time)
			assert.NotEqual(t, k.Old, k.New)

			kept, err := os.ReadDir(c.Path(FormerDir))
			require.NoError(t, err)
			require.Len(t, kept, 1)
			assert.Equal(t, tt.before, bytesOf(t, c, filepath.Join(FormerDir, kept[0].Name())), "the former file is kept")

			events := c.Events
			require.NoError(t, c.TakeBack(k, "taken back"))
			require.NoError(t, c.TakeBack(c.Corrections[1], "taken back again"))
			assert.Equal(t, events, c.Events, "back and forth")
			require.NoError(t, c.TakeBack(c.Corrections[2], "and once more"))
			again := newCollection(t, map[string]string{PlantsFile: bench, EventsFile: tt.before})
			assert.Equal(t, again.Events, c.Events, "what it was before")
		})
	}
}

func TestManyLinesAreChangedOrNone(t *testing.T) {
	before := "date,plant,event,note\n2026-05-01,3,repot,bark\n2026-05-01,ferns,repot,\n2026-05-01,5-7,repot,moss\n"
	c := newCollection(t, map[string]string{PlantsFile: bench, EventsFile: before})
	require.NoError(t, c.ChangeEvents(c.Version(EventsFile), []int{4, 2, 3}, EventChange{Date: text("2026-05-02")}, ""))
	assert.Equal(t, strings.ReplaceAll(before, "2026-05-01", "2026-05-02"), bytesOf(t, c, EventsFile))
	require.Len(t, c.Corrections, 3)
	require.NoError(t, c.TakeBack(c.Corrections[1], "it was the day before"))
	assert.Equal(t, before, bytesOf(t, c, EventsFile), "one change is taken back as one")
	require.Len(t, c.Corrections, 6)

	for name, k := range map[string]EventChange{
		"no day":      {Date: text("2026-05-40")},
		"no kind":     {Kind: text("dance")},
		"no plant":    {Plants: text("99")},
		"nobody":      {Plants: text(" ")},
		"half a pot":  {Pot: &record.Pot{TopMM: 100}},
		"no pot here": {Pot: &record.Pot{TopMM: 100, BottomMM: 90, HeightMM: 80}}, // the file has no such columns
	} {
		require.Error(t, c.ChangeEvents(c.Version(EventsFile), []int{2, 3}, k, ""), name)
	}
	assert.Equal(t, before, bytesOf(t, c, EventsFile))
	require.Len(t, c.Corrections, 6)
	require.NoError(t, c.ChangeEvents(c.Version(EventsFile), []int{2}, EventChange{Note: text("bark")}, ""))
	require.Len(t, c.Corrections, 6, "no change, no record")
}

func TestOnePlantOfALine(t *testing.T) {
	before := "date,plant,event,note\r\n2026-05-01,3-7,repot,bark\r\n2026-05-02,ferns,feed,"
	c := newCollection(t, map[string]string{PlantsFile: bench, EventsFile: before})
	require.NoError(t, c.ChangeEventOf(c.Version(EventsFile), 2, 6, EventChange{Note: text("moss")}, ""))
	assert.Equal(t, "date,plant,event,note\r\n2026-05-01,3-5 7,repot,bark\r\n2026-05-01,6,repot,moss\r\n2026-05-02,ferns,feed,", bytesOf(t, c, EventsFile))
	require.NoError(t, c.TakeBack(c.Corrections[0], "no"))
	assert.Equal(t, before, bytesOf(t, c, EventsFile))

	require.NoError(t, c.ChangeEventOf(c.Version(EventsFile), 3, 4, EventChange{Kind: text("water")}, ""))
	assert.Equal(t, "date,plant,event,note\r\n2026-05-01,3-7,repot,bark\r\n2026-05-02,3,feed,\r\n2026-05-02,4,water,", bytesOf(t, c, EventsFile))
	require.NoError(t, c.RemoveEventOf(c.Version(EventsFile), 2, 3, ""))
	assert.Contains(t, bytesOf(t, c, EventsFile), "2026-05-01,4-7,repot,bark")
	require.Error(t, c.RemoveEventOf(c.Version(EventsFile), 4, 4, ""), "the only plant of its line")
	require.ErrorIs(t, c.RemoveEventOf(c.Version(EventsFile), 2, 3, ""), ErrStale, "it is not in the line any more")
}

func TestRemovedLinesComeBack(t *testing.T) {
	before := "date,plant,event,note\n2026-05-01,3,repot,bark\n2026-05-02,4,feed,\"a, b\"\n2026-05-03,5,water,"
	c := newCollection(t, map[string]string{PlantsFile: bench, EventsFile: before})
	events := c.Events
	require.NoError(t, c.RemoveEvents(c.Version(EventsFile), []int{3}, "never happened"))
	assert.Equal(t, "date,plant,event,note\n2026-05-01,3,repot,bark\n2026-05-03,5,water,", bytesOf(t, c, EventsFile))
	require.NoError(t, c.RemoveEvents(c.Version(EventsFile), []int{2, 3}, "nor those"))
	assert.Equal(t, "date,plant,event,note\n", bytesOf(t, c, EventsFile))
	assert.Equal(t, "date=2026-05-02,plant=4,event=feed,\"note=a, b\"", c.Corrections[0].Old)
	assert.Empty(t, c.Corrections[0].New)
	require.NoError(t, c.TakeBack(c.Corrections[1], ""))
	require.NoError(t, c.TakeBack(c.Corrections[0], ""))
	assert.Equal(t, events, c.Events)
	require.Error(t, c.TakeBack(Correction{Field: FieldPlant}, ""))
}

// A file that was edited elsewhere since the page was made is left alone.
func TestAChangeOnDiskIsNeverOverwritten(t *testing.T) {
	before := "date,plant,event,note\n2026-05-01,3,repot,bark\n"
	c := newCollection(t, map[string]string{PlantsFile: bench, EventsFile: before})
	version := c.Version(EventsFile)
	elsewhere := "date,plant,event,note\n2026-04-01,5,feed,\n2026-05-01,3,repot,bark\n"
	require.NoError(t, os.WriteFile(c.Path(EventsFile), []byte(elsewhere), 0o644))
	for name, try := range map[string]func(c *Collection) error{
		"change": func(c *Collection) error {
			return c.ChangeEvents(version, []int{2}, EventChange{Note: text("x")}, "")
		},
		"remove": func(c *Collection) error { return c.RemoveEvents(version, []int{2}, "") },
	} {
		require.ErrorIs(t, try(c), ErrStale, name+": read before")
		fresh, err := Open(c.Dir)
		require.NoError(t, err)
		require.ErrorIs(t, try(fresh), ErrStale, name+": read after")
	}
	require.NoError(t, os.Remove(c.Path(EventsFile)))
	require.ErrorIs(t, c.RemoveEvents(version, []int{2}, ""), ErrStale)
	assert.NoDirExists(t, c.Path(FormerDir))
	assert.Empty(t, c.Corrections)
}

func TestPlantsAreRenamedAndRepotted(t *testing.T) {
	before := "number;name;group;pot_top_mm;pot_bottom_mm;pot_height_mm;note\n#3;Three;ferns;100,0;84;100;old\n4;Four;ferns;;;;\n5;Five;;;;;\n"
	c := newCollection(t, map[string]string{PlantsFile: before, EventsFile: "date,plant,event\n2026-05-01,ferns,feed\n"})
	require.NoError(t, c.ChangePlants(c.Version(PlantsFile), []int{3}, PlantChange{Name: text("Drei; die alte"), Pot: &record.Pot{TopMM: 100, BottomMM: 84, HeightMM: 100}}, "renamed"))
	assert.Equal(t, strings.Replace(before, "Three", `"Drei; die alte"`, 1), bytesOf(t, c, PlantsFile))
	require.NoError(t, c.ChangePlants(c.Version(PlantsFile), []int{5, 4}, PlantChange{Group: text("orchids"), Pot: &record.Pot{TopMM: 120, BottomMM: 100, HeightMM: 125}}, ""))
	assert.Contains(t, bytesOf(t, c, PlantsFile), "\n4;Four;orchids;120;100;125;\n5;Five;orchids;120;100;125;\n")
	require.Len(t, c.Corrections, 3)

	now := bytesOf(t, c, PlantsFile)
	err := c.ChangePlants(c.Version(PlantsFile), []int{3}, PlantChange{Group: text("")}, "")
	require.Error(t, err, "the event's group would have no plant left")
	assert.Contains(t, err.Error(), "events.csv line 2")
	require.Error(t, c.ChangePlants(c.Version(PlantsFile), []int{3}, PlantChange{From: text("2026-05-01")}, ""), "no such column in this file")
	require.ErrorIs(t, c.ChangePlants(c.Version(PlantsFile), []int{9}, PlantChange{Name: text("x")}, ""), ErrStale)
	assert.Equal(t, now, bytesOf(t, c, PlantsFile))
	require.NoError(t, c.TakeBack(c.Corrections[2], ""))
	require.NoError(t, c.TakeBack(c.Corrections[0], ""))
	assert.Contains(t, bytesOf(t, c, PlantsFile), "Three;ferns;100,0;84;100;old")
	p, _ := c.Plant(5)
	assert.Equal(t, record.Plant{Number: 5, Name: "Five"}, p)

	require.NoError(t, c.ChangePlants(c.Version(PlantsFile), []int{5}, PlantChange{Name: text("A")}, ""))
	require.NoError(t, c.ChangePlants(c.Version(PlantsFile), []int{5}, PlantChange{Name: text("B")}, "again"))
	require.Error(t, c.TakeBack(c.Corrections[len(c.Corrections)-2], ""), "the later change comes first")
}

// Where the change cannot be put on record it is not made.
func TestNoChangeWithoutARecord(t *testing.T) {
	before := "date,plant,event,note\n2026-05-01,3,repot,bark\n"
	c := newCollection(t, map[string]string{PlantsFile: bench, EventsFile: before, CorrectionsFile: "field,new\nx\n"})
	require.Error(t, c.ChangeEvents(c.Version(EventsFile), []int{2}, EventChange{Note: text("x")}, ""))
	assert.Equal(t, before, bytesOf(t, c, EventsFile))
}

func FuzzEdited(f *testing.F) {
	f.Add("date,plant,event,note\n2026-05-01,3,repot,bark\n", "x, \"y\"", 2)
	f.Add("\ufeffsep=;\r\nnote;date;plant;event\r\n\"a\nb\";2026-05-01;3;repot\r\r\n", "=1", 3)
	f.Fuzz(func(t *testing.T, data, note string, line int) {
		before, _ := splitCSV([]byte(data))
		note = oneLine("x" + note) // an emptied line would be no line
		out, _, err := edited(EventsFile, []byte(data), eventColumns, []lineEdit{{line: line, set: map[string]string{"note": note}}})
		if err != nil {
			return
		}
		after, _ := splitCSV(out)
		if len(after) != len(before) {
			t.Fatalf("%d rows, %d before", len(after), len(before))
		}
		for i := range before {
			if before[i].line != line {
				assert.Equal(t, before[i].fields, after[i].fields)
				assert.Equal(t, data[before[i].at.from:before[i].at.to], string(out[after[i].at.from:after[i].at.to]))
			}
		}
	})
}
