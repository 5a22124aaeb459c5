// Command drawscenes draws training scenes for the network that finds leaves, on all cores, in files of 8 samples.
//
//	drawscenes -out DIR -from 0 -count 6400 [-photos DIR] [-workers N] [-seconds S] [-sheet FILE.png]
//
// A file holds for each sample the 16 planes of the view, then the classes of the fine picture, a byte each; its name
// says whether the photos are wide (w) or upright (u). A file appears under its name when it is whole.
package main

import (
	"flag"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"os"
	"path/filepath"
	"runtime"
	"sync"
	"sync/atomic"
	"time"

	"phototrack/internal/trainscene"
)

const perFile = 8

func main() {
	out := flag.String("out", "", "folder for the samples")
	from := flag.Int("from", 0, "number of the first file")
	count := flag.Int("count", 1, "files")
	dir := flag.String("photos", "", "folder of free photographs with labels")
	workers := flag.Int("workers", runtime.NumCPU(), "how many at a time")
	seconds := flag.Float64("seconds", 1e9, "begin no new file after this time")
	sheet := flag.String("sheet", "", "only a contact sheet of 24 samples, as PNG")
	flag.Parse()
	var photos *trainscene.Photos
	if *dir != "" {
		var err error
		if photos, err = trainscene.ReadPhotos(*dir); err != nil {
			fail(err)
		}
	}
	if *sheet != "" {
		if err := contact(*sheet, *from, photos); err != nil {
			fail(err)
		}
		return
	}
	start := time.Now()
	var next atomic.Int64
	var wg sync.WaitGroup
	for range *workers {
		wg.Add(1)
		go func() {
			defer wg.Done()
			var f trainscene.Film
			for {
				n := int(next.Add(1)) - 1
				if n >= *count || time.Since(start).Seconds() > *seconds {
					return
				}
				if err := file(*out, *from+n, photos, &f); err != nil {
					fail(err)
				}
			}
		}()
	}
	wg.Wait()
}

func fail(err error) {
	fmt.Fprintln(os.Stderr, err)
	os.Exit(2)
}

func file(dir string, n int, photos *trainscene.Photos, f *trainscene.Film) error {
	upright := n%4 == 3
	kind := "w"
	if upright {
		kind = "u"
	}
	var data []byte
	for i := range perFile {
		s := trainscene.DrawNear(uint64(n)*perFile+uint64(i), upright, photos, f)
		data = append(append(data, s.View.Pix...), s.Label...)
	}
	name := filepath.Join(dir, fmt.Sprintf("%06d_%s.bin", n, kind))
	if err := os.WriteFile(name+".part", data, 0o644); err != nil {
		return err
	}
	return os.Rename(name+".part", name)
}

// contact shows samples: the photo, and its classes over it.
func contact(name string, from int, photos *trainscene.Photos) error {
	const w, h, across = 384, 288, 4
	img := image.NewRGBA(image.Rect(0, 0, across*w, 6*h))
	var f trainscene.Film
	tint := [5][3]int{{0, 0, 0}, {0, 160, 0}, {200, 0, 160}, {200, 160, 0}, {0, 80, 220}}
	for k := range 12 {
		s := trainscene.DrawNear(uint64(from)*perFile+uint64(k), false, photos, &f)
		for y := range h {
			for x := range w {
				n := s.View.W * s.View.H
				i := y*s.View.W + x
				p := [3]uint8{s.View.Pix[i], s.View.Pix[i+n], s.View.Pix[i+2*n]}
				ox, oy := (k%4)*w+x, (k/4)*2*h+y
				img.Set(ox, oy, color.RGBA{p[0], p[1], p[2], 255})
				c := s.Label[2*y*2*s.View.W+2*x]
				q := [3]int{128, 128, 128}
				if c != 255 {
					for j := range 3 {
						q[j] = min(255, int(p[j])/2+tint[c][j])
					}
				}
				if s.View.Pix[12*n+i] > 0 || s.View.Pix[13*n+i] > 0 {
					q = [3]int{255, 0, 0}
				}
				img.Set(ox, oy+h, color.RGBA{uint8(q[0]), uint8(q[1]), uint8(q[2]), 255})
			}
		}
	}
	out, err := os.Create(name)
	if err != nil {
		return err
	}
	defer out.Close()
	return png.Encode(out, img)
}
