package collection

import (
	"encoding/csv"
	"os"
	"reflect"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/record"
)

func TestFilesAsSpreadsheetsWriteThem(t *testing.T) {
	want := []record.Plant{
		{Number: 12, Name: "Clivia A", Group: "clivia", Note: "sibling, of 44"},
		{Number: 31, Name: "Vanda", Group: "vanda", Pot: record.Pot{TopMM: 100.5, BottomMM: 84, HeightMM: 100}, From: "2026-03-01", Note: `a "clear" pot`},
	}
	for name, text := range map[string]string{
		"plain":                           "number,name,group,pot_top_mm,pot_bottom_mm,pot_height_mm,from,until,note\n12,Clivia A,clivia,,,,,,\"sibling, of 44\"\n31,Vanda,vanda,100.5,84,100,2026-03-01,,\"a \"\"clear\"\" pot\"\n",
		"byte order mark, CRLF":           "\ufeffnumber,name,group,pot_top_mm,pot_bottom_mm,pot_height_mm,from,until,note\r\n12,Clivia A,clivia,,,,,,\"sibling, of 44\"\r\n31,Vanda,vanda,100.5,84,100,2026-03-01,,\"a \"\"clear\"\" pot\"\r\n",
		"semicolons, decimal comma":       "number;name;group;pot_top_mm;pot_bottom_mm;pot_height_mm;from;until;note\r\n12;Clivia A;clivia;;;;;;sibling, of 44\r\n31;Vanda;vanda;100,5;84;100,0;2026-03-01;;\"a \"\"clear\"\" pot\"\r\n",
		"tabs":                            "number\tname\tgroup\tpot_top_mm\tpot_bottom_mm\tpot_height_mm\tfrom\tuntil\tnote\n12\tClivia A\tclivia\t\t\t\t\t\tsibling, of 44\n31\tVanda\tvanda\t100.5\t84\t100\t2026-03-01\t\t\"a \"\"clear\"\" pot\"\n",
		"a line that names the separator": "sep=;\nnumber;name;group;pot_top_mm;pot_bottom_mm;pot_height_mm;from;note\n12;Clivia A;clivia;;;;;sibling, of 44\n31;Vanda;vanda;100,5;84;100;2026-03-01;a \"clear\" pot\n",
		"other order, fewer columns, no last line end": "note,Number,NAME,pot_height_mm,pot_bottom_mm,pot_top_mm,group,from\n\"sibling, of 44\",12,Clivia A,,,,clivia,\n,,,,,,,\n\"a \"\"clear\"\" pot\",#31,Vanda,100,84,\"100,5\",vanda,2026-3-1",
		"lone carriage returns":                        "number,name,group,pot_top_mm,pot_bottom_mm,pot_height_mm,from,until,note\r12,Clivia A,clivia,,,,,,\"sibling, of 44\"\r31,Vanda,vanda,100.5,84,100,2026-03-01,,\"a \"\"clear\"\" pot\"\r",
	} {
		t.Run(name, func(t *testing.T) {
			c := newCollection(t, map[string]string{PlantsFile: text})
			assert.Empty(t, c.Problems)
			assert.Equal(t, want, c.Plants)
		})
	}
}

func TestEveryFaultIsNamedAndStopsOnlyItsLine(t *testing.T) {
	for _, tt := range []struct {
		name, file, text string
		place            string // of the one problem
		what             string // part of its text
		note             bool
		kept             int // lines that count all the same
	}{
		{"number missing", PlantsFile, "number,name\n,No Number\n7,Seven\n", "plants.csv line 2, column A (number)", "missing", false, 1},
		{"number too large", PlantsFile, "number,name\n575,Card\n7,Seven\n", "plants.csv line 2, column A (number)", "575", false, 1},
		{"number twice", PlantsFile, "number,name\n7,Seven\n8,Eight\n7,Again\n", "plants.csv line 4, column A (number)", "line 2", false, 2},
		{"pot with a unit", PlantsFile, "number,pot_top_mm\n7,120 mm\n8,\n", "plants.csv line 2, column B (pot_top_mm)", `"120 mm"`, false, 1},
		{"pot in centimetres", PlantsFile, "number,pot_top_mm\n7,12\n8,\n", "plants.csv line 2, column B (pot_top_mm)", "outside", false, 1},
		{"pot not a number", PlantsFile, "number,pot_top_mm\n7,NaN\n8,\n", "plants.csv line 2, column B (pot_top_mm)", "NaN", false, 1},
		{"pot half given", PlantsFile, "number,pot_top_mm,pot_bottom_mm,pot_height_mm\n7,120,,\n8,,,\n", "plants.csv line 2, column B (pot_top_mm)", "three sizes", true, 2},
		{"date turned round", PlantsFile, "number,name,from\n7,Seven,14.05.2026\n8,Eight,\n", "plants.csv line 2, column C (from)", "14.05.2026", false, 1},
		{"no such day", PlantsFile, "number,from\n7,2026-02-30\n8,\n", "plants.csv line 2, column B (from)", "2026-02-30", false, 1},
		{"left before it joined", PlantsFile, "number,from,until\n7,2026-02-03,2025-01-01\n8,,\n", "plants.csv line 2, column C (until)", "before", false, 1},
		{"unknown column", PlantsFile, "number,colour\n7,red\n8,\n", "plants.csv line 1, column B (colour)", "not known", true, 2},
		{"no number column", PlantsFile, "name\nSeven\n", "plants.csv line 1, number", "no column", false, 0},
		{"quote never closed", PlantsFile, "number,name\n7,\"Seven\n8,Eight\n9,Nine\n", "plants.csv line 2", "quote", false, 2},
		{"comma without quotes", PlantsFile, "number,name\n7,Seven, the late\n8,Eight\n", "plants.csv line 2", "3 fields", false, 1},
		{"a spreadsheet file", PlantsFile, "PK\x03\x04\x00\x00", "plants.csv", "spreadsheet", false, 0},
		{"UTF-16", PlantsFile, "\xff\xfen\x00u\x00m\x00", "plants.csv", "plain text", false, 0},
		{"event of no kind", EventsFile, "date,plant,event\n2026-05-01,7,sang to it\n2026-05-01,7,feed\n", "events.csv line 2, column C (event)", "sang to it", false, 1},
		{"event without date", EventsFile, "date,plant,event\n,7,feed\n2026-05-01,7,feed\n", "events.csv line 2, column A (date)", "missing", false, 1},
		{"event for nobody", EventsFile, "date,plant,event\n2026-05-01,ferns,feed\n2026-05-01,7,feed\n", "events.csv line 2, column B (plant)", "ferns", false, 1},
		{"event for no plant", EventsFile, "date,plant,event\n2026-05-01,,feed\n2026-05-01,7,feed\n", "events.csv line 2, column B (plant)", "no plant", false, 1},
		{"range backwards", EventsFile, "date,plant,event\n2026-05-01,9-7,feed\n2026-05-01,7,feed\n", "events.csv line 2, column B (plant)", "backwards", false, 1},
		{"unlisted plant", EventsFile, "date,plant,event\n2026-05-01,99,feed\n", "events.csv line 2, column B (plant)", "99", true, 1},
		{"rule on nothing", WatchFile, "quantity,of,condition,limit\nhappiness,value,>=,1\nleaf_area,value,<=,100\n", "watch.csv line 2, column A (quantity)", "happiness", false, 1},
		{"rule with a percent sign", WatchFile, "quantity,of,condition,limit\nyellow_share,value,>=,10%\nleaf_area,value,<=,100\n", "watch.csv line 2, column D (limit)", "10%", false, 1},
		{"detectable value", WatchFile, "quantity,of,condition,limit\nleaf_area,value,>=,detectable\nleaf_area,value,<=,100\n", "watch.csv line 2, column D (limit)", "changes only", false, 1},
		{"no such condition", WatchFile, "quantity,of,condition,limit\nleaf_area,value,about,1\nleaf_area,value,<=,100\n", "watch.csv line 2, column C (condition)", "about", false, 1},
		{"card in inches", CardsFile, "from_date,across_mm,down_mm\n2026-01-01,3.94,90\n2026-01-02,100,90\n", "cards.csv line 2, column B (across_mm)", "outside", false, 1},
		{"card measured one way", CardsFile, "from_date,across_mm,down_mm\n2026-01-01,99.5,\n", "cards.csv line 2, column B (across_mm)", "only one", true, 1},
		{"colours from outside", CardsFile, "from_date,across_mm,down_mm,colour_from\n2026-01-01,100,90,../../etc/passwd\n", "cards.csv line 2, column D (colour_from)", "within the collection", false, 0},
		{"correction of nothing", CorrectionsFile, "time,photo,field,old,new,reason\n,a.jpg,mood,,good,\n,a.jpg,plant,,7,\n", "corrections.csv line 2, column C (field)", "mood", false, 1},
		{"correction to no plant", CorrectionsFile, "time,photo,field,old,new,reason\n,a.jpg,plant,,700,\n,a.jpg,plant,,7,\n", "corrections.csv line 2, column E (new)", "700", false, 1},
	} {
		t.Run(tt.name, func(t *testing.T) {
			files := map[string]string{WatchFile: "quantity,of,condition,limit\n", PlantsFile: "number\n7\n8\n9\n"}
			files[tt.file] = tt.text
			c := newCollection(t, files)
			var problems []LineError
			for _, p := range c.Problems {
				if p.File == tt.file {
					problems = append(problems, p)
				}
			}
			require.Len(t, problems, 1)
			assert.Equal(t, tt.place, problems[0].Place())
			assert.Contains(t, problems[0].What, tt.what)
			assert.Equal(t, tt.note, problems[0].Note)
			assert.NotEmpty(t, problems[0].Hint)
			kept := map[string]int{PlantsFile: len(c.Plants), EventsFile: len(c.Events), WatchFile: len(c.Rules), CardsFile: len(c.Cards), CorrectionsFile: len(c.Corrections)}
			assert.Equal(t, tt.kept, kept[tt.file])
		})
	}
}

func TestDateHintsOfferOnlyWhatIsCertain(t *testing.T) {
	assert.Contains(t, dateHint("14.05.2026"), "2026-05-14")
	assert.Contains(t, dateHint("3.4.2026"), "2026-04-03")
	assert.Contains(t, dateHint("05/14/2026"), "2026-05-14")
	assert.Contains(t, dateHint("14/05/2026"), "2026-05-14")
	assert.Contains(t, dateHint("03/04/2026"), "not clear")
}

func TestOldWindowsFilesAreRead(t *testing.T) {
	c := newCollection(t, map[string]string{PlantsFile: "number;name\r\n7;K\xfcche \x80\r\n"})
	assert.Empty(t, c.Problems)
	assert.Equal(t, "Küche €", c.Plants[0].Name)
	require.NoError(t, c.AppendPlant(record.Plant{Number: 8, Name: "Bär; groß"}))
	data, err := os.ReadFile(c.Path(PlantsFile))
	require.NoError(t, err)
	assert.Equal(t, "number;name\r\n7;K\xfcche \x80\r\n8;\"B\xe4r; gro\xdf\"\r\n", string(data), "in the file's own coding, separator and line end")
}

func TestEventsForSeveralPlants(t *testing.T) {
	c := newCollection(t, map[string]string{
		PlantsFile: "number,group\n3,ferns\n4,\n5,Ferns\n12,\n",
		EventsFile: "date,plant,event,note\n2026-06-01,ferns,water,\n2026-05-01,3-5 12,FEED,weak\n2026-05-01,\"12, 4\",move,\n",
	})
	assert.Empty(t, c.Problems)
	var got []string
	for _, e := range c.Events {
		got = append(got, strings.Join([]string{e.Date, e.Kind}, " "))
	}
	assert.Equal(t, []string{"2026-05-01 feed", "2026-05-01 feed", "2026-05-01 move", "2026-05-01 feed", "2026-05-01 feed", "2026-05-01 move", "2026-06-01 water", "2026-06-01 water"}, got)
	assert.Equal(t, 3, c.Events[6].Plant)
	assert.Equal(t, 5, c.Events[7].Plant)
}

func TestParseNumbers(t *testing.T) {
	for _, tt := range []struct {
		text    string
		numbers []int
		isList  bool
		fault   bool
	}{
		{"7", []int{7}, true, false},
		{"3-7 12", []int{3, 4, 5, 6, 7, 12}, true, false},
		{"12, 3 - 5; #4", []int{3, 4, 5, 12}, true, false},
		{"3..5", []int{3, 4, 5}, true, false},
		{"3\u20135", []int{3, 4, 5}, true, false},
		{"012", []int{12}, true, false},
		{"ferns", nil, false, false},
		{"3 ferns", nil, false, false},
		{"0", nil, true, true},
		{"1-575", nil, true, true},
		{"7-3", nil, true, true},
		{"", nil, false, false},
	} {
		n, isList, err := ParseNumbers(tt.text)
		assert.Equal(t, tt.numbers, n, tt.text)
		assert.Equal(t, tt.isList, isList, tt.text)
		assert.Equal(t, tt.fault, err != nil, tt.text)
	}
}

func TestAddedLinesKeepEveryByte(t *testing.T) {
	for name, old := range map[string]string{
		"plain":                "date,plant,event,note,pot_top_mm,pot_bottom_mm,pot_height_mm\n2026-01-01,7,feed,,,,\n",
		"no last line end":     "date,plant,event,note,pot_top_mm,pot_bottom_mm,pot_height_mm\n2026-01-01,7,feed,,,,",
		"bad lines and blanks": "\ufeffdate;plant;event;note;pot_top_mm;pot_bottom_mm;pot_height_mm;mine\r\n;;;;\r\nnonsense;;\r\n\r\n2026-01-01;7;feed;\"a\nb\";;;;x",
		"other order":          "event,note,plant,date,pot_top_mm,pot_bottom_mm,pot_height_mm\nfeed,,7,2026-01-01,,,\n",
		"empty":                "",
	} {
		t.Run(name, func(t *testing.T) {
			c := newCollection(t, map[string]string{PlantsFile: "number,group\n7,ferns\n8,ferns\n", EventsFile: old})
			before := len(c.Events)
			numbers, err := c.AppendEvent("2026-05-14", "ferns", "Repot", `fresh "bark", fine; =cmd`, record.Pot{TopMM: 120, BottomMM: 100.5, HeightMM: 125})
			require.NoError(t, err)
			assert.Equal(t, []int{7, 8}, numbers)
			data, err := os.ReadFile(c.Path(EventsFile))
			require.NoError(t, err)
			assert.True(t, strings.HasPrefix(string(data), old), "what was there stays")
			require.Len(t, c.Events, before+2)
			last := c.Events[len(c.Events)-1]
			assert.Equal(t, record.Event{Date: "2026-05-14", Plant: 8, Kind: "repot", Note: `fresh "bark", fine; =cmd`, Pot: record.Pot{TopMM: 120, BottomMM: 100.5, HeightMM: 125}}, last)
		})
	}
}

func TestAddedEventsAreChecked(t *testing.T) {
	c := newCollection(t, map[string]string{PlantsFile: "number\n7\n", EventsFile: "date,plant,event\n"})
	for name, err := range map[string]error{
		"date":       second(c.AppendEvent("14.5.2026", "7", "feed", "", record.Pot{})),
		"plant":      second(c.AppendEvent("2026-05-14", "nobody", "feed", "", record.Pot{})),
		"no plant":   second(c.AppendEvent("2026-05-14", " ", "feed", "", record.Pot{})),
		"unlisted":   second(c.AppendEvent("2026-05-14", "8", "feed", "", record.Pot{})),
		"kind":       second(c.AppendEvent("2026-05-14", "7", "sing", "", record.Pot{})),
		"half a pot": second(c.AppendEvent("2026-05-14", "7", "repot", "", record.Pot{TopMM: 100})),
		"no column":  second(c.AppendEvent("2026-05-14", "7", "repot", "", record.Pot{TopMM: 100, BottomMM: 90, HeightMM: 100})),
		"no note":    second(c.AppendEvent("2026-05-14", "7", "repot", "the file has no such column", record.Pot{})),
	} {
		assert.Error(t, err, name)
	}
	data, _ := os.ReadFile(c.Path(EventsFile))
	assert.Equal(t, "date,plant,event\n", string(data))
}

func second[T any](_ T, err error) error { return err }

func TestFormulasAreDisarmedAndReadBack(t *testing.T) {
	c := newCollection(t, map[string]string{PlantsFile: "number,name,note\n"})
	require.NoError(t, c.AppendPlant(record.Plant{Number: 7, Name: "=HYPERLINK(\"http://x\")", Note: "-4.5"}))
	data, _ := os.ReadFile(c.Path(PlantsFile))
	assert.Contains(t, string(data), `"'=HYPERLINK`)
	assert.Contains(t, string(data), ",-4.5\n")
	assert.Equal(t, "=HYPERLINK(\"http://x\")", c.Plants[0].Name)
}

// FuzzCSV states two laws: what Go's own strict reader accepts, ours reads alike; and a written row reads back.
func FuzzCSV(f *testing.F) {
	for _, s := range []string{"number,name\n7,\"a \"\"b\"\" c\"\n", "a;b\r\n1;\"x\ny\"\r\n", "\"", "sep=;\na;b\n", "\ufeffa,b\r1,2\r", "a,b\n\"x,1\n2,3\n"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		rows, d := splitCSV([]byte(s))
		for _, r := range rows {
			if r.fault != "" || d.legacy {
				continue
			}
			again, _ := splitCSV([]byte("h" + string(d.sep) + "h" + string(d.sep) + "h\n" + d.encodeRow(r.fields) + "\n"))
			if strings.ContainsAny(strings.Join(r.fields, ""), "=+-@\t\r\n") || d.sep != guessable(d) {
				continue // disarmed formulas and other line ends differ on purpose
			}
			if len(again) == 2 && !reflect.DeepEqual(again[1].fields, r.fields) {
				t.Fatalf("%q reads back as %q", r.fields, again[1].fields)
			}
		}
		if strings.ContainsAny(s, "\r\ufeff") || d.legacy || d.sep != ',' || strings.HasPrefix(strings.ToLower(s), "sep=") {
			return
		}
		std := csv.NewReader(strings.NewReader(s))
		std.FieldsPerRecord = -1
		want, err := std.ReadAll()
		if err != nil {
			return
		}
		var got [][]string
		for _, r := range rows {
			got = append(got, r.fields)
		}
		var full [][]string
		for _, w := range want {
			if strings.TrimSpace(strings.Join(w, "")) != "" {
				full = append(full, w)
			}
		}
		if len(full) != len(got) || (len(full) > 0 && !reflect.DeepEqual(full, got)) {
			t.Fatalf("%q: %q, want %q", s, got, full)
		}
	})
}

// guessable is the separator that the header of the written file will be guessed to have.
func guessable(d dialect) byte {
	if d.sep == ',' || d.sep == ';' || d.sep == '\t' {
		return d.sep
	}
	return 0
}
