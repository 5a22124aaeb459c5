package pipeline_test

import (
	"bytes"
	"image"
	"image/color"
	"image/draw"
	"image/jpeg"
	"image/png"
	"math"
	"math/rand/v2"
	"os"
	"strings"
	"testing"

	"github.com/disintegration/imaging"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/collection"
	"phototrack/internal/pipeline"
	"phototrack/internal/record"
	"phototrack/internal/reftest"
)

// Codes of the scenes' masks (../shared/scenes, README): what is behind everything, and what belongs to a plant: its leaves, pot, bloom,
// aerial roots and woody stem.
const codeBackground = 0

var plantCodes = map[uint8]bool{1: true, 2: true, 3: true, 4: true, 9: true, 10: true, 12: true, 15: true}

// scene is a leaf photo with its mask.
type scene struct {
	bench *collection.Collection
	f     *truth
	data  []byte
	pic   image.Image
	mask  *image.Gray
}

func readScene(t *testing.T, set string, bench *collection.Collection, f *truth) scene {
	t.Helper()
	data, err := os.ReadFile(reftest.Path(t, "scenes", set, f.File))
	require.NoError(t, err)
	pic, err := jpeg.Decode(bytes.NewReader(data))
	require.NoError(t, err)
	file, err := os.Open(reftest.Path(t, "scenes", set, "masks", strings.TrimSuffix(f.File, ".jpg")+".png"))
	require.NoError(t, err)
	defer file.Close()
	mask, err := png.Decode(file)
	require.NoError(t, err)
	require.Equal(t, pic.Bounds(), mask.Bounds(), f.File)
	return scene{bench, f, data, pic, mask.(*image.Gray)}
}

// box is the least rectangle round the pixels of such codes.
func (s *scene) box(codes map[uint8]bool) (out image.Rectangle) {
	for y := range s.mask.Rect.Dy() {
		for x := range s.mask.Rect.Dx() {
			if codes[s.mask.GrayAt(x, y).Y] {
				out = out.Union(image.Rect(x, y, x+1, y+1))
			}
		}
	}
	return out
}

// upright says whether the scene is seen from the front: there the tag stands on the pot, seen from above it lies beside it.
func (s *scene) upright() bool {
	const codeTag, codePot, round = 8, 9, 20
	tag := s.box(map[uint8]bool{codeTag: true})
	near := tag.Inset(-round)
	pot, all := 0, 0
	for y := near.Min.Y; y < near.Max.Y; y++ {
		for x := near.Min.X; x < near.Max.X; x++ {
			if at := image.Pt(x, y); !at.In(tag) {
				all++
				if s.mask.GrayAt(x, y).Y == codePot {
					pot++
				}
			}
		}
	}
	return 2*pot > all
}

// plant is the scene's plant alone, with its pot.
func (s *scene) plant() *image.NRGBA {
	box := s.box(plantCodes)
	out := imaging.Crop(s.pic, box)
	for y := range out.Rect.Dy() {
		for x := range out.Rect.Dx() {
			if !plantCodes[s.mask.GrayAt(box.Min.X+x, box.Min.Y+y).Y] {
				out.SetNRGBA(x, y, color.NRGBA{})
			}
		}
	}
	return out
}

// withNeighbours is the scene's photo with one to three of the plants set behind all that is in it: half to nearly as high as its own, as sharp or
// a little out of focus, beside it or partly hidden by it.
func (s *scene) withNeighbours(t *testing.T, plants []*image.NRGBA, r *rand.Rand) []byte {
	t.Helper()
	box := s.box(plantCodes)
	high := float64(box.Dy())
	behind := imaging.Clone(s.pic)
	for range 1 + r.IntN(3) {
		q := plants[r.IntN(len(plants))]
		q = imaging.Resize(q, 0, int((0.5+0.45*r.Float64())*high), imaging.Box)
		if r.IntN(2) == 0 {
			q = imaging.FlipH(q)
		}
		q = imaging.AdjustGamma(q, math.Exp(0.15*r.NormFloat64()))
		if blur := []float64{0, 0, 1.5, 4}[r.IntN(4)]; blur > 0 {
			room := imaging.New(q.Rect.Dx()+int(8*blur), q.Rect.Dy()+int(8*blur), color.Transparent)
			q = imaging.Blur(imaging.PasteCenter(room, q), blur)
		}
		x := float64(box.Min.X+box.Max.X)/2 + (2*r.Float64()-1)*high - float64(q.Rect.Dx())/2
		y := float64(box.Max.Y) - (0.02+0.33*r.Float64())*high - float64(q.Rect.Dy())
		at := image.Pt(int(x), int(y))
		draw.Draw(behind, q.Rect.Add(at), q, image.Point{}, draw.Over)
	}
	out := imaging.Clone(s.pic)
	for y := range out.Rect.Dy() {
		for x := range out.Rect.Dx() {
			if s.mask.GrayAt(x, y).Y == codeBackground {
				out.SetNRGBA(x, y, behind.NRGBAAt(x, y))
			}
		}
	}
	var b bytes.Buffer
	require.NoError(t, jpeg.Encode(&b, out, &jpeg.Options{Quality: 93}))
	return withExifOf(t, b.Bytes(), s.data)
}

// withExifOf puts the EXIF segment of one JPEG into another.
func withExifOf(t *testing.T, to, from []byte) []byte {
	t.Helper()
	const app1 = 0xE1
	for at := 2; at+4 < len(from) && from[at] == 0xFF; {
		n := 2 + int(from[at+2])<<8 + int(from[at+3])
		if from[at+1] == app1 {
			return append(append(append([]byte{}, to[:2]...), from[at:at+n]...), to[2:]...)
		}
		at += n
	}
	t.Fatal("no EXIF")
	return nil
}

// Other plants, of the plant's own kind too, stand close behind, sharp or nearly so: the bench of most growers. The scenes' plants are set behind one
// another; the truth stays, since what is behind is nobody's leaf. This is far harder than the scenes themselves.
func TestNeighboursSetBehind(t *testing.T) {
	reftest.Slow(t)
	var m pipeline.Measurer
	defer m.Close()
	var scenes []scene
	var plants []*image.NRGBA
	crowded := map[string]bool{"D01": true, "D02": true, "N05": true, "N06": true, "N08": true} // other plants are in the picture already
	for _, set := range []string{"hard", "wild-leaves", "series"} {
		bench, files := sceneSet(t, set)
		for i := range files {
			f := &files[i]
			if f.Leaf == nil || !strings.Contains(f.File, "_L") || set == "series" && !strings.Contains(f.File, "_2026-05") {
				continue
			}
			s := readScene(t, set, bench, f)
			if !s.upright() {
				continue
			}
			scenes = append(scenes, s)
			if !crowded[f.File[:3]] {
				plants = append(plants, s.plant())
			}
		}
	}
	c := tally{what: record.LeafArea, most: 0.04}
	r := rand.New(rand.NewPCG(20261130, 1))
	for range 2 {
		for i := range scenes {
			s := &scenes[i]
			p := m.Measure(s.withNeighbours(t, plants, r), pipeline.Job{Name: s.f.File}, s.bench)
			c.add(t, &p, s.f.Leaf.Area)
		}
	}
	c.log(t)
	assert.Equal(t, 2*len(scenes), c.counted())
	// What these networks reach, so that it does not get worse unnoticed; the aim is what the scenes themselves are held to, 0.92 and none.
	assert.LessOrEqual(t, c.median(), 0.032)
	assert.GreaterOrEqual(t, c.holding(), 0.8)
	assert.LessOrEqual(t, c.wrong, 2, "accepted without a flag though wrong")
}
