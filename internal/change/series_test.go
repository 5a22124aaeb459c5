package change

import (
	"encoding/json"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/record"
	"phototrack/internal/reftest"
	"phototrack/internal/uncert"
)

// photoOf is a photo as the measuring side would give it, with plausible budgets.
func photoOf(plant int, view record.View, at time.Time, values map[record.QuantityName]float64) record.Photo {
	p := record.Photo{Name: fmt.Sprintf("%03d_%s_%s.jpg", plant, at.Format("2006-01-02T15"), view), Plant: plant, View: view, Status: record.Accepted,
		Taken: record.Stamp{Time: at, Source: "exif"}}
	for _, name := range []record.QuantityName{record.LeafArea, record.GreenShare, record.YellowShare, record.PurpleShare, record.BrownShare, record.LeafHue, record.RootLength, record.RootLongest, record.RootTips} {
		v, ok := values[name]
		if !ok {
			continue
		}
		var terms []record.Term
		unit := "1"
		switch name {
		case record.LeafArea:
			unit = "mm2"
			terms = []record.Term{uncert.Common(uncert.Normal("print", 0.02*v)), uncert.Common(uncert.Rectangular("depth common", 0.023*v)),
				uncert.Rectangular("depth shot", 0.007*v), uncert.Normal("mask edge", 0.002*v)}
		case record.RootLength, record.RootLongest:
			unit, terms = "mm", []record.Term{uncert.Normal("scale fit", 0.025*v)}
		case record.RootTips:
			terms = []record.Term{uncert.Normal("count", 0.3)}
		case record.LeafHue:
			unit, terms = "deg", []record.Term{uncert.Normal("colour fit", 1)}
		default:
			terms = []record.Term{uncert.Normal("colour fit", 0.003)}
		}
		p.Quantities = append(p.Quantities, uncert.Quantity(name, unit, v, terms...))
	}
	return p
}

func day(s string) time.Time {
	t, err := time.Parse(time.DateOnly, s)
	if err != nil {
		panic(err)
	}
	return t.Add(10 * time.Hour)
}

// benchPhotos are the demo series' true values as if measured without error.
func benchPhotos(t testing.TB) []record.Photo {
	var truth struct {
		Files []struct {
			File string
			Date time.Time
			Tag  int
			Side string
			Leaf struct {
				Total float64            `json:"visible_area_total_mm2"`
				Share map[string]float64 `json:"visible_share"`
			}
			Root struct {
				Steps json.RawMessage `json:"visible_length_by_azimuth_10deg_mm"`
			}
		}
	}
	reftest.JSON(t, &truth, "scenes", "series", "truth.json")
	var out []record.Photo
	for _, f := range truth.Files {
		v := map[record.QuantityName]float64{}
		view := record.Leaf
		if f.Side == "R" {
			view = record.Root
			v[record.RootLength] = within60(t, f.Root.Steps)
		} else {
			v[record.LeafArea] = f.Leaf.Total
			for class, share := range f.Leaf.Share {
				v[record.QuantityName(class+"_share")] = share
			}
		}
		p := photoOf(f.Tag, view, f.Date, v)
		p.Name = f.File
		out = append(out, p)
	}
	return out
}

// within60 sums the first six steps of azimuth.
func within60(t testing.TB, raw json.RawMessage) float64 {
	var list []float64
	if json.Unmarshal(raw, &list) != nil {
		var named map[string]float64
		require.NoError(t, json.Unmarshal(raw, &named))
		sum := 0.0
		for k, v := range named {
			for _, low := range []string{"0-", "10-", "20-", "30-", "40-", "50-"} {
				if strings.HasPrefix(k, low) {
					sum += v
				}
			}
		}
		return sum
	}
	sum := 0.0
	for _, v := range list[:6] {
		sum += v
	}
	return sum
}

func benchInput(t testing.TB) Input {
	return Input{Photos: benchPhotos(t),
		Plants: []record.Plant{{Number: 12, Name: "Clivia A", Group: "clivia"}, {Number: 17, Name: "Neoregelia"}, {Number: 23, Name: "Anthurium"},
			{Number: 31, Name: "Vanda seedling", Group: "vanda"}, {Number: 44, Name: "Clivia B", Group: "clivia"}, {Number: 45, Name: "Aspidistra"}},
		Events: []record.Event{{Date: "2026-03-21", Plant: 31, Kind: "repot"}, {Date: "2026-04-18", Plant: 12, Kind: "repot"}},
		Rules: []record.WatchRule{
			{Line: 2, Quantity: record.RootLength, Of: "value", Condition: ">=", Limit: 600, Plants: []int{31}, Message: "long"},
			{Line: 3, Quantity: record.YellowShare, Of: "value", Condition: ">=", Limit: 0.10, Message: "yellow"},
			{Line: 4, Quantity: record.PurpleShare, Of: "change", Condition: ">=", Detectable: true, Message: "purple"}},
		Settings: DefaultSettings()}
}

func TestBenchVerdicts(t *testing.T) {
	a := Analyze(benchInput(t))
	rows := reftest.CSV(t, "scenes", "series", "verdicts.csv")
	require.NotEmpty(t, rows)
	for _, r := range rows {
		name := strings.Join([]string{r["plant"], r["quantity"], r["from"], r["to"]}, " ")
		t.Run(name, func(t *testing.T) {
			found := false
			for _, c := range a.Changes {
				if fmt.Sprint(c.Plant) != r["plant"] || string(c.Quantity) != r["quantity"] || !strings.HasPrefix(c.FromDate, r["from"]) || !strings.HasPrefix(c.ToDate, r["to"]) {
					continue
				}
				found = true
				if r["verdict"] != "either" {
					assert.Equal(t, r["verdict"], string(c.Verdict), c.Sentence)
				}
			}
			assert.True(t, found, "no such comparison")
		})
	}
	for _, c := range a.FirstScreen { // to be read as a grower would: go test -v
		t.Log(c.Sentence)
	}
	for _, e := range a.Effects {
		t.Log(e.Sentence)
	}
	for _, w := range a.Watch {
		t.Log(w.State, w.Since, w.Evidence)
	}
}
