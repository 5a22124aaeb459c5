package pipeline_test

import (
	"bytes"
	"image"
	"image/color"
	"image/jpeg"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"phototrack/internal/collection"
	"phototrack/internal/colour"
	"phototrack/internal/reftest"
	"phototrack/internal/wall"
)

// wallScene is a root photo with its mask, and the place on the pot's wall that each pixel shows.
type wallScene struct {
	scene
	at     []place // of every pixel; depth 0 where it shows no wall
	box    image.Rectangle
	radius float64   // of the pot at half height, mm
	height float64   // mm
	root   []float64 // share of each pixel that is root: the mask has hard edges, the photo soft ones
	mean   float64   // light of the medium
}

// place on a pot's wall: azimuth from the camera's direction, rad, and depth below the rim, mm.
type place struct{ az, depth float64 }

// Codes of the scenes' masks for roots: living, their growing tips, old ones.
const codeRoot, codeTip, codeOldRoot = 5, 6, 16

// codeWall is that of the pot and what it is filled with.
const codeWall = 9

// setUp is what the truth says of camera and pot.
type setUp struct {
	File   string
	Turned int `json:"orientation"` // as Exif counts
	Camera struct{ Fx, Fy, Cx, Cy float64 }
	Card   *struct {
		R [3][3]float64
		T wall.Vec `json:"t_mm"`
	}
	Pot struct {
		Top    float64  `json:"inner_diameter_top_mm"`
		Bottom float64  `json:"inner_diameter_bottom_mm"`
		Base   wall.Vec `json:"axis_bottom_card_mm"`
		Rim    wall.Vec `json:"axis_top_card_mm"`
	}
}

// rootScenes are the root photos of a set, those that the camera was not turned for, with their collection.
func rootScenes(t *testing.T, set string) (out []*wallScene) {
	t.Helper()
	bench, files := sceneSet(t, set)
	var all struct{ Files []setUp }
	reftest.JSON(t, &all, "scenes", set, "truth.json")
	for i := range files {
		if files[i].Root != nil && len(files[i].Root.By10) > 0 && all.Files[i].Turned == 1 {
			out = append(out, newWallScene(t, set, bench, &files[i], &all.Files[i]))
		}
	}
	return out
}

func newWallScene(t *testing.T, set string, bench *collection.Collection, f *truth, up *setUp) *wallScene {
	t.Helper()
	require.Equal(t, f.File, up.File)
	s := &wallScene{scene: readScene(t, set, bench, f)}
	cam := wall.Camera{Fx: up.Camera.Fx, Fy: up.Camera.Fy, Cx: up.Camera.Cx, Cy: up.Camera.Cy, T: up.Card.T}
	for i, row := range up.Card.R {
		copy(cam.R[3*i:], row[:])
	}
	eye := cam.Centre()
	pot := wall.Frustum{Rim: up.Pot.Rim, Base: up.Pot.Base, RRim: up.Pot.Top / 2, RBase: up.Pot.Bottom / 2}.Facing(eye)
	s.radius, s.height = (pot.RRim+pot.RBase)/2, pot.Height()
	sheet := pot.Sheet()
	w, h := s.mask.Rect.Dx(), s.mask.Rect.Dy()
	s.at, s.root = make([]place, w*h), make([]float64, w*h)
	seen := map[uint8]bool{codeRoot: true, codeTip: true, codeOldRoot: true, codeWall: true}
	n := 0.0
	for y := 1; y < h-1; y++ {
		for x := 1; x < w-1; x++ {
			if !seen[s.mask.GrayAt(x, y).Y] {
				continue
			}
			p, _, ok := sheet.Meet(eye, cam.Ray(float64(x), float64(y)))
			if !ok {
				continue
			}
			i := y*w + x
			s.at[i].az, s.at[i].depth, _ = sheet.Coords(p)
			s.box = s.box.Union(image.Rect(x, y, x+1, y+1))
			for dy := -1; dy <= 1; dy++ {
				for dx := -1; dx <= 1; dx++ {
					if s.isRoot(x+dx, y+dy) {
						s.root[i] += 1.0 / 9
					}
				}
			}
			if s.root[i] == 0 {
				s.mean += light(linear(nrgba(s.pic.At(x, y))))
				n++
			}
		}
	}
	s.mean /= n
	return s
}

func (s *wallScene) isRoot(x, y int) bool {
	c := s.mask.GrayAt(x, y).Y
	return c == codeRoot || c == codeTip || c == codeOldRoot
}

// length is the true length of root that counts: within 60 degrees of the camera's direction.
func (s *wallScene) length() (mm float64) {
	for _, l := range s.f.Root.By10[:6] {
		mm += l
	}
	return mm
}

// repaint changes a picture's pixels of the wall in linear light.
func (s *wallScene) repaint(pic *image.NRGBA, change func(p place, x, y int, c colour.RGB) colour.RGB) *image.NRGBA {
	w := s.mask.Rect.Dx()
	for y := s.box.Min.Y; y < s.box.Max.Y; y++ {
		for x := s.box.Min.X; x < s.box.Max.X; x++ {
			if p := s.at[y*w+x]; p.depth > 0 {
				pic.SetNRGBA(x, y, encoded(change(p, x, y, linear(pic.NRGBAAt(x, y)))))
			}
		}
	}
	return pic
}

// file is a picture as the camera's file.
func (s *wallScene) file(t *testing.T, pic image.Image, quality int) []byte {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, jpeg.Encode(&b, pic, &jpeg.Options{Quality: quality}))
	return withExifOf(t, b.Bytes(), s.data)
}

func nrgba(c color.Color) color.NRGBA { return color.NRGBAModel.Convert(c).(color.NRGBA) }

func light(c colour.RGB) float64 { return (c[0] + c[1] + c[2]) / 3 }

func encoded(c colour.RGB) color.NRGBA {
	return color.NRGBA{R: colour.Encode8(min(1, c[0])), G: colour.Encode8(min(1, c[1])), B: colour.Encode8(min(1, c[2])), A: 255}
}

// toward is c moved to another colour by a share.
func toward(c, to colour.RGB, share float64) colour.RGB {
	for k := range c {
		c[k] += share * (to[k] - c[k])
	}
	return c
}

// scaled is a colour in other light.
func scaled(c colour.RGB, k float64) colour.RGB { return colour.RGB{k * c[0], k * c[1], k * c[2]} }

// noise is a field of smooth noise, -1 to 1, whose grains are about so many mm large.
func noise(r *rand.Rand, across, down float64) func(x, y float64) float64 {
	const n = 64
	var v [n * n]float64
	for i := range v {
		v[i] = 2*r.Float64() - 1
	}
	return func(x, y float64) float64 {
		x, y = x/across+n*n, y/down+n*n
		i, j := math.Floor(x), math.Floor(y)
		a, b := x-i, y-j
		a, b = a*a*(3-2*a), b*b*(3-2*b)
		at := func(i, j float64) float64 { return v[int(j)%n*n+int(i)%n] }
		return (1-b)*((1-a)*at(i, j)+a*at(i+1, j)) + b*((1-a)*at(i, j+1)+a*at(i+1, j+1))
	}
}
