package report

import (
	"bytes"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/disintegration/imaging"
	"github.com/stretchr/testify/require"

	"phototrack/internal/change"
	"phototrack/internal/gate"
	"phototrack/internal/record"
	"phototrack/internal/reftest"
	"phototrack/internal/words"
)

// The demo bench: six plants of a greenhouse club, rendered monthly, with exact truth. The numbers below are the truth
// itself with intervals of the size that measuring gives, so that the page is what a real one looks like.

// benchData is the demo bench's month of July, or of an earlier month.
func benchData(t testing.TB, until string) Data {
	t.Helper()
	dir, files := reftest.Series(t)
	to, err := time.Parse("2006-01", until)
	require.NoError(t, err)
	d := Data{Collection: "Greenhouse club, north bench", From: until + "-01", To: to.AddDate(0, 1, -1).Format(time.DateOnly),
		Made: time.Date(2026, 8, 1, 9, 30, 0, 0, time.UTC), Version: "0.1", ColourMode: "nominal",
		Plants: []record.Plant{
			{Number: 12, Name: "Clivia A", Group: "clivia", Note: "the repotted one of two siblings"},
			{Number: 17, Name: "Neoregelia", Note: "purple margins spreading"},
			{Number: 23, Name: "Anthurium", Note: "lower leaves yellowing"},
			{Number: 31, Name: "Vanda seedling", Group: "vanda", Pot: record.Pot{TopMM: 100, BottomMM: 84, HeightMM: 100}, Note: "in a clear pot"},
			{Number: 44, Name: "Clivia B", Group: "clivia", Note: "sibling of number 12; not repotted"},
			{Number: 45, Name: "Aspidistra", Note: "the control: nothing is done to it"},
		},
		Events: []record.Event{
			{Date: "2026-03-21", Plant: 31, Kind: "repot", Note: "into a larger clear pot with fresh bark", Pot: record.Pot{TopMM: 120, BottomMM: 100, HeightMM: 125}},
			{Date: "2026-04-18", Plant: 12, Kind: "repot", Note: "fresh mix and one size up"},
		},
		Classes: []ClassRow{{Name: "brown", FromDeg: 30, ToDeg: 80, Reason: "dead tissue"}, {Name: "yellow", FromDeg: 80, ToDeg: 108, Reason: "chlorophyll lost"},
			{Name: "green", FromDeg: 108, ToDeg: 270, Reason: "chlorophyll"}, {Name: "purple", FromDeg: 270, ToDeg: 30, Reason: "anthocyanin"}},
	}
	pics := map[string]reftest.Truth{}
	for _, f := range files {
		if f.Date[:7] <= until {
			addTruth(t, &d, f)
			pics[f.File] = f
		}
	}
	d.Picture = scenePictures(t, dir, pics)
	d.Photos = append(d.Photos, record.Photo{Name: "IMG_2207.jpg", Plant: 44, View: record.Leaf, Status: record.Rejected, Reasons: []record.Reason{{Code: gate.Blurred, Detail: "1.4 mm, limit 1.0 mm"}},
		Taken: record.Stamp{Time: to.AddDate(0, 0, 10), Source: "exif"}})
	d.Take(change.Analyze(change.Input{Photos: d.Photos, Plants: d.Plants, Events: d.Events, From: d.From, To: d.To, Settings: change.DefaultSettings(),
		Rules: []record.WatchRule{
			{Quantity: record.YellowShare, Of: "value", Condition: ">=", Limit: 0.10, Message: "a tenth of the leaf area is yellow: look at the lower leaves"},
			{Quantity: record.RootLongest, Of: "value", Condition: ">=", Limit: 240, Message: "the longest visible root has reached 240 mm", Plants: []int{31}},
		}}))
	d.Links = []Link{{Text: "measurements.csv", Href: "measurements.csv"}, {Text: "Plate of plant 12", Href: "plates/012.png", Plant: 12}}
	return d
}

func addTruth(t testing.TB, d *Data, f reftest.Truth) {
	t.Helper()
	p := record.Photo{Name: f.File, SHA256: f.File, WidthPx: f.WH[0], HeightPx: f.WH[1], Plant: f.Tag, View: record.Leaf, Status: record.Accepted,
		Taken: record.Stamp{Time: f.Taken(t), HasOffset: true, Source: "exif"}}
	put := func(name record.QuantityName, unit string, v, u float64) {
		p.Quantities = append(p.Quantities, record.Quantity{Name: name, Unit: unit, Value: v, U95: u, Terms: []record.Term{
			{Name: "depth common", U: u * 0.48, Shape: record.Normal, Common: true}, {Name: "mask edge", U: u * 0.17, Shape: record.Normal}}})
	}
	if f.Side == "R" {
		p.View = record.Root
		l := 0.0
		for i := 0; i < 6; i++ {
			l += f.Root.ByAzimuth[i]
		}
		put(record.RootLength, "mm", l, 8+0.05*l)
		put(record.RootLongest, "mm", l*0.28, 6)
		put(record.RootTips, "1", f.Root.Tips, 0.9)
		put(record.RootDiameter, "mm", f.Root.Diameter, 0.3)
	} else {
		put(record.LeafArea, "mm2", f.Leaf.Total, 0.035*f.Leaf.Total)
		for _, c := range []string{"green", "yellow", "purple", "brown"} {
			put(record.QuantityName(c+"_share"), "1", f.Leaf.Share[c], 0.012)
		}
		put(record.LeafHue, "deg", 132-60*(1-f.Leaf.Share["green"]), 3)
	}
	if f.Tag == 45 && f.Date[:7] == "2026-07" {
		p.Status, p.Reasons = record.Flagged, []record.Reason{{Code: gate.Soft, Detail: "0.9 mm"}}
	}
	d.Photos = append(d.Photos, p)
}

// finish adds changes and trends to a made-up garden by the plainest rule: a difference, its interval, a verdict.
func finish(d *Data) {
	x := newIndex(d)
	for k, ss := range x.series {
		n := len(ss)
		if n < 2 {
			continue
		}
		for _, b := range []struct {
			basis string
			from  record.Session
		}{{record.BasisLast, ss[n-2]}, {record.BasisBaseline, ss[0]}} {
			to := ss[n-1]
			u := 1.96 * math.Hypot(to.UVarying, b.from.UVarying)
			c := record.Change{Plant: k.plant, View: k.view, Quantity: k.quantity, Unit: to.Unit, FromDate: b.from.Date, ToDate: to.Date,
				FromValue: b.from.Value, ToValue: to.Value, Change: to.Value - b.from.Value, U95: u, SmallestDetectable: 1.4 * u, Verdict: record.NoChange, Basis: b.basis, P: 1, Q: 1}
			if math.Abs(c.Change) > u {
				c.Verdict = record.Rose
				if c.Change < 0 {
					c.Verdict = record.Fell
				}
				c.P = math.Exp(-2 * math.Pow(c.Change/u, 2))
				c.Q = math.Min(1, 3*c.P)
			}
			d.Changes = append(d.Changes, c)
		}
		if n >= 3 {
			a, _ := words.Day(ss[0].Date)
			z, _ := words.Day(ss[n-1].Date)
			slope := (ss[n-1].Value - ss[0].Value) / monthsBetween(a, z)
			tr := record.Trend{Plant: k.plant, View: k.view, Quantity: k.quantity, Unit: ss[0].Unit, Phase: "all", FromDate: ss[0].Date, ToDate: ss[n-1].Date,
				Sessions: n, SlopePerMonth: slope, SlopeLow: slope * 0.8, SlopeHigh: slope * 1.2, Level: 0.95, MKp: 0.017, MKq: 0.04, RelGrowthPerMonth: 0.03, GrowthLow: 0.02, GrowthHigh: 0.04}
			if slope < 0 {
				tr.SlopeLow, tr.SlopeHigh = tr.SlopeHigh, tr.SlopeLow
			}
			if n < 5 {
				tr.SlopeLow, tr.SlopeHigh = math.NaN(), math.NaN()
			}
			d.Trends = append(d.Trends, tr)
		}
	}
}

// working keeps the scenes' working pictures for all tests: decoding thirty photos once is enough.
var (
	workingMu sync.Mutex
	working   = map[string][]byte{}
)

// scenePictures gives the rendered photos as working pictures, the overlay with the truth's outline on it.
func scenePictures(t testing.TB, dir string, pics map[string]reftest.Truth) func(string, string) []byte {
	return func(sha, kind string) []byte {
		f, ok := pics[sha]
		if !ok || strings.HasPrefix(kind, "wall") {
			return nil
		}
		workingMu.Lock()
		defer workingMu.Unlock()
		if b, ok := working[sha+kind]; ok {
			return b
		}
		m, err := imaging.Open(filepath.Join(dir, sha), imaging.AutoOrientation(true))
		require.NoError(t, err)
		small := imaging.Resize(m, 1200, 0, imaging.Box)
		if kind == "overlay" {
			drawMask(t, small, filepath.Join(dir, f.Mask))
		}
		var b bytes.Buffer
		require.NoError(t, jpeg.Encode(&b, small, &jpeg.Options{Quality: 85}))
		working[sha+kind] = b.Bytes()
		return b.Bytes()
	}
}

func drawMask(t testing.TB, m *image.NRGBA, path string) {
	t.Helper()
	f, err := os.Open(path)
	require.NoError(t, err)
	defer f.Close()
	mask, err := png.Decode(f)
	require.NoError(t, err)
	k := float64(mask.Bounds().Dx()) / float64(m.Bounds().Dx())
	at := func(x, y int) uint32 {
		r, _, _, _ := mask.At(int(float64(x)*k), int(float64(y)*k)).RGBA()
		return r >> 8
	}
	inks := map[uint32]color.NRGBA{1: {20, 90, 40, 255}, 2: {240, 210, 0, 255}, 3: {200, 60, 220, 255}, 4: {120, 60, 20, 255}, 5: {255, 90, 0, 255}, 6: {0, 120, 255, 255}}
	for y := 1; y < m.Bounds().Dy()-1; y++ {
		for x := 1; x < m.Bounds().Dx()-1; x++ {
			v := at(x, y)
			if c, ok := inks[v]; ok && (at(x-1, y) != v || at(x+1, y) != v || at(x, y-1) != v || at(x, y+1) != v) {
				m.SetNRGBA(x, y, c)
				m.SetNRGBA(x+1, y, c)
			}
		}
	}
}

// write writes the report to a folder of a temporary one, or of REPORT_OUT to be looked at, and gives its index.
func write(t testing.TB, name string, d Data) string {
	t.Helper()
	dir := t.TempDir()
	if out := os.Getenv("REPORT_OUT"); out != "" {
		dir = out
	}
	dir = filepath.Join(dir, name)
	require.NoError(t, os.MkdirAll(dir, 0o755))
	_, err := WriteFiles(dir, d)
	require.NoError(t, err)
	return filepath.Join(dir, IndexFile)
}

// pageOf is a plant's page beside an index.
func pageOf(index string, plant int) string {
	return filepath.Join(filepath.Dir(index), filepath.FromSlash(plantFile(plant)))
}
