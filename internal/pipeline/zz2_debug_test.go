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

	"phototrack/internal/collection"
	"phototrack/internal/photo"
	"phototrack/internal/record"
)

func TestYY(t *testing.T) {
	net := &spy{}
	for _, f := range strings.Fields(os.Getenv("YY")) {
		data, _ := os.ReadFile(f)
		frame, err := photo.Read(data, photo.Limits{})
		if err != nil {
			t.Fatal(err)
		}
		m := &measuring{job: Job{Name: filepath.Base(f)}, settings: collection.DefaultSettings(), frame: frame, net: net,
			p: &record.Photo{Taken: frame.Taken, WidthPx: frame.WidthPx, HeightPx: frame.HeightPx}}
		m.calibrate()
		m.leaf()
		mk := m.leaves
		tf, err := os.Open(filepath.Join(filepath.Dir(f), "masks", strings.TrimSuffix(filepath.Base(f), ".jpg")+".png"))
		if err != nil {
			t.Log(err)
			continue
		}
		ti, _ := png.Decode(tf)
		tf.Close()
		codes := map[uint8]int{}
		var hist, histFP [10]int
		var other [5]int
		img := image.NewRGBA(image.Rect(0, 0, mk.W, mk.H))
		fp, fn, tp := 0, 0, 0
		for y := range mk.H {
			for x := range mk.W {
				px, py := min(ti.Bounds().Dx()-1, x*mk.Scale+mk.Scale/2), min(ti.Bounds().Dy()-1, y*mk.Scale+mk.Scale/2)
				c, _, _, _ := ti.At(px, py).RGBA()
				code := uint8(c >> 8)
				if g, ok := ti.(*image.Gray); ok {
					code = g.GrayAt(px, py).Y
				}
				if pl, ok := ti.(*image.Paletted); ok {
					code = pl.ColorIndexAt(px, py)
				}
				truth := code >= 1 && code <= 4
				mine := mk.Pix[y*mk.W+x] != 0
				o := 3 * (py*frame.WidthPx + px)
				q := color.RGBA{frame.Img.Pix[o+2], frame.Img.Pix[o+1], frame.Img.Pix[o], 255}
				switch {
				case truth && mine:
					tp++
				case mine:
					fp++
					mj := min(net.m.H-1, py*net.m.H/frame.HeightPx)*net.m.W + min(net.m.W-1, px*net.m.W/frame.WidthPx)
					histFP[min(9, int(10*net.m.P[1][mj]))]++
					codes[code]++
					q = color.RGBA{255, 0, 0, 255}
				case truth:
					fn++
					mi := min(net.m.H-1, py*net.m.H/frame.HeightPx)*net.m.W + min(net.m.W-1, px*net.m.W/frame.WidthPx)
					hist[min(9, int(10*net.m.P[1][mi]))]++
					other[net.m.Class[mi]]++
					codes[100+code]++
					q = color.RGBA{0, 80, 255, 255}
				}
				img.Set(x, y, q)
			}
		}
		fmt.Printf("%s iou %.4f fp %.2f%% fn %.2f%% by code %v   p at fn %v class %v; p at fp %v\n", filepath.Base(f), float64(tp)/float64(tp+fp+fn), 100*float64(fp)/float64(tp+fn), 100*float64(fn)/float64(tp+fn), codes, hist, other, histFP)
		o, _ := os.Create(filepath.Join(os.Getenv("ZZOUT"), filepath.Base(f)+"_err.png"))
		png.Encode(o, img)
		o.Close()
	}
}
