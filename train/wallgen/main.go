// Command wallgen draws walls for training: N samples of a seed, on all processors or as many as are asked for, in shards
// that the trainer reads while more are drawn.
package main

import (
	"bytes"
	"encoding/binary"
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

	"phototrack/internal/wallmaker"
)

func main() {
	n := flag.Int("n", 64, "samples")
	seed := flag.Uint64("seed", 1, "first seed")
	side := flag.Int("side", 384, "px across and down")
	shard := flag.Int("shard", 64, "samples a shard")
	cores := flag.Int("cores", runtime.NumCPU(), "processors")
	out := flag.String("out", "walls", "folder")
	seconds := flag.Float64("seconds", 0, "stop after this time")
	sheet := flag.Bool("png", false, "write a PNG of picture and classes for each sample instead")
	third := flag.Uint64("ordinary", 3, "of so many samples one shows an ordinary pot; 0: none")
	flag.Parse()
	if err := os.MkdirAll(*out, 0o755); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
	start := time.Now()
	var next, drawn atomic.Int64
	var wg sync.WaitGroup
	for range *cores {
		wg.Add(1)
		go func() {
			defer wg.Done()
			for {
				k := int(next.Add(1)) - 1
				if k**shard >= *n || *seconds > 0 && time.Since(start).Seconds() > *seconds {
					return
				}
				var some []wallmaker.Sample
				for i := k * *shard; i < min(*n, (k+1)**shard); i++ {
					some = append(some, draw(*seed+uint64(i), *third, *side))
				}
				drawn.Add(int64(*shard))
				if *sheet {
					fail(pictures(*out, k**shard, some))
				} else {
					fail(writeShard(filepath.Join(*out, fmt.Sprintf("%06d.walls", k)), some))
				}
			}
		}()
	}
	wg.Wait()
	fmt.Printf("%d samples in %.1f s on %d processors\n", drawn.Load(), time.Since(start).Seconds(), *cores)
}

// writeShard writes samples one after the other, each with its figures before it; only the whole file is ever seen under its name.
func writeShard(name string, some []wallmaker.Sample) error {
	var b bytes.Buffer
	for _, s := range some {
		if err := binary.Write(&b, binary.LittleEndian, []float32{s.Mid, s.Top, s.R0, s.K, s.Base, 0, 0, 0}); err != nil {
			return err
		}
		b.Write(s.RGB)
		b.Write(codes(s))
	}
	if err := os.WriteFile(name+".part", b.Bytes(), 0o644); err != nil {
		return err
	}
	return os.Rename(name+".part", name)
}

// pictures writes a PNG of each sample, numbered from first.
func pictures(dir string, first int, some []wallmaker.Sample) error {
	for i, s := range some {
		if err := picture(filepath.Join(dir, fmt.Sprintf("%06d.png", first+i)), s); err != nil {
			return err
		}
	}
	return nil
}

func draw(seed, third uint64, side int) wallmaker.Sample {
	if third > 0 && seed%third == 0 {
		return wallmaker.Ordinary(seed, 0, side, side)
	}
	return wallmaker.Draw(seed, side, side)
}

// lineBit is added to the class where a root's middle line is seen.
const lineBit = 32

func codes(s wallmaker.Sample) []uint8 {
	out := append([]uint8(nil), s.Class...)
	for i, v := range s.Lines() {
		out[i] |= v * lineBit
	}
	return out
}

func fail(err error) {
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

var inks = [wallmaker.Classes]color.RGBA{{40, 40, 40, 255}, {240, 240, 240, 255}, {60, 220, 60, 255}, {200, 120, 40, 255}, {220, 60, 200, 255}, {60, 140, 255, 255}}

func picture(path string, s wallmaker.Sample) error {
	img := image.NewRGBA(image.Rect(0, 0, 2*s.W, s.H))
	lines := s.Lines()
	for i := range s.Class {
		x, y := i%s.W, i/s.W
		img.SetRGBA(x, y, color.RGBA{s.RGB[3*i], s.RGB[3*i+1], s.RGB[3*i+2], 255})
		if c := s.Class[i]; c < wallmaker.Classes {
			img.SetRGBA(x+s.W, y, inks[c])
			if lines[i] != 0 {
				img.SetRGBA(x+s.W, y, color.RGBA{255, 0, 0, 255})
			}
		}
	}
	var b bytes.Buffer
	if err := png.Encode(&b, img); err != nil {
		return err
	}
	return os.WriteFile(path, b.Bytes(), 0o644)
}
