package pipeline

import (
	"fmt"
	"image"
	"image/color"
	"image/png"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"phototrack/internal/leafnet"
	"phototrack/internal/regions"
)

type spy struct {
	net leafnet.Net
	v   regions.View
	m   regions.Map
}

func (s *spy) See(v regions.View) (regions.Map, error) {
	m, err := s.net.See(v)
	s.v, s.m = v, m
	mv := regions.View{W: v.W, H: v.H, Pix: make([]uint8, len(v.Pix))}
	order := []int{3, 4, 5, 0, 1, 2, 9, 10, 11, 6, 7, 8, 12, 13, 14, 15}
	n := v.W * v.H
	for k, from := range order {
		for y := range v.H {
			for x := range v.W {
				mv.Pix[k*n+y*v.W+x] = v.Pix[from*n+y*v.W+v.W-1-x]
			}
		}
	}
	m2, _ := s.net.See(mv)
	diff, area, area2, amb := 0.0, 0.0, 0.0, 0.0
	for y := range m.H {
		for x := range m.W {
			a, b := float64(m.P[1][y*m.W+x]), float64(m2.P[1][y*m.W+m.W-1-x])
			diff += max(a-b, b-a)
			amb += 2 * min((a+b)/2, 1-(a+b)/2)
			if a > 0.5 {
				area++
			}
			if b > 0.5 {
				area2++
			}
		}
	}
	fmt.Printf("witness: area %.0f, mirrored %+.2f%%, |diff| %.2f%%, ambiguous %.2f%%\n", area, 100*(area2/area-1), 100*diff/area, 100*amb/area)
	return m, err
}

func TestZZ(t *testing.T) {
	for _, f := range strings.Fields(os.Getenv("ZZ")) {
		data, _ := os.ReadFile(f)
		s := &spy{}
		w := &Measurer{}
		w.spy = s
		w.Measure(data, Job{Name: filepath.Base(f), Path: f}, nil)
		if s.m.W == 0 {
			t.Log(f, "nothing")
			continue
		}
		img := image.NewRGBA(image.Rect(0, 0, s.m.W, 2*s.m.H))
		tint := [5][3]int{{0, 0, 0}, {0, 160, 0}, {200, 0, 160}, {200, 160, 0}, {0, 80, 220}}
		n := s.v.W * s.v.H
		for y := range s.m.H {
			for x := range s.m.W {
				i := (y/2)*s.v.W + x/2 + (2*(y&1)+x&1)*3*n
				p := [3]int{int(s.v.Pix[i]), int(s.v.Pix[i+n]), int(s.v.Pix[i+2*n])}
				img.Set(x, y, color.RGBA{uint8(p[0]), uint8(p[1]), uint8(p[2]), 255})
				var q [3]float32
				for c := range 5 {
					for k := range 3 {
						q[k] += s.m.P[c][y*s.m.W+x] * float32(tint[c][k])
					}
				}
				img.Set(x, y+s.m.H, color.RGBA{uint8(min(255, p[0]/2+int(q[0]))), uint8(min(255, p[1]/2+int(q[1]))), uint8(min(255, p[2]/2+int(q[2]))), 255})
			}
		}
		o, _ := os.Create(filepath.Join(os.Getenv("ZZOUT"), filepath.Base(f)+".png"))
		png.Encode(o, img)
		o.Close()
	}
}
