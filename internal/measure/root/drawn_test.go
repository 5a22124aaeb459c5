package root

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"

	"phototrack/internal/colour"
	"phototrack/internal/raster"
	"phototrack/internal/record"
	"phototrack/internal/wall"
	"phototrack/internal/wallmaker"
)

// drawn is a wall of package wallmaker as a view of a camera so far away that it sees the frontal view itself.
type drawn struct {
	s   wallmaker.Sample
	sh  *sheet
	pot potFit
	in  Input
}

func newDrawn(seed uint64) drawn { return newShot(seed, 0) }

// newShot is the same wall in another photo.
func newShot(seed, shot uint64) drawn {
	const px = 384
	s := wallmaker.Again(seed, shot, px, px)
	r := float64(s.R0) / wallmaker.PxPerMM
	tall := float64(s.Base-s.Top) / wallmaker.PxPerMM
	k := float64(s.K)
	h := tall / math.Hypot(1, k)
	size := record.Pot{TopMM: 2 * (r + typicalRadiusMM), BottomMM: 2 * (r + k*tall + typicalRadiusMM), HeightMM: h}
	cam := wall.Camera{Fx: 4e6, Fy: 4e6, R: [9]float64{1, 0, 0, 0, 1, 0, 0, 0, 1}, T: wall.Vec{0, -h / 2, 1e6}}
	d := drawn{s: s}
	d.pot = potFit{pot: size, axisU: 0.1, depthU: 0.1, sizeU: 0.1, wall: wall.Frustum{Rim: wall.Vec{0, 0, 0}, Base: wall.Vec{0, h, 0}, RRim: size.TopMM / 2, RBase: size.BottomMM / 2}.Facing(cam.Centre())}
	v := newView(cam, d.pot.wall.Inset(typicalRadiusMM), workStep, true)
	d.sh = &sheet{view: v, Pic: raster.NewBGR(v.W, v.H), Seen: raster.NewMask(v.W, v.H), frameW: 1 << 30, frameH: 1 << 30, L: raster.NewFloat(v.W, v.H), A: raster.NewFloat(v.W, v.H), B: raster.NewFloat(v.W, v.H)}
	for y := range px {
		for x := range px {
			i := y*px + x
			p := s.RGB[3*i : 3*i+3]
			u, w := x-int(math.Round(float64(s.Mid)))+int(v.Mid), y-int(math.Round(float64(s.Top)))
			if u < 0 || w < 0 || u >= v.W || w >= v.H || p[0]|p[1]|p[2] == 0 {
				continue
			}
			j := w*v.W + u
			d.sh.Seen.Pix[j] = 1
			d.sh.Pic.Pix[3*j], d.sh.Pic.Pix[3*j+1], d.sh.Pic.Pix[3*j+2] = p[2], p[1], p[0]
			l := colour.FromSRGB8(p[0], p[1], p[2]).Lab()
			d.sh.L.Pix[j], d.sh.A.Pix[j], d.sh.B.Pix[j] = float32(l.L), float32(l.A), float32(l.B)
		}
	}
	d.in = Input{Camera: cam, Pot: size, DistanceMM: 1e6}
	return d
}

// regions are the drawn classes.
func (d drawn) regions() *regions {
	v := d.sh.view
	r := newRegions(v.W, v.H)
	for y := range d.s.H {
		for x := range d.s.W {
			u, w := x-int(math.Round(float64(d.s.Mid)))+int(v.Mid), y-int(math.Round(float64(d.s.Top)))
			if u < 0 || w < 0 || u >= v.W || w >= v.H {
				continue
			}
			j := w*v.W + u
			switch d.s.Class[y*d.s.W+x] {
			case wallmaker.Root:
				r.any.Pix[j] = 1
			case wallmaker.Tip:
				r.any.Pix[j], r.tip.Pix[j] = 1, 1
			case wallmaker.Old:
				r.any.Pix[j], r.old.Pix[j] = 1, 1
			case wallmaker.Hidden:
				r.hidden.Pix[j] = 1
			case wallmaker.OnWall:
				r.onWall.Pix[j] = 1
			}
		}
	}
	return r
}

// length is the true length seen on the wall that is judged, and how much of it is old.
func (d drawn) length() (mm, old float64) {
	for _, c := range d.s.Courses {
		for i, y := range c.Y {
			if y < rimMM || y > (float64(d.s.Base-d.s.Top)/wallmaker.PxPerMM-footMM) {
				c.Seen[i] = false
			}
		}
		l := c.Length(limitAzimuth)
		mm += l
		if c.Old {
			old += l
		}
	}
	return mm, old
}

// measure runs the stages after the pot; reg nil asks the network.
func (d drawn) measure(t testing.TB, reg *regions) (Result, []record.Reason) {
	if reg == nil {
		var err error
		reg, err = judgeWall(d.sh, wallNetwork)
		require.NoError(t, err)
	}
	f := look(d.sh, reg, d.pot.wall, footMM, &d.in)
	set := DefaultSettings()
	set.Pictures = false
	return f.result(d.in, set, d.pot)
}

// TestShowIntervals lists how far the intervals hold on as many drawn walls as ROOT_WALLS says, with the network or, with
// ROOT_TRUE, with the drawn classes.
func TestShowIntervals(t *testing.T) {
	n, _ := strconv.Atoi(os.Getenv("ROOT_WALLS"))
	if n == 0 {
		return
	}
	var errs, z []float64
	held, oldHeld := 0, 0
	for k := range n {
		d := newDrawn(800000 + uint64(k))
		truth, old := d.length()
		var reg *regions
		if os.Getenv("ROOT_TRUE") != "" {
			reg = d.regions()
		}
		r, why := d.measure(t, reg)
		l, o := value(r.Quantities, "root_length"), value(r.Quantities, "root_old")
		if math.Abs(l.Value-truth) <= l.U95 {
			held++
		}
		if math.Abs(o.Value-old) <= o.U95 {
			oldHeld++
		}
		if truth > 50 {
			errs = append(errs, math.Abs(l.Value/truth-1))
		}
		z = append(z, (l.Value-truth)/(l.U95/1.96))
		var terms string
		for _, q := range l.Terms {
			if q.U > 0.2*l.U95 {
				terms += fmt.Sprintf(" %s %.0f", q.Name, q.U)
			}
		}
		t.Logf("%2d: %6.0f of %6.0f mm (u95 %.0f), old %4.0f of %4.0f (%.0f) %v;%s", k, l.Value, truth, l.U95, o.Value, old, o.U95, codesOf(why), terms)
	}
	mean, sd := moments(z)
	t.Logf("median error %.1f %%, z %+.2f +- %.2f; length held %d, old %d of %d", 100*median(errs), mean, sd, held, oldHeld, n)
}

// unrolled is the wall that is kept of a drawn photo.
func (d drawn) unrolled(t testing.TB) (Wall, bool) {
	reg, err := judgeWall(d.sh, wallNetwork)
	require.NoError(t, err)
	f := look(d.sh, reg, d.pot.wall, footMM, &d.in)
	set := DefaultSettings()
	set.Pictures = false
	r, why := f.result(d.in, set, d.pot)
	v := newView(f.v.cam, f.wall.Inset(typicalRadiusMM), 1/wallPxPerMM, false)
	w := Wall{Pic: raster.NewBGR(v.W, v.H), PxPerMM: wallPxPerMM, ZeroPx: v.Mid, Pot: d.pot.pot}
	for y := range v.H {
		for x := range v.W {
			az, depth := v.place(float64(x), float64(y))
			if math.Abs(az) > drawnAzimuth {
				continue
			}
			px, py := d.sh.at(az, depth)
			i, j := int(px+0.5), int(py+0.5)
			if i < 0 || j < 0 || i >= d.sh.W || j >= d.sh.H {
				continue
			}
			copy(w.Pic.Pix[3*(y*v.W+x):], d.sh.Pic.Pix[3*(j*d.sh.W+i):3*(j*d.sh.W+i)+3])
		}
	}
	for _, root := range r.Roots {
		w.Roots, w.LengthMM, w.Traits = append(w.Roots, root.Wall), append(w.LengthMM, root.SeenMM), append(w.Traits, traitsOf(root.Sure, root.Old))
	}
	w.Veil, w.Doubt = f.veil(w), coarse(r.Doubtful)
	return w, !slices.Contains(codesOf(why), "too_unsure")
}

// TestShowFalseGrowth lists, for as many drawn walls as ROOT_WALLS says, what is called new or gone between two photos of the same
// roots in other light, with other marks on the wall.
func TestShowFalseGrowth(t *testing.T) {
	n, _ := strconv.Atoi(os.Getenv("ROOT_WALLS"))
	if n == 0 {
		return
	}
	pairs, fresh, gone, held := 0, 0, 0, 0
	for k := range n {
		a, okA := newShot(810000+uint64(k), 1).unrolled(t)
		b, okB := newShot(810000+uint64(k), 2).unrolled(t)
		if !okA || !okB {
			held++
			continue
		}
		r := Register(&a, &b)
		if !r.OK {
			continue
		}
		pairs++
		if r.NewMM > 1.96*r.NewU {
			fresh++
		}
		if r.GoneMM > 1.96*r.GoneU {
			gone++
		}
		t.Logf("%2d: new %.0f (u %.0f), gone %.0f (u %.0f), kept %.0f mm, turn %.1f", k, r.NewMM, r.NewU, r.GoneMM, r.GoneU, r.KeptMM, r.RotationDeg)
	}
	t.Logf("of %d pairs that register (%d held back) %d show new root, %d root gone", pairs, held, fresh, gone)
}

// TestShowDrawn writes pictures of drawn walls with what was traced, where ROOT_PICTURES names a folder.
func TestShowDrawn(t *testing.T) {
	dir := os.Getenv("ROOT_PICTURES")
	if dir == "" {
		return
	}
	for _, seed := range []uint64{2, 9, 13, 15} {
		d := newDrawn(700000 + seed)
		f := look(d.sh, d.regions(), d.pot.wall, footMM, &d.in)
		b := newBoard(d.sh.W, d.sh.H, 12)
		b.paste(d.sh.Pic, 0, 0)
		taken := f.takenFlags()
		for i := range f.strands {
			var l []record.Point
			for _, p := range f.strands[i].px {
				l = append(l, record.Point{X: p.X, Y: p.Y})
			}
			if taken[i] {
				b.line(l, 2, inkRoot, 0)
			} else {
				b.line(l, 2, inkGone, 0)
			}
			for k, p := range f.strands[i].px {
				if f.strands[i].hidden[k] {
					b.ring(p.X, p.Y, 1, 1, inkVeil)
				}
				if f.strands[i].double[k] {
					b.ring(p.X, p.Y, 1, 1, inkNew)
				}
			}
		}
		for _, c := range d.s.Courses {
			for i := range c.Az {
				if c.Seen[i] {
					b.ring(d.sh.Mid+c.R[i]*math.Sin(c.Az[i])/workStep, c.Y[i]/workStep, 0.5, 1, inkTip)
				}
			}
		}
		savePNG(t, filepath.Join(dir, "show"+strconv.Itoa(int(seed))+".png"), b.picture())
	}
}
