package scenemaker

import (
	"fmt"
	"math"

	"phototrack/internal/card"
	"phototrack/internal/codec"
	"phototrack/internal/colour"
	"phototrack/internal/geom"
	"phototrack/internal/raster"
)

// Render takes the photo. Errors: a scene that no camera could see, or a picture that cannot be written.
func Render(sc *Scene) (Photo, error) {
	img, truth, err := Draw(sc)
	if err != nil {
		return Photo{}, err
	}
	data, err := codec.WriteJPEG(img, sc.Sensor.Quality)
	if err != nil {
		return Photo{}, err
	}
	if data, err = WithEXIF(data, sc.Taken, sc.F35); err != nil {
		return Photo{}, err
	}
	return Photo{JPEG: data, Truth: truth}, nil
}

// Draw is Render without the file: the pixels and the truth.
func Draw(sc *Scene) (raster.BGR, Truth, error) {
	if sc.WidthPx < 64 || sc.HeightPx < 64 || !(sc.Camera.F > 0) {
		return raster.BGR{}, Truth{}, fmt.Errorf("no photo of %d x %d px with a focal length of %g px", sc.WidthPx, sc.HeightPx, sc.Camera.F)
	}
	f := sc.Light.field()
	s := build(sc, &f)
	cv, err := s.project(sc)
	if err != nil {
		return raster.BGR{}, Truth{}, err
	}
	light, truth := s.shade(sc, cv, &f)
	if sc.Pot != nil {
		truth.Roots = s.seenRoots(sc.Pot, sc.Camera, cv)
	}
	for c := range light {
		blur(light[c], sc.WidthPx, sc.HeightPx, sc.Sensor.BlurPx)
	}
	img := sc.Sensor.expose(light, sc.WidthPx, sc.HeightPx, linear(paper)[1], sc.Seed)
	return img, truth, nil
}

// project puts all shapes onto the canvas.
func (s *stage) project(sc *Scene) (*canvas, error) {
	cv := newCanvas(sc.WidthPx, sc.HeightPx)
	px := make([][][]geom.PX, len(s.shapes))
	for i, sh := range s.shapes {
		p := s.planes[sh.plane]
		px[i] = sh.px
		for _, ring := range sh.rings {
			r := make([]geom.PX, len(ring))
			for k, q := range ring {
				at := p.at(q.X, q.Y)
				if depth := geom.Dot(geom.Vec3{sc.Camera.R[6], sc.Camera.R[7], sc.Camera.R[8]}, at) + sc.Camera.T[2]; depth < 1 {
					return nil, fmt.Errorf("a part of the scene lies behind the camera, at depth %.0f mm", depth)
				}
				r[k] = sc.Camera.Px(at)
			}
			px[i] = append(px[i], r)
		}
		cv.markRings(px[i])
	}
	for i, sh := range s.shapes {
		free := func(uint16) bool { return true }
		if sh.over >= 0 {
			free = func(now uint16) bool { return now > 0 && s.shapes[now-1].obj == sh.over }
		}
		cv.fill(px[i], brush{uint16(i + 1), free})
	}
	return cv, nil
}

// view is a plane as the camera sees it.
type view struct {
	back      geom.ToPlane // px to the plane's own (u, v)
	projected float64
	p         plane
}

// shade gives every pixel its light, before the lens, and adds up the truth.
func (s *stage) shade(sc *Scene, cv *canvas, f *field) (planes3, Truth) {
	views := make([]view, len(s.planes))
	for i, p := range s.planes {
		back, err := p.toPx(sc.Camera).Inverse()
		if err != nil {
			continue // seen edge on: it covers no pixel
		}
		views[i] = view{back, p.projected(), p}
	}
	ground := paint{albedo: colour.FromXYZ(sc.Backdrop.Colour.XYZ(colour.WhiteD65)), lamp: 1, class: -1, seed: 77, contrast: sc.Backdrop.Contrast, along: 1}
	cardView := view{projected: 1, p: plane{U: geom.Vec3{1, 0, 0}, V: geom.Vec3{0, 1, 0}}}
	cardView.back, _ = cardView.p.toPx(sc.Camera).Inverse()
	var light planes3
	for c := range light {
		light[c] = make([]float32, cv.w*cv.h)
	}
	var area [Classes]float64
	depth := 0.0
	var parts []share
	for y := range cv.h {
		for x := range cv.w {
			i := y*cv.w + x
			px := geom.PX{X: float64(x), Y: float64(y)}
			parts = cv.shares(i, parts[:0])
			for _, part := range parts {
				pt, v := &ground, &cardView
				if part.id > 0 {
					pt = &s.paints[s.shapes[part.id-1].paint]
					v = &views[pt.plane]
				}
				q := v.back.MM(px)
				at := v.p.at(q.X, q.Y)
				e := f.at(at[0], at[1], pt.lamp)
				t := part.part * texture(pt.seed, pt.contrast, pt.along, q.X, q.Y)
				for c := range 3 {
					light[c][i] += float32(t * pt.albedo[c] * e[c])
				}
				if pt.class >= 0 {
					a := part.part * v.back.AreaMM2(px) * v.projected
					area[pt.class] += a
					depth -= a * at[2]
				}
			}
		}
	}
	return light, s.truth(sc, &cardView, area, depth)
}

// truth completes the sums. Scale and pose are those of true millimetres, at the true middle of the card.
func (s *stage) truth(sc *Scene, cardView *view, area [Classes]float64, depth float64) (t Truth) {
	for _, a := range area {
		t.AreaMM2 += a
	}
	for c, a := range area {
		if t.AreaMM2 > 0 {
			t.Share[c] = a / t.AreaMM2
		}
	}
	whole := 0.0
	for i := range sc.Leaves {
		whole += sc.Leaves[i].AreaMM2() * sc.Stand.planeOf(&sc.Leaves[i]).projected()
	}
	t.HiddenOrCutMM2 = whole - t.AreaMM2
	if t.AreaMM2 > 0 {
		t.MeanDepthMM = depth / t.AreaMM2
	}
	mid := geom.Vec3{card.WidthMM / 2 * sc.Print.Across, card.HeightMM / 2 * sc.Print.Down, 0}
	t.ScalePxPerMM = 1 / math.Sqrt(cardView.back.AreaMM2(sc.Camera.Px(mid)))
	t.TiltDeg = sc.Camera.TiltDeg()
	eye := sc.Camera.Centre()
	t.DistanceMM = geom.Norm(geom.Vec3{eye[0] - mid[0], eye[1] - mid[1], eye[2] - mid[2]})
	return t
}
