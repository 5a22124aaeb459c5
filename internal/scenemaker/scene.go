package scenemaker

import (
	"time"

	"phototrack/internal/card"
	"phototrack/internal/colour"
	"phototrack/internal/geom"
)

// Scene is one photo to be taken.
type Scene struct {
	Plant    int        // number on the tag
	Leaves   []Leaf     // from the back to the front: a later one hides an earlier one
	Stand    Stand      // where the plant stands
	Pot      *Pot       // a clear pot with roots, and the card's root side; nil for leaves
	Print    Print      // of the card
	Tag      [2]float64 // mm: the tag's top-left corner in the card's plane
	Camera   geom.Camera
	WidthPx  int
	HeightPx int
	F35      int // EXIF's 35 mm equivalent, which is only near to the truth
	Light    Light
	Sensor   Sensor
	Backdrop Backdrop
	Taken    time.Time
	Seed     uint64 // of the noise
}

// Stand is where a plant stands in the card's frame and how it is turned.
type Stand struct {
	X, Y             float64 // mm: the plant's foot
	DepthMM          float64 // of the plant's plane at its middle before the card's, towards the camera
	MiddleX, MiddleY float64 // mm from the foot: about where it is turned
	TurnDeg          float64 // about the upright axis: the plane comes forward to the right
	LeanDeg          float64 // about the level axis: the plane comes forward at the top
}

// Backdrop is a plain ground behind all, with a weave so faint that it is seen as a surface.
type Backdrop struct {
	Colour   colour.Lab
	Contrast float64
}

// Truth is what the photo shows.
type Truth struct {
	AreaMM2        float64          // visible leaf, projected orthogonally onto the card's plane
	Share          [Classes]float64 // of the area
	ScalePxPerMM   float64          // at the card's middle: square root of px per mm2
	TiltDeg        float64
	DistanceMM     float64 // camera to the card's middle
	MeanDepthMM    float64 // of the visible leaf before the card's plane
	Roots          RootTruth
	HiddenOrCutMM2 float64 // leaf hidden behind other leaf or outside the frame, projected
}

// Photo is a finished scene.
type Photo struct {
	JPEG  []byte
	Truth Truth
}

// paint is what a shape looks like.
type paint struct {
	albedo   colour.RGB
	plane    int
	lamp     float64 // the lamp's factor on it
	class    Class   // of leaf; -1 for everything else
	seed     uint64
	contrast float64
	along    float64 // how much longer than wide the texture is
}

// stage is a scene as flat shapes, from the back to the front.
type stage struct {
	planes []plane
	shapes []shape
	paints []paint
}

func (s *stage) add(pl int, rings [][]geom.MM, p paint, obj, over int) {
	p.plane = pl
	s.paints = append(s.paints, p)
	s.shapes = append(s.shapes, shape{plane: pl, rings: rings, paint: len(s.paints) - 1, obj: obj, over: over})
}

// build lays out all shapes. Objects are numbered: the card 1, the tag 2, leaves from 3.
func build(sc *Scene, f *field) *stage {
	s := &stage{}
	printed := func(pl plane, flats []flat, obj int) {
		s.planes = append(s.planes, pl)
		for _, x := range flats {
			s.add(len(s.planes)-1, x.rings, paint{albedo: linear(x.srgb), lamp: f.on(pl.normal()), class: -1}, obj, -1)
		}
	}
	side := card.SideLeaf
	if sc.Pot != nil {
		side = card.SideRoot
		s.addPot(sc.Pot, sc.Camera)
	}
	printed(plane{U: geom.Vec3{sc.Print.Across, 0, 0}, V: geom.Vec3{0, sc.Print.Down, 0}}, cardFlats(side), 1)
	printed(plane{O: geom.Vec3{sc.Tag[0], sc.Tag[1], 0}, U: geom.Vec3{1, 0, 0}, V: geom.Vec3{0, 1, 0}}, tagFlats(sc.Plant), 2)
	for i := range sc.Leaves {
		l := &sc.Leaves[i]
		pl := sc.Stand.planeOf(l)
		s.planes = append(s.planes, pl)
		at := len(s.planes) - 1
		look := func(c Class) paint {
			return paint{albedo: colour.FromXYZ(l.Colours[c].XYZ(colour.WhiteD65)), lamp: f.on(pl.normal()), class: c,
				seed: l.TextureSeed, contrast: l.TextureContrast, along: 6}
		}
		s.add(at, [][]geom.MM{l.outline()}, look(Green), 3+i, -1)
		for _, r := range l.regions() {
			s.add(at, [][]geom.MM{r.ring}, look(r.class), 3+i, 3+i)
		}
	}
	return s
}
