package pipeline_test

import (
	"cmp"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/card"
	"phototrack/internal/collection"
	"phototrack/internal/gate"
	"phototrack/internal/geom"
	"phototrack/internal/pipeline"
	"phototrack/internal/record"
	"phototrack/internal/reftest"
	"phototrack/internal/regions"
	"phototrack/internal/scenemaker"
	"phototrack/internal/trainscene"
)

// everyPlant is a collection of all plants that a tag can name, with a card that is printed true.
func everyPlant(t *testing.T) *collection.Collection {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "bench")
	_, err := collection.Init(dir)
	require.NoError(t, err)
	var b strings.Builder
	b.WriteString("number,name,group,pot_top_mm,pot_bottom_mm,pot_height_mm,from,until,note\n")
	for n := 1; n <= card.MaxPlant; n++ {
		fmt.Fprintf(&b, "%d,scene %d,scenes,,,,,,\n", n, n)
	}
	require.NoError(t, os.WriteFile(filepath.Join(dir, "plants.csv"), []byte(b.String()), 0o600))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "cards.csv"),
		[]byte("from_date,across_mm,down_mm,colour_from,note\n2020-01-01,100.0,90.0,nominal,exact\n"), 0o600))
	c, err := collection.Open(dir)
	require.NoError(t, err)
	return c
}

// drawnScene is a drawn photo as a file, with what is true of it.
type drawnScene struct {
	trainscene.Shot
	name string
	file []byte
	ok   bool
}

// drawScenes draws the scenes of so many seeds, two at a time, in their order.
func drawScenes(from uint64, count int) <-chan drawnScene {
	const hands = 2
	var made [hands]chan drawnScene
	for k := range hands {
		made[k] = make(chan drawnScene)
		go func() {
			var film trainscene.Film
			for i := k; i < count; i += hands {
				seed := from + uint64(i)
				s := drawnScene{name: fmt.Sprintf("%d.jpg", seed)}
				s.Shot, s.ok = trainscene.Shoot(seed, seed%3 == 0, &film)
				if s.ok {
					var err error
					f35 := int(s.F35MM + 0.5)
					if seed%4 == 0 { // a photo that went through a messenger does not say
						f35 = 0
					}
					s.file, err = scenemaker.WithEXIF(s.JPEG, time.Date(2026, 11, 30, 10, 0, 0, 0, time.UTC), f35)
					s.ok = err == nil
				}
				made[k] <- s
			}
		}()
	}
	out := make(chan drawnScene)
	go func() {
		for i := range count {
			out <- <-made[i%hands]
		}
		close(out)
	}()
	return out
}

// cardCorners are the card's, in mm, as Shot.Card has them.
var cardCorners = []geom.MM{{}, {X: card.WidthMM}, {X: card.WidthMM, Y: card.HeightMM}, {Y: card.HeightMM}}

// plane is the true one of the card.
func (s *drawnScene) plane(t *testing.T) geom.Homography {
	t.Helper()
	px := make([]geom.PX, len(s.Card))
	for i, p := range s.Card {
		px[i] = geom.PX{X: p.X, Y: p.Y}
	}
	h, err := geom.FitHomography(cardCorners, px, nil)
	require.NoError(t, err)
	return h
}

// leafIn is how large the leaf that shows would be if it lay in the plane: what a single photo can tell. It differs from the square projection by how
// far the leaves lie before the plane and by their slope, where they are seen from aside.
func (s *drawnScene) leafIn(t *testing.T, plane geom.Homography) (mm2 float64) {
	t.Helper()
	g, err := plane.Inverse()
	require.NoError(t, err)
	for i, c := range s.Class {
		if c == uint8(regions.Leaf) {
			mm2 += g.AreaMM2(geom.PX{X: float64(i % s.WidthPx), Y: float64(i / s.WidthPx)})
		}
	}
	return mm2
}

// clear says whether a person would see the card and the tag whole, and large enough to be read by the program's own limit.
func (s *drawnScene) clear() bool {
	px := 0.0 // the card's outline, by the shoelace formula
	for i, p := range s.Card {
		q := s.Card[(i+1)%len(s.Card)]
		px += (p.X*q.Y - q.X*p.Y) / 2
	}
	scale := math.Sqrt(math.Abs(px) / (card.WidthMM * card.HeightMM))
	return s.CardSeen == 1 && s.TagSeen == 1 && min(scale, s.TagPxPerMM) > gate.MinScalePxPerMM
}

// drawnTally is what comes of drawn scenes.
type drawnTally struct {
	flat, square          tally
	clear, refused        int      // photos in which card and tag are clearly seen; of these, those without numbers
	missed                []string // of these, those in which one of them was not found
	otherNumber           []string // photos with another plant's number
	cornerPx, tiltDeg     float64  // the largest errors where four markers or more were seen
	scale                 float64  // the same of the area of one and the same outline, relative
	fewMarkers, unflagged int      // photos with fewer, and those of them that are accepted without a word
}

func (d *drawnTally) add(t *testing.T, s *drawnScene, p *record.Photo) {
	t.Helper()
	if p.Plant != 0 && p.Plant != s.Plant {
		d.otherNumber = append(d.otherNumber, s.name)
	}
	if s.clear() {
		d.clear++
		if p.Status == record.Rejected {
			d.refused++
		}
		if p.HasReason(gate.NoTag) || p.HasReason(gate.NoCard) || p.HasReason(gate.FewMarkers) {
			d.missed = append(d.missed, s.name)
		}
	}
	truth := s.leafIn(t, s.plane(t))
	d.geometry(t, s, p, truth)
	d.flat.add(t, p, truth)
	d.square.add(t, p, s.AreaMM2)
}

func (d *drawnTally) geometry(t *testing.T, s *drawnScene, p *record.Photo, truth float64) {
	t.Helper()
	k := p.Calibration
	if k == nil {
		return
	}
	if k.MarkersSeen < gate.WarnMarkers {
		d.fewMarkers++
		if p.Status == record.Accepted {
			d.unflagged++
		}
		return
	}
	var h geom.Homography
	copy(h[:], k.CardToPx)
	off := 0.0
	for i, c := range cardCorners {
		q := h.Px(c)
		off = max(off, math.Hypot(q.X-s.Card[i].X, q.Y-s.Card[i].Y))
	}
	d.cornerPx = max(d.cornerPx, off)
	d.tiltDeg = max(d.tiltDeg, math.Abs(k.TiltDeg-s.TiltDeg))
	scale := math.Abs(s.leafIn(t, h)/truth - 1)
	d.scale = max(d.scale, scale)
	t.Logf("%-30s card %.2f px off, tilt %.1f (%.1f) degrees, scale %.2f %%; square projection %+.0f %%; %v", s.name, off, k.TiltDeg, s.TiltDeg, 100*scale, 100*(truth/s.AreaMM2-1), p.Reasons)
}

// Scenes that nobody has seen, drawn for the training of the network but not used for it, as photos for the whole program: it reads the file, finds card
// and tag, fits pose, light and colours, judges sharpness, and finds the leaf. SCENE_COUNT says how many (28), SCENE_SEED with which first seed;
// SCENE_PHOTOS names a folder for the photos.
//
// Bounds are meant for any draw: set after six of 28 to 64 scenes each.
func TestDrawnScenes(t *testing.T) {
	reftest.Slow(t)
	count, _ := strconv.Atoi(cmp.Or(os.Getenv("SCENE_COUNT"), "28"))
	seed, _ := strconv.ParseUint(cmp.Or(os.Getenv("SCENE_SEED"), "9840000"), 10, 64)
	const mostWrong = 0.12 // of the area, without a flag; plants of a few cm2 are among these
	bench := everyPlant(t)
	var m pipeline.Measurer
	defer m.Close()
	d := drawnTally{flat: tally{what: record.LeafArea, most: mostWrong}, square: tally{what: record.LeafArea, most: mostWrong}}
	for s := range drawScenes(seed, count) {
		if !s.ok {
			continue
		}
		if dir := os.Getenv("SCENE_PHOTOS"); dir != "" {
			require.NoError(t, os.WriteFile(filepath.Join(dir, s.name), s.file, 0o600))
		}
		p := m.Measure(s.file, pipeline.Job{Name: s.name}, bench)
		d.add(t, &s, &p)
	}
	t.Logf("card and tag clearly seen in %d: missed %v, %d refused; with four markers or more corners within %.2f px, tilt %.2f degrees, scale %.2f %%; fewer markers in %d",
		d.clear, d.missed, d.refused, d.cornerPx, d.tiltDeg, 100*d.scale, d.fewMarkers)
	t.Log("as if the leaf lay in the card's plane:")
	d.flat.log(t)
	t.Log("projected square onto it:")
	d.square.log(t)
	assert.Empty(t, d.otherNumber, "another plant's number")
	// A blade's hard shadow across the tag hides its code from the program, where an eye still reads it: one of 140.
	assert.LessOrEqual(t, float64(len(d.missed)), 0.1*float64(d.clear), "card and tag clearly seen, but not found: %v", d.missed)
	assert.LessOrEqual(t, float64(d.refused), 0.25*float64(d.clear))
	assert.Zero(t, d.unflagged)
	assert.LessOrEqual(t, d.cornerPx, 1.0)
	assert.LessOrEqual(t, d.tiltDeg, 1.5)
	assert.LessOrEqual(t, d.scale, 0.01)
	assert.GreaterOrEqual(t, d.flat.holding(), 0.85)
	assert.Zero(t, d.flat.wrong, "accepted without a flag though wrong")
	assert.LessOrEqual(t, d.flat.untrue, 1, "accepted without a flag though outside its interval")
	// These plants' leaves slope far more than the settings' 10 degrees (half of them by 20 and more on the whole), and no photo shows by how much: that
	// the doubt about what is leaf is wide is why so many intervals hold. So that it does not get worse unnoticed.
	assert.GreaterOrEqual(t, d.square.holding(), 0.6)
}

// Two of those scenes through the whole program: a card in sun brighter than the sensor takes, small and soft, and a tag of few pixels. Before the search in
// linear light (package cv, DetectSoftMarkers) the first was "no scale card" and the second "no plant tag", which a person reads both.
func TestCardAndTagInHardLight(t *testing.T) {
	bench := everyPlant(t)
	var m pipeline.Measurer
	defer m.Close()
	measured := func(seed uint64) (s drawnScene, p record.Photo) {
		for s = range drawScenes(seed, 1) {
			require.True(t, s.ok)
			p = m.Measure(s.file, pipeline.Job{Name: s.name}, bench)
		}
		return
	}
	_, p := measured(9870057)
	for _, r := range p.Reasons {
		assert.NotContains(t, []record.GateCode{gate.NoCard, gate.FewMarkers}, r.Code)
	}
	s, p := measured(9870015)
	assert.Equal(t, s.Plant, p.Plant)
}
