// Command doubtdata measures scenes that were not trained on as the program does, and writes for each how wrong the leaf's area
// comes out and what the measurement says about that: the table from which the doubt's size was taken
// (docs/model-card.md).
//
//	doubtdata -from 9500000 -count 200 > doubt.csv
//	doubtdata -bare -from 9300000 -count 700 > bare.csv
package main

import (
	"flag"
	"fmt"
	"os"

	"phototrack/internal/colour"
	"phototrack/internal/cv"
	"phototrack/internal/geom"
	"phototrack/internal/leafnet"
	"phototrack/internal/measure/leaf"
	"phototrack/internal/regions"
	"phototrack/internal/trainscene"
)

func main() {
	from := flag.Uint64("from", 9500000, "first seed")
	count := flag.Int("count", 100, "scenes")
	noCard := flag.Bool("bare", false, "scenes and close-ups without card and tag instead: how well the leaves are found there")
	flag.Parse()
	cv.SetThreads(1)
	var net leafnet.Net
	var film trainscene.Film
	if *noCard {
		fmt.Println("seed,iou")
		for i := range *count {
			bare(*from+uint64(i), &net, &film)
		}
		return
	}
	fmt.Println("seed,truth_px,area_px,doubt_px,bernoulli_px,apart_px,flags")
	for i := range *count {
		seed := *from + uint64(i)
		s := trainscene.Draw(seed, false, nil, &film)
		truth := 0
		scale := float64(s.Photo.W) / float64(2*s.View.W)
		n := s.View.W * s.View.H
		for j, c := range s.Label {
			y, x := j/(2*s.View.W), j%(2*s.View.W)
			if c == uint8(regions.Leaf) && s.View.Pix[12*n+y/2*s.View.W+x/2] == 0 && s.View.Pix[13*n+y/2*s.View.W+x/2] == 0 {
				truth++
			}
		}
		if s.Card == nil || truth < leastTruth {
			continue
		}
		in := leaf.Input{Img: s.Photo, CardToPx: geom.Homography{1, 0, 0, 0, 1, 0, 0, 0, 1}, DistanceMM: 600, ScalePxPerMM: 1, EdgeSpreadPx: s.SpreadPx,
			Eye: [3]float64{0, 0, -600}, Card: s.Card, Tags: s.Tags, Net: &net}
		for c := range 3 {
			for v := range 256 {
				in.Colour.Tone[c][v] = s.Gain[c] * float32(colour.LinearOf8[v])
			}
			in.Colour.Mix[c][c] = 1
		}
		d, err := leaf.Judge(in, leaf.DefaultSettings())
		if err != nil {
			fmt.Fprintln(os.Stderr, seed, err)
			continue
		}
		px := scale * scale
		fmt.Printf("%d,%.0f,%.0f,%.0f,%.0f,%.0f,\n", seed, float64(truth)*px, d.AreaPx, d.DoubtPx, d.BernoulliPx, d.ApartPx)
	}
}

// bare prints the intersection over union of the leaves of a scene without card and tag, where such a one is of the seed.
func bare(seed uint64, net *leafnet.Net, film *trainscene.Film) {
	s := trainscene.DrawNear(seed, false, nil, film)
	if s.Card != nil {
		return
	}
	m, err := leaf.Regions(leaf.Input{Img: s.Photo, Colour: leaf.SRGB(), Net: net}, leaf.DefaultSettings())
	if err != nil {
		fmt.Fprintln(os.Stderr, seed, err)
		return
	}
	truth, both, either := 0, 0, 0
	w := 2 * s.View.W
	for j, c := range s.Label {
		if c == ignored {
			continue
		}
		// A pixel of the fine picture is a quarter longer than the photo's.
		y, x := (10*(j/w)+5)/8, (10*(j%w)+5)/8
		is, found := c == uint8(regions.Leaf), m.Pix[y*m.W+x] == uint8(regions.Leaf)
		if is {
			truth++
		}
		if is && found {
			both++
		}
		if is || found {
			either++
		}
	}
	if truth >= leastTruth {
		fmt.Printf("%d,%.4f\n", seed, float64(both)/float64(either))
	}
}

// ignored is a label that says nothing; leastTruth how many pixels of leaf a scene must show.
const ignored, leastTruth = 255, 4000
