package report

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"phototrack/internal/record"
)

// gardenData is a made-up collection: n plants over so many months, every third one with a root view as well, some
// groups, some repots, two photos a session. Its pictures have the grain and detail of real ones, so that they weigh
// what real ones weigh.
func gardenData(t testing.TB, n, months int) Data {
	t.Helper()
	rng := rand.New(rand.NewPCG(7, 11))
	start := time.Date(2023, 8, 9, 10, 0, 0, 0, time.UTC)
	end := start.AddDate(0, months-1, 0)
	d := Data{Collection: "Greenhouse club, all benches", From: end.Format("2006-01") + "-01", Made: end, Version: "0.1"}
	d.To = time.Date(end.Year(), end.Month()+1, 0, 0, 0, 0, 0, time.UTC).Format(time.DateOnly)
	for i := 1; i <= n; i++ {
		p := record.Plant{Number: i, Name: fmt.Sprintf("Plant of shelf %d", i), Group: fmt.Sprintf("group %d", i%12)}
		if i%3 == 0 {
			p.Pot = record.Pot{TopMM: 100, BottomMM: 84, HeightMM: 100}
		}
		d.Plants = append(d.Plants, p)
		if i%5 == 0 {
			d.Events = append(d.Events, record.Event{Date: start.AddDate(0, months/2, 3).Format(time.DateOnly), Plant: i, Kind: "repot", Note: "fresh mix"})
		}
		for m := range months {
			at := start.AddDate(0, m, rng.IntN(5))
			addSession(&d, i, record.Leaf, at, rng, map[record.QuantityName][3]float64{record.LeafArea: {20000 * math.Pow(1.02, float64(m)), 700, 0.01},
				record.GreenShare: {0.9 - 0.004*float64(m), 0.02, 0.01}, record.YellowShare: {0.05, 0.02, 0.01}, record.PurpleShare: {0.004 * float64(m), 0.02, 0.01},
				record.BrownShare: {0.01, 0.01, 0.005}, record.LeafHue: {128, 3, 1}})
			if i%3 == 0 {
				addSession(&d, i, record.Root, at, rng, map[record.QuantityName][3]float64{record.RootLength: {200 + 20*float64(m), 40, 12}, record.RootLongest: {60 + 2*float64(m), 6, 3}, record.RootTips: {5, 1, 1}})
			}
		}
	}
	finish(&d)
	pics := gardenPictures(t)
	d.Picture = func(sha, kind string) []byte { return pics[int(sha[len(sha)-1])%len(pics)] }
	return d
}

func addSession(d *Data, plant int, v record.View, at time.Time, rng *rand.Rand, q map[record.QuantityName][3]float64) {
	name := fmt.Sprintf("IMG_%d_%s_%.1s.jpg", plant, at.Format("0102"), v)
	p := record.Photo{Name: name, SHA256: fmt.Sprintf("%x%d", plant, at.Unix()), WidthPx: 4000, HeightPx: 3000, Plant: plant, View: v, Status: record.Accepted,
		Taken: record.Stamp{Time: at, Source: "exif"}}
	for _, name := range []record.QuantityName{record.LeafArea, record.GreenShare, record.YellowShare, record.PurpleShare, record.BrownShare, record.LeafHue, record.RootLength, record.RootLongest, record.RootTips} {
		s, ok := q[name]
		if !ok {
			continue
		}
		unit := map[record.QuantityName]string{record.LeafArea: "mm2", record.LeafHue: "deg", record.RootLength: "mm", record.RootLongest: "mm"}[name]
		if unit == "" {
			unit = "1"
		}
		value := math.Max(0, s[0]+rng.NormFloat64()*s[2]*math.Max(1, s[0]*0.002))
		p.Quantities = append(p.Quantities, record.Quantity{Name: name, Unit: unit, Value: value, U95: s[1]})
		d.Sessions = append(d.Sessions, record.Session{Plant: plant, View: v, Date: at.Format(time.DateOnly), Quantity: name, Unit: unit, Value: value,
			U95: s[1], UVarying: s[1] / 4, Photos: 2, Names: []string{p.Name, "b_" + p.Name}})
	}
	d.Photos = append(d.Photos, p)
}

// gardenPictures draws pictures with leaves, shadows and grain, 1200 x 900.
func gardenPictures(t testing.TB) [][]byte {
	t.Helper()
	var out [][]byte
	for k := range 4 {
		rng := rand.New(rand.NewPCG(uint64(k), 3))
		m := image.NewNRGBA(image.Rect(0, 0, 1200, 900))
		for y := range 900 {
			for x := range 1200 {
				g := rng.NormFloat64() * 5
				l := 150 + 30*math.Sin(float64(x)/97+float64(k)) + 20*math.Cos(float64(y)/61)
				c := [3]float64{l, l, l}
				if r := math.Hypot(float64(x-600)*0.8, float64(y-450)); math.Sin(9*math.Atan2(float64(y-450), float64(x-600)))*140+180 > r {
					v := 70 + 40*math.Sin(r/7+float64(x)/13)
					c = [3]float64{v * 0.7, v * 1.3, v * 0.5}
				}
				m.SetNRGBA(x, y, color.NRGBA{clip(c[0] + g), clip(c[1] + g), clip(c[2] + g), 255})
			}
		}
		var b bytes.Buffer
		require.NoError(t, jpeg.Encode(&b, m, &jpeg.Options{Quality: 85}))
		out = append(out, b.Bytes())
	}
	return out
}

func clip(v float64) uint8 { return uint8(math.Min(255, math.Max(0, v))) }
