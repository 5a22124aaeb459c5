package scenebank_test

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"phototrack/internal/change"
	"phototrack/internal/pipeline"
	"phototrack/internal/record"
	"phototrack/internal/scenebank"
)

// A few photos of the bank rendered and measured now give what is written in it.
func TestBankIsWhatTheProgramMeasures(t *testing.T) {
	rows, version := bank(t)
	t.Logf("measured by version %s", version)
	at := map[scenebank.Place]scenebank.Row{}
	for _, r := range rows {
		at[r.Place] = r
	}
	var measurer pipeline.Measurer
	defer measurer.Close()
	for _, place := range []scenebank.Place{{Plant: 3, Session: 2}, {Plant: 60, Session: 4, Replicate: 1}, {Plant: 41, Session: 0}, {Plant: 59, Session: scenebank.Sessions, Level: 2}} {
		want, got := at[place], measure(t, &measurer, place)
		assert.Equal(t, want.Status, got.Status, "%+v", place)
		assert.InEpsilon(t, want.Truth.AreaMM2, got.Truth.AreaMM2, 1e-5, "%+v: another scene; was the scene maker changed?", place)
		for _, n := range scenebank.Quantities {
			w, g := want.Measured[n], got.Measured[n]
			unit := math.Max(w.U95, 1e-3)
			assert.InDelta(t, w.Value, g.Value, 0.03*unit, "%+v: %s; measured otherwise now: make simulate", place, n)
			assert.InDelta(t, w.U95, g.U95, 0.05*unit, "%+v: interval of %s", place, n)
			assert.InDelta(t, w.Varying, g.Varying, 0.05*unit, "%+v: what varies of %s", place, n)
		}
	}
}

// counted says whether a class's share is worth counting in a row: where there is none of it nothing can go wrong.
func counted(r *scenebank.Row, name string) bool {
	truth := r.TruthOf(name)
	if !strings.HasSuffix(name, "_share") {
		return !math.IsNaN(truth)
	}
	return math.Min(truth, 1-truth) > 0.002
}

// held is the share of photos whose 95 % interval holds the truth.
func held(rows []scenebank.Row, name string, keep func(*scenebank.Row) bool) (share float64, n int) {
	for i := range rows {
		r := &rows[i]
		v, ok := r.Measured[name]
		if !ok || r.Level > 0 || !counted(r, name) || !keep(r) {
			continue
		}
		n++
		if math.Abs(v.Value-r.TruthOf(name)) <= v.U95 {
			share++
		}
	}
	return share / float64(n), n
}

func alive(r *scenebank.Row) bool { return r.TruthOf("brown_share") == 0 }
func anyRow(*scenebank.Row) bool  { return true }

// rates are the shares of last comparisons called changed, by quantity, over herds of unchanging plants; plants in which
// the quantity cannot change because there is none of the class are not counted, nor those that keep leaves out; listed
// is how many lines the first screen has.
func (s *shelf) rates(p plan, herds int, keep func(*scenebank.Row) bool) (rate map[string]float64, n map[string]int, listed float64) {
	rate, n = map[string]float64{}, map[string]int{}
	for h := range herds {
		in, two := s.herd(rand.New(rand.NewPCG(3, uint64(h))), p)
		a := change.Analyze(in)
		listed += float64(len(a.FirstScreen)) / float64(herds)
		for _, c := range last(a) {
			row, q := two[c.Plant][1], string(c.Quantity)
			if !keep(row) || strings.HasSuffix(q, "_share") && !counted(row, q) {
				continue
			}
			n[q]++
			if moved(&c) {
				rate[q]++
			}
		}
	}
	for q := range rate {
		rate[q] /= float64(n[q])
	}
	return
}

var plans = []struct {
	name string
	plan
}{
	{"two sessions, no data yet", plan{months: 2}}, {"three sessions", plan{months: 3}}, {"half a year", plan{months: 6}},
	{"half a year, one to three photos a session", plan{months: 6, replicates: true}},
}

// found counts what the first screen lists.
type found struct{ listed, wrong, changed, seen int }

// screen draws herds of which one plant in ten changed in the last month.
func (s *shelf) screen(months, herds int) (f found) {
	for h := range herds {
		rng := rand.New(rand.NewPCG(11, uint64(h)))
		levels := map[int]int{}
		for i, k := range rng.Perm(len(s.plants))[:len(s.plants)/10] {
			levels[s.plants[k]] = 1 + i%scenebank.Levels
		}
		in, _ := s.herd(rng, plan{months: months, level: func(n int) int { return levels[n] }})
		a := change.Analyze(in)
		hit := map[int]bool{}
		for _, c := range a.FirstScreen {
			f.listed++
			if levels[c.Plant] == 0 {
				f.wrong++
			} else {
				hit[c.Plant] = true
			}
		}
		f.changed += len(levels)
		f.seen += len(hit)
	}
	return
}

// power gathers, of truly changed plants, how often the change was seen, by how large it was in smallest detectable ones.
func (s *shelf) power(quantity string, verdict record.Verdict, months, herds int) (seen, n [5]float64) {
	for h := range herds {
		rng := rand.New(rand.NewPCG(12, uint64(h)))
		level := 1 + h%scenebank.Levels
		chosen := map[int]bool{}
		for _, k := range rng.Perm(len(s.plants))[:len(s.plants)/10] {
			chosen[s.plants[k]] = true
		}
		in, two := s.herd(rng, plan{months: months, level: func(n int) int {
			if chosen[n] {
				return level
			}
			return 0
		}})
		for _, c := range last(change.Analyze(in)) {
			if !chosen[c.Plant] || string(c.Quantity) != quantity {
				continue
			}
			rows := two[c.Plant]
			times := math.Abs(rows[1].TruthOf(quantity)-rows[0].TruthOf(quantity)) / c.SmallestDetectable
			k := int(math.Round(times))
			if k >= len(n) || math.Abs(times-float64(k)) > 0.25 {
				continue
			}
			n[k]++
			if c.Verdict == verdict {
				seen[k]++
			}
		}
	}
	return
}
