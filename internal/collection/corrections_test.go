package collection

import (
	"fmt"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/record"
	"phototrack/internal/reftest"
)

const (
	hashA = "aaaaaaaaaaaa1111111111111111111111111111111111111111111111111111"
	hashB = "bbbbbbbbbbbb2222222222222222222222222222222222222222222222222222"
)

func TestCorrectionsLastOneWins(t *testing.T) {
	c := newCollection(t, map[string]string{PlantsFile: "number\n7\n8\n"})
	ref := PhotoRef(hashA, "IMG 1.jpg")
	assert.Equal(t, "aaaaaaaaaaaa-IMG 1.jpg", ref)
	for _, k := range []Correction{
		{Photo: ref, Field: FieldPlant, Old: "0", New: "7", Reason: "tag fell over"},
		{Photo: ref, Field: FieldPlant, Old: "7", New: "8", Reason: "no, the other one"},
		{Photo: hashA, Field: FieldView, New: "root"},
		{Photo: hashA[:10], Field: FieldDate, New: "2026-05-14T10:15:00+02:00"},
		{Photo: "IMG 1.jpg", Field: FieldOffset, New: "-12,5"},
		{Photo: ref, Field: FieldPot, New: "120,100,125"},
		{Photo: ref, Field: FieldExclude, Reason: "moved"},
		{Photo: PhotoRef(hashB, "IMG 1.jpg"), Field: FieldExclude, Reason: "other photo"},
	} {
		require.NoError(t, c.AppendCorrection(k), k)
	}
	o := c.OverrideFor(hashA, "IMG 1.jpg")
	offset := -12.5
	assert.Equal(t, Override{Plant: 8, View: record.Root, Date: o.Date, OffsetMM: &offset, Pot: record.Pot{TopMM: 120, BottomMM: 100, HeightMM: 125}, Excluded: true, ExcludeReason: "moved"}, o)
	assert.Equal(t, "2026-05-14T10:15:00+02:00", o.Date.String())
	assert.Equal(t, "given", o.Date.Source)
	assert.Equal(t, "other photo", c.OverrideFor(hashB, "IMG 1.jpg").ExcludeReason)
	assert.Equal(t, Override{}, c.OverrideFor("cc"+hashB[2:], "IMG 2.jpg"))

	require.NoError(t, c.AppendCorrection(Correction{Photo: ref, Field: FieldInclude, Reason: "fine after all"}))
	assert.False(t, c.OverrideFor(hashA, "IMG 1.jpg").Excluded)
	assert.Error(t, c.AppendCorrection(Correction{Photo: ref, Field: FieldPlant, New: "a fern"}))
	assert.Error(t, c.AppendCorrection(Correction{Field: FieldPlant, New: "7"}))

	data, _ := os.ReadFile(c.Path(CorrectionsFile))
	assert.Equal(t, 1+9, strings.Count(string(data), "\n"), "nothing that was decided is ever taken out")
	for _, k := range c.Corrections {
		_, err := time.Parse(time.RFC3339, k.Time)
		assert.NoError(t, err)
	}
}

func TestADateThatIsPutOnRecordMakesNothingDue(t *testing.T) {
	c := newCollection(t, nil)
	p := &record.Photo{Name: "a.jpg", SHA256: hashA, Plant: 7, View: record.Leaf,
		Taken: record.Stamp{Time: time.Date(2026, 5, 14, 0, 0, 0, 0, time.UTC), Source: "given"}}
	key := c.InputsKey("1", p)
	require.NoError(t, c.AppendCorrection(Correction{Photo: PhotoRef(p.SHA256, p.Name), Field: FieldDate, New: p.Taken.String()}))
	assert.Equal(t, key, c.InputsKey("1", p))
	require.NoError(t, c.AppendCorrection(Correction{Photo: PhotoRef(p.SHA256, p.Name), Field: FieldDate, New: "2026-05-15"}))
	assert.NotEqual(t, key, c.InputsKey("1", p))
}

func TestManyCorrectionsAtOnce(t *testing.T) {
	c := newCollection(t, nil)
	list := make([]Correction, 5000)
	for i := range list {
		list[i] = Correction{Photo: PhotoRef(fmt.Sprintf("%012x%052d", i, 0), "a.jpg"), Field: FieldDate, New: "2026-05-14"}
	}
	require.NoError(t, c.AppendCorrections(list...))
	start := time.Now()
	for i := range 20000 {
		o := c.OverrideFor(fmt.Sprintf("%012x%052d", i, 0), "a.jpg")
		require.Equal(t, i < len(list), !o.Date.IsZero())
	}
	assert.Less(t, time.Since(start), reftest.Patience(2*time.Second), "20,000 photos against 5,000 lines")
	before, err := os.ReadFile(c.Path(CorrectionsFile))
	require.NoError(t, err)
	require.Error(t, c.AppendCorrections(Correction{Photo: "a.jpg", Field: FieldExclude}, Correction{Photo: "a.jpg", Field: "mood"}))
	after, err := os.ReadFile(c.Path(CorrectionsFile))
	require.NoError(t, err)
	assert.Equal(t, before, after, "all or none")
}

func TestAnswers(t *testing.T) {
	c := newCollection(t, map[string]string{PlantsFile: "number\n7\n31\n"})
	require.Equal(t, "root_longest value >= 75", c.Rules[0].Key())
	require.Equal(t, "purple_share change >= detectable", c.Rules[1].Key())
	_, ok := c.AnswerFor(31, c.Rules[0])
	assert.False(t, ok)
	require.NoError(t, c.AppendAnswer(31, c.Rules[0], "watering again, slowly"))
	a, ok := c.AnswerFor(31, c.Rules[0])
	assert.True(t, ok)
	assert.Equal(t, "watering again, slowly", a.Note)
	_, ok = c.AnswerFor(7, c.Rules[0])
	assert.False(t, ok, "another plant")
	_, ok = c.AnswerFor(31, c.Rules[1])
	assert.False(t, ok, "another rule")
	assert.Equal(t, Override{}, c.OverrideFor(hashA, ""), "an answer is about no photo")
}

func TestRulesAndTheirPlants(t *testing.T) {
	c := newCollection(t, map[string]string{
		PlantsFile: "number,group\n3,ferns\n4,\n5,ferns\n",
		WatchFile:  "quantity,of,condition,limit,message,plants\nleaf_area,change,<=,detectable,shrinks,Ferns\nLEAF_AREA,,>,0.5,,4-5\nroot_tips,trend,>=,2,,\n",
	})
	assert.Empty(t, c.Problems)
	require.Len(t, c.Rules, 3)
	assert.Equal(t, record.WatchRule{Line: 2, Quantity: record.LeafArea, Of: "change", Condition: "<=", Detectable: true, Message: "shrinks", Group: "Ferns"}, c.Rules[0])
	assert.Equal(t, record.WatchRule{Line: 3, Quantity: record.LeafArea, Of: "value", Condition: ">=", Limit: 0.5, Plants: []int{4, 5}}, c.Rules[1])
	assert.Equal(t, []int{3, 5}, c.RulePlants(c.Rules[0]))
	assert.Equal(t, []int{4, 5}, c.RulePlants(c.Rules[1]))
	assert.Equal(t, []int{3, 4, 5}, c.RulePlants(c.Rules[2]))
}

func TestCardAt(t *testing.T) {
	c := newCollection(t, map[string]string{
		CardsFile:   "from_date;across_mm;down_mm;colour_from;note\n2026-06-01;98,9;89;card.txt;new printer\n2026-03-01;100,0;90,0;nominal;\n2026-09-01;;;;not checked yet\n",
		"card.txt":  "CGATS.17\n",
		"watch.csv": "quantity,of,condition,limit\n",
	})
	assert.Empty(t, c.Problems)
	assert.False(t, c.CardAt("2026-02-28").Measured, "before the first line nothing is known")
	assert.Equal(t, CardRecord{FromDate: "2026-03-01", AcrossMM: 100, DownMM: 90, ColourFrom: "nominal", Measured: true}, c.CardAt("2026-03-01"))
	k := c.CardAt("2026-08-31")
	assert.Equal(t, 98.9, k.AcrossMM)
	assert.Equal(t, "card.txt", k.ColourFrom)
	assert.False(t, c.CardAt("2026-10-01").Measured)
	assert.False(t, c.CardAt("").Measured, "several prints, no date")

	require.NoError(t, c.AppendCard(CardRecord{FromDate: "2026-11-01", AcrossMM: 101.5, DownMM: 91.2, Measured: true, Note: "third print"}))
	assert.Equal(t, 101.5, c.CardAt("2026-12-01").AcrossMM)
	assert.Error(t, c.AppendCard(CardRecord{FromDate: "1.12.2026"}))
	assert.Error(t, c.AppendCard(CardRecord{ColourFrom: "/etc/passwd"}))
	data, _ := os.ReadFile(c.Path(CardsFile))
	assert.True(t, strings.HasSuffix(string(data), "\n2026-11-01;101.5;91.2;nominal;third print\n"), string(data))
}

func TestInputsKeyFollowsWhatCountsAndNothingElse(t *testing.T) {
	files := map[string]string{
		PlantsFile: "number,name,group,pot_top_mm,pot_bottom_mm,pot_height_mm,note\n7,Seven,,100,90,110,\n",
		EventsFile: "date,plant,event,note\n",
		CardsFile:  "from_date,across_mm,down_mm,colour_from,note\n2026-01-01,100,90,nominal,\n",
	}
	day := record.Stamp{Time: time.Date(2026, 5, 14, 10, 0, 0, 0, time.UTC), Source: "exif"}
	leaf := &record.Photo{Name: "a.jpg", SHA256: hashA, Plant: 7, View: record.Leaf, Taken: day}
	root := &record.Photo{Name: "b.jpg", SHA256: hashB, Plant: 7, View: record.Root, Taken: day}
	base := newCollection(t, files)
	leafKey, rootKey := base.InputsKey("1", leaf), base.InputsKey("1", root)
	assert.Equal(t, leafKey, newCollection(t, files).InputsKey("1", leaf), "another folder, the same inputs")
	assert.NotEqual(t, leafKey, base.InputsKey("2", leaf), "another version of the measuring")

	for _, tt := range []struct {
		name, file, text     string
		leafChanges, rootToo bool
	}{
		{"offset", SettingsFile, "[measurement]\noffset_mm = 3\n", true, true},
		{"class table", SettingsFile, "[classes]\nyellow_from_deg = 82\n", true, false},
		{"settings of the report", SettingsFile, "[report]\npicture_px = 500\n[run]\nworkers = 2\n[change]\nnoise_area = 0.02\n", false, false},
		{"pot", PlantsFile, "number,name,group,pot_top_mm,pot_bottom_mm,pot_height_mm,note\n7,Seven,,101,90,110,\n", false, true},
		{"name and note", PlantsFile, "number,name,group,pot_top_mm,pot_bottom_mm,pot_height_mm,note\n7,Sieben,x,100,90,110,hello\n", false, false},
		{"not listed any more", PlantsFile, "number,pot_top_mm\n8,\n", true, true},
		{"new pot before the photo", EventsFile, "date,plant,event,note,pot_top_mm,pot_bottom_mm,pot_height_mm\n2026-05-13,7,repot,,120,100,120\n", false, true},
		{"new pot on the photo's day", EventsFile, "date,plant,event,note,pot_top_mm,pot_bottom_mm,pot_height_mm\n2026-05-14,7,repot,,120,100,120\n", false, false},
		{"event without a pot", EventsFile, "date,plant,event,note\n2026-05-01,7,feed,\n", false, false},
		{"card", CardsFile, "from_date,across_mm,down_mm,colour_from,note\n2026-01-01,99,90,nominal,\n", true, true},
		{"card's note", CardsFile, "from_date,across_mm,down_mm,colour_from,note\n2026-01-02,100,90,nominal,x\n", false, false},
		{"correction of the leaf photo", CorrectionsFile, "time,photo,field,old,new,reason\n,a.jpg,offset_mm,,5,\n", true, false},
	} {
		t.Run(tt.name, func(t *testing.T) {
			changed := map[string]string{}
			for k, v := range files {
				changed[k] = v
			}
			changed[tt.file] = tt.text
			c := newCollection(t, changed)
			assert.Equal(t, tt.leafChanges, c.InputsKey("1", leaf) != leafKey, "leaf photo")
			assert.Equal(t, tt.rootToo, c.InputsKey("1", root) != rootKey, "root photo")
		})
	}
	require.NoError(t, base.SaveMarks(hashA, "a.jpg", []Mark{{What: MarkKeep, Rings: [][][2]float64{{{0, 0}, {1, 0}, {1, 1}, {0, 0}}}}}))
	assert.NotEqual(t, leafKey, base.InputsKey("1", leaf), "marks")
	assert.Equal(t, rootKey, base.InputsKey("1", root))
}
