// Command doubtdata shows scenes that were not trained on to the network, and writes for each how wrong the leaf's area
// comes out and what the network's two looks say about that: the table from which the doubt's size was taken
// (docs/model-card.md).
//
//	doubtdata -from 9500000 -count 200 > doubt.csv
package main

import (
	"flag"
	"fmt"
	"os"

	"phototrack/internal/cv"
	"phototrack/internal/leafnet"
	"phototrack/internal/measure/leaf"
	"phototrack/internal/regions"
	"phototrack/internal/trainscene"
)

func main() {
	from := flag.Uint64("from", 9500000, "first seed")
	count := flag.Int("count", 100, "scenes")
	flag.Parse()
	cv.SetThreads(1)
	var net leafnet.Net
	var film trainscene.Film
	fmt.Println("seed,truth_px,area_px,doubt_px,bernoulli_px,apart_px,border_px")
	for i := range *count {
		seed := *from + uint64(i)
		s := trainscene.Draw(seed, false, nil, &film)
		n := s.View.W * s.View.H
		card := false
		for _, b := range s.View.Pix[12*n : 13*n] {
			card = card || b > 0
		}
		m, err := regions.Look(&net, s.View)
		if err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(2)
		}
		truth, area := 0, 0
		mask := make([]uint8, len(s.Label))
		for j, c := range s.Label {
			if c == 255 || s.View.Pix[12*n+j/m.W/2*s.View.W+j%m.W/2] > 0 {
				continue
			}
			if c == 1 {
				truth++
			}
			if m.P[regions.Leaf][j] > 0.5 {
				area++
				mask[j] = 1
			}
		}
		if !card || truth < 4000 {
			continue
		}
		d := leaf.DoubtOf(m.W, m.H, mask, m.P[regions.Leaf], m.Apart)
		fmt.Printf("%d,%d,%d,%.0f,%.0f,%.0f,%.0f\n", seed, truth, area, d.Area, d.Bernoulli, d.Apart, d.Border)
	}
}
