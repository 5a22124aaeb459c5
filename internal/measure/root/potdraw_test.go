package root

import (
	"math"
	"math/rand/v2"

	"phototrack/internal/raster"
	"phototrack/internal/record"
	"phototrack/internal/wall"
)

// standing is a pot drawn by rays, for tests of how pots are found: on a bench before a wall, seen by a camera 620 mm away.
type standing struct {
	size    record.Pot
	deep    float64 // depth over width: 1 round, else oval
	square  bool    // four flat sides, one of them to the camera
	x, y    float64 // axis and rim in the card's frame
	ribs    int     // upright ribs round the pot
	rings   int     // raised rings down the wall
	footMM  float64 // height of a foot ring that stands out
	footOut float64 // how far, mm
	above   float64 // eye above the rim, mm
	plain   bool    // the wall is opaque, of one colour
}

func (p *standing) camera() wall.Camera {
	eye := wall.Vec{40, p.y - p.above, -620}
	return wall.Camera{Fx: 1500, Fy: 1500, Cx: 700, Cy: 380, R: [9]float64{1, 0, 0, 0, 1, 0, 0, 0, 1}, T: eye.Scale(-1)}
}

// shade is the grey value that a ray from the eye meets.
func (p *standing) shade(eye, d wall.Vec, chips *[64 * 64]uint8) float64 {
	h := p.size.HeightMM
	r0, r1 := p.size.TopMM/2+wallThickMM, p.size.BottomMM/2+wallThickMM
	k := (r1 - r0) / h
	best, grey := math.Inf(1), 0.0
	try := func(out, from, to float64, value func(az, y float64) float64) {
		a := r0 + out
		for _, t := range p.meet(eye, d, a, k) {
			q := eye.Add(d.Scale(t))
			if y := q[1] - p.y; t > 0 && t < best && y >= from && y <= to && math.Abs(q[0]-p.x) <= a+k*y+1e-9 {
				best, grey = t, value(math.Atan2(q[0]-p.x, -q[2]), y)
				return
			}
		}
	}
	try(0, 0, h, func(az, y float64) float64 {
		if y < 2.5 || y > h-2.5 {
			return 185
		}
		if p.plain {
			return 120 + 25*math.Cos(az)
		}
		g := float64(chips[(int(az*r0/5+400)&63)*64+int(y/5)&63])
		if y < 9 {
			g = 150 + 10*math.Cos(az) // above the medium
		}
		if p.ribs > 0 && math.Abs(math.Mod(az*float64(p.ribs)/(2*math.Pi)+100, 1)-0.5) < 0.08 {
			g = 0.5*g + 90
		}
		if p.rings > 0 && math.Abs(math.Mod(y*float64(p.rings)/h, 1)-0.5) < 0.03 {
			g = 0.5*g + 90
		}
		return g
	})
	if p.footMM > 0 {
		try(p.footOut, h-p.footMM, h, func(az, _ float64) float64 { return 120 + 40*math.Cos(az) })
	}
	if !math.IsInf(best, 1) {
		return grey
	}
	bench := p.y + h
	if t := (bench - eye[1]) / d[1]; d[1] > 0 && eye[2]+t*d[2] < 400 {
		return 140 + 6*math.Sin(eye[0]+t*d[0])
	}
	return 205
}

// meet is where a ray meets the wall whose half width is a at the rim and changes by k per mm, nearest first.
func (p *standing) meet(o, d wall.Vec, a, k float64) []float64 {
	x, y := o[0]-p.x, o[1]-p.y
	if p.square { // its front and its back
		var out []float64
		for _, side := range [2]float64{-1, 1} {
			// z = side deep (a + k y)
			den := d[2] - side*p.deep*k*d[1]
			if den != 0 {
				out = append(out, (side*p.deep*(a+k*y)-o[2])/den)
			}
		}
		return out
	}
	z, dz := o[2]/p.deep, d[2]/p.deep
	r, dr := a+k*y, k*d[1]
	qa, qb, qc := d[0]*d[0]+dz*dz-dr*dr, 2*(x*d[0]+z*dz-r*dr), x*x+z*z-r*r
	disc := qb*qb - 4*qa*qc
	if disc < 0 {
		return nil
	}
	s := math.Sqrt(disc)
	return []float64{(-qb - s) / (2 * qa), (-qb + s) / (2 * qa)}
}

// draw renders the pot, two by two rays a pixel.
func (p *standing) draw() Input {
	if p.deep == 0 {
		p.deep = 1
	}
	if p.above == 0 {
		p.above = 25
	}
	var chips [64 * 64]uint8
	r := rand.New(rand.NewPCG(5, uint64(p.size.TopMM)))
	for i := range chips {
		chips[i] = uint8(25 + r.IntN(70))
	}
	cam := p.camera()
	eye := cam.Centre()
	img := raster.NewBGR(840, 800)
	for v := range img.H {
		for u := range img.W {
			var g float64
			for _, o := range [4][2]float64{{-.25, -.25}, {.25, -.25}, {-.25, .25}, {.25, .25}} {
				g += p.shade(eye, cam.Ray(float64(u)+o[0], float64(v)+o[1]), &chips) / 4
			}
			b := uint8(math.Min(255, math.Max(0, g+3*r.NormFloat64())))
			i := 3 * (v*img.W + u)
			img.Pix[i], img.Pix[i+1], img.Pix[i+2] = b, b, b
		}
	}
	return Input{Img: img, Camera: cam, Pot: p.size, DistanceMM: 620, Lab: func(b, g, r uint8) (float32, float32, float32) {
		return 116*float32(math.Cbrt(math.Pow(float64(g)/255, 2.2))) - 16, 0, 0
	}}
}
