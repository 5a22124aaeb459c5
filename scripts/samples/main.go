// Command samples renders the sample collection's two plants with parts: ten photos, the lines that a hand drew on them, what
// was counted, and what is true. Run it from the repository's root: go run ./scripts/samples
package main

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"time"

	"phototrack/internal/collection"
	"phototrack/internal/geom"
	"phototrack/internal/scenemaker"
)

// plant is one of the two, with what it does from month to month.
type plant struct {
	number int
	seed   uint64
	months [5]scenemaker.Month
}

// bench is what the two plants do over the months: the first sends up a spike, and one of its storage organs shrivels until it
// is watered again; the second is its sibling, whose organs stay as they are, with a second spike late.
var bench = []plant{
	{52, 521, [5]scenemaker.Month{
		{Spike: 40, SpikeBend: 0.10, Bulb: 25, LeafBend: 0.30}, {Spike: 62, SpikeBend: 0.14, Bulb: 23.2, LeafBend: 0.42}, {Spike: 90, SpikeBend: 0.18, Bulb: 21.4, LeafBend: 0.55},
		{Spike: 117, SpikeBend: 0.24, Bulb: 23.8, LeafBend: 0.36}, {Spike: 139, SpikeBend: 0.3, Bulb: 25.4, LeafBend: 0.30}}},
	{53, 533, [5]scenemaker.Month{
		{Spike: 96, SpikeBend: 0.2, Bulb: 23, LeafBend: 0.35}, {Spike: 98, SpikeBend: 0.2, Bulb: 23, LeafBend: 0.35}, {Spike: 98, SpikeBend: 0.2, Bulb: 23, LeafBend: 0.35},
		{Spike: 98, SpikeBend: 0.2, Bulb: 23, LeafBend: 0.35, Spike2: 22}, {Spike: 98, SpikeBend: 0.2, Bulb: 23, LeafBend: 0.35, Spike2: 47}}},
}

var buds = map[int][5]int{52: {0, 2, 5, 7, 9}, 53: {8, 8, 6, 6, 6}}

const hand = "club"

func main() {
	if err := run(); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

func run() error {
	for _, dir := range []string{"samples/parts/photos", "samples/parts/marks"} {
		if err := os.MkdirAll(dir, 0o755); err != nil {
			return err
		}
	}
	truth := "file,plant,date,part,quantity,value,unit\n"
	counts := "date,plant,what,count,note\n"
	for _, b := range bench {
		for month, m := range b.months {
			t, c, err := b.photograph(month, m)
			if err != nil {
				return err
			}
			truth, counts = truth+t, counts+c
		}
	}
	if err := os.WriteFile("samples/parts/counts.csv", []byte(counts), 0o644); err != nil {
		return err
	}
	return os.WriteFile("samples/parts/truth.csv", []byte(truth), 0o644)
}

// photograph writes a month's photo of a plant with its lines, and gives the lines of the lists of what is true and what was counted.
func (b *plant) photograph(month int, m scenemaker.Month) (truth, counts string, err error) {
	sc := scene(b.number, b.seed, month, m)
	shot, err := scenemaker.Render(sc)
	if err != nil {
		return "", "", err
	}
	day := sc.Taken.Format(time.DateOnly)
	name := fmt.Sprintf("%03d_%s_L.jpg", b.number, sc.Taken.Format("2006-01"))
	if err := os.WriteFile(filepath.Join("samples/parts/photos", name), shot.JPEG, 0o644); err != nil {
		return "", "", err
	}
	var marks []collection.Mark
	for _, l := range lines(sc, b.seed+uint64(month), m) {
		for _, q := range l.truth {
			truth += fmt.Sprintf("%s,%d,%s,%s,%s,%.3f,%s\n", name, b.number, day, l.Part, q.name, q.value, q.unit)
		}
		line := l.Line
		marks = append(marks, collection.Mark{What: collection.MarkLine, Who: hand, When: sc.Taken.Format(time.RFC3339), Line: &line})
	}
	counts = fmt.Sprintf("%s,%d,buds,%d,\n", day, b.number, buds[b.number][month])
	if b.number == 53 && month == 4 { // July's lines of the second plant are left to be taken over from June
		return truth, counts, nil
	}
	sum := sha256.Sum256(shot.JPEG)
	sha := hex.EncodeToString(sum[:])
	data, err := collection.EncodeMarks(collection.PhotoMarks{SHA256: sha, Name: name, Marks: marks})
	if err != nil {
		return "", "", err
	}
	return truth, counts, os.WriteFile(filepath.Join("samples/parts/marks", collection.PhotoRef(sha, name)+".json"), data, 0o644)
}

// scene is a month's photo of a plant: the plant and its grower stay, card, plant, camera and light are set up anew.
func scene(number int, seed uint64, month int, m scenemaker.Month) *scenemaker.Scene {
	p := scenemaker.PartsPlant(rand.New(rand.NewPCG(seed, 1)), number, m)
	h := scenemaker.NewHabit(rand.New(rand.NewPCG(seed, 2)))
	h.Print = scenemaker.Print{Across: 1, Down: 1}
	h.Backdrop = scenemaker.Grey()
	taken := time.Date(2026, time.Month(3+month), []int{7, 11, 9, 13, 11}[month], 10, 40+number-52, 0, 0, time.UTC)
	s := scenemaker.SetUp(rand.New(rand.NewPCG(seed, 10+uint64(month))), p, h, taken)
	return scenemaker.Shoot(rand.New(rand.NewPCG(seed, 20+uint64(month))), s)
}

type value struct {
	name  string
	value float64
	unit  string
}

type drawn struct {
	collection.Line
	truth []value
}

// lines are what a hand draws: clicks along the middles and across the widest places, off by two screen pixels or so.
func lines(sc *scenemaker.Scene, seed uint64, m scenemaker.Month) (out []drawn) {
	r := rand.New(rand.NewPCG(seed, 30))
	const zoom = 1.5
	at := func(leaf int, t, s float64) [2]float64 {
		p, _ := sc.On(leaf, t, s)
		p = geom.PX{X: p.X + 2/zoom*r.NormFloat64(), Y: p.Y + 2/zoom*r.NormFloat64()}
		round := func(v float64) float64 { return float64(int(v*1e5+0.5)) / 1e5 }
		return [2]float64{round((p.X + 0.5) / float64(sc.WidthPx)), round((p.Y + 0.5) / float64(sc.HeightPx))}
	}
	along := func(part string, leaf, clicks int, measure ...string) collection.Line {
		l := collection.Line{Part: part, Measure: measure, Drawn: collection.DrawnByHand, Zoom: zoom}
		for i := range clicks {
			l.Points = append(l.Points, at(leaf, float64(i)/float64(clicks-1), 0))
		}
		return l
	}
	const deg = 180 / 3.14159265358979
	bend := func(b float64) value { return value{"part_bend", b * 2 / 3 * deg, "deg"} }
	out = append(out, drawn{along("spike 1", scenemaker.PartSpike, 4, collection.MeasureLength), []value{{"part_length", m.Spike, "mm"}}})
	across := collection.Line{Part: "bulb 2", Measure: []string{collection.MeasureWidth}, Drawn: collection.DrawnByHand, Zoom: zoom,
		Points: [][2]float64{at(scenemaker.PartBulb, 0.5, -1), at(scenemaker.PartBulb, 0.5, 1)}}
	out = append(out, drawn{across, []value{{"part_width", m.Bulb, "mm"}}})
	leaf := sc.Leaves[scenemaker.PartLeaf]
	out = append(out, drawn{along("leaf 1", scenemaker.PartLeaf, 5, collection.MeasureLength, collection.MeasureBend), []value{{"part_length", leaf.LengthMM, "mm"}, bend(leaf.Bend)}})
	if m.Spike2 > 0 {
		out = append(out, drawn{along("spike 2", scenemaker.PartSpike2, 3, collection.MeasureLength), []value{{"part_length", m.Spike2, "mm"}}})
	}
	return out
}
