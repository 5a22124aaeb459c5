package change

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"phototrack/internal/record"
	"phototrack/internal/reftest"
)

// threeYears is a full collection: plants in two views over 36 months, all quantities, events and rules.
func threeYears(plants int) Input {
	rng := rand.New(rand.NewPCG(9, 9))
	in := Input{Settings: DefaultSettings()}
	start := time.Date(2023, 8, 5, 10, 0, 0, 0, time.UTC)
	for n := 1; n <= plants; n++ {
		in.Plants = append(in.Plants, record.Plant{Number: n, Group: string(rune('a' + n%9))})
		growth := 0.01 * rng.NormFloat64()
		for m := range 36 {
			at := start.AddDate(0, m, rng.IntN(4))
			area := 10000 * math.Exp(growth*float64(m)) * (1 + 0.01*rng.NormFloat64())
			in.Photos = append(in.Photos,
				photoOf(n, record.Leaf, at, map[record.QuantityName]float64{record.LeafArea: area, record.GreenShare: 0.9, record.YellowShare: 0.05 + 0.01*rng.Float64(),
					record.PurpleShare: 0.03 * rng.Float64(), record.BrownShare: 0.01 * rng.Float64(), record.LeafHue: 125 + rng.NormFloat64()}),
				photoOf(n, record.Root, at, map[record.QuantityName]float64{record.RootLength: 500 + 20*float64(m) + 30*rng.NormFloat64(), record.RootLongest: 80 + rng.NormFloat64(), record.RootTips: float64(rng.IntN(6))}))
		}
		for k := range 3 {
			in.Events = append(in.Events, record.Event{Date: start.AddDate(0, 6+10*k, n%20).Format(time.DateOnly), Plant: n, Kind: []string{"repot", "feed", "move"}[k]})
		}
	}
	in.Rules = []record.WatchRule{{Line: 2, Quantity: record.RootLongest, Of: "value", Condition: ">=", Limit: 75},
		{Line: 3, Quantity: record.PurpleShare, Of: "change", Condition: ">=", Detectable: true}, {Line: 4, Quantity: record.LeafArea, Of: "trend", Condition: "<=", Limit: 0}}
	return in
}

func TestThreeYearsUnderASecond(t *testing.T) {
	in := threeYears(70)
	in.From, in.To, _ = Month("2026-07")
	begin := time.Now()
	a := Analyze(in)
	took := time.Since(begin)
	t.Logf("a month: %v; %d sessions, %d changes, %d trends, %d effects, %d pooled", took, len(a.Sessions), len(a.Changes), len(a.Trends), len(a.Effects), len(a.Pooled))
	assert.Less(t, took, reftest.Patience(2*time.Second), "one second on a machine at rest; twice that beside other tests")
}

// The second size is 20,160 sessions, four times the first: the time should be about four times as long.
func BenchmarkMonth(b *testing.B) {
	for _, plants := range []int{70, 280} {
		b.Run(fmt.Sprintf("%d_plants", plants), func(b *testing.B) {
			in := threeYears(plants)
			in.From, in.To, _ = Month("2026-07")
			for b.Loop() {
				Analyze(in)
			}
		})
	}
}

func BenchmarkAllMonths(b *testing.B) {
	in := threeYears(70)
	for b.Loop() {
		Analyze(in)
	}
}

// The time grows with the number of events, not with its square.
func TestManyEventsTakeLittleTime(t *testing.T) {
	in := threeYears(8)
	in.From, in.To, _ = Month("2026-07")
	rng := rand.New(rand.NewPCG(9, 9))
	start := time.Date(2019, 1, 1, 0, 0, 0, 0, time.UTC)
	for i := range 100_000 {
		in.Events = append(in.Events, record.Event{Date: start.AddDate(0, 0, i/37).Format(time.DateOnly), Plant: 1 + rng.IntN(8), Kind: []string{"water", "feed", "move"}[rng.IntN(3)]})
	}
	begin := time.Now()
	Analyze(in)
	took := time.Since(begin)
	t.Logf("%v", took)
	assert.Less(t, took, reftest.Patience(10*time.Second), "half a second on a machine at rest; 100 seconds where each event is set against each")
}
