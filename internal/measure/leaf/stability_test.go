package leaf

import (
	"bytes"
	"image"
	"image/jpeg"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/colour"
	"phototrack/internal/leafnet"
	"phototrack/internal/photo"
	"phototrack/internal/raster"
	"phototrack/internal/record"
	"phototrack/internal/reftest"
	"phototrack/internal/shrink"
)

// The same photo re-saved, scaled, turned, brightened and darkened measures the same, area within 1.5 % and shares within two
// points, or it is flagged.
func TestStability(t *testing.T) {
	reftest.Slow(t)
	net := &leafnet.Net{}
	defer func() { require.NoError(t, net.Close()) }()
	for _, c := range []struct{ set, file string }{
		{"series", "023_2026-05_L.jpg"},
		{"hard", "D03_L_green_cloth.jpg"},
		{"hard", "D06_L_replicate_a.jpg"},
		{"wild-leaves", "N07_L_grey_dusk.jpg"},
	} {
		for _, s := range scenesOf(t, c.set) {
			if s.File != c.file {
				continue
			}
			f, _ := readScene(t, c.set, s)
			measure := func(img raster.BGR) (Result, bool) {
				in := inputOf(t, img, f.F35MM)
				in.Net = net
				res, why, err := Measure(in, DefaultSettings())
				require.NoError(t, err)
				return res, len(why) > 0
			}
			plain, _ := measure(f.Img)
			a0 := valueOf(t, plain, record.LeafArea).Value
			for _, v := range []struct {
				name string
				img  raster.BGR
			}{
				{"JPEG 60", resaved(t, f.Img, 60)},
				{"half size", halved(t, f.Img)},
				{"turned by 90 degrees", turned90(f.Img)},
				{"a third of a stop brighter", brightened(f.Img, math.Cbrt(2))},
				{"a stop darker", brightened(f.Img, 0.5)},
			} {
				res, flagged := measure(v.img)
				a := valueOf(t, res, record.LeafArea).Value
				worst := 0.0
				for c := Green; c <= Brown; c++ {
					n := record.QuantityName(classNames[c] + "_share")
					worst = max(worst, math.Abs(valueOf(t, res, n).Value-valueOf(t, plain, n).Value))
				}
				t.Logf("%s, %s: area %+.2f %%, worst share %.2f points, flagged %v", c.file, v.name, 100*(a/a0-1), 100*worst, flagged)
				if !flagged {
					assert.InEpsilon(t, a0, a, 0.015, "%s, %s: area", c.file, v.name)
					assert.Less(t, worst, 0.02, "%s, %s: shares", c.file, v.name)
				}
			}
		}
	}
}

func resaved(t testing.TB, b raster.BGR, quality int) raster.BGR {
	img := image.NewNRGBA(image.Rect(0, 0, b.W, b.H))
	for i := range b.W * b.H {
		img.Pix[4*i], img.Pix[4*i+1], img.Pix[4*i+2], img.Pix[4*i+3] = b.Pix[3*i+2], b.Pix[3*i+1], b.Pix[3*i], 255
	}
	var buf bytes.Buffer
	require.NoError(t, jpeg.Encode(&buf, img, &jpeg.Options{Quality: quality}))
	f, err := photo.Read(buf.Bytes(), photo.Limits{})
	require.NoError(t, err)
	return f.Img
}

func halved(t testing.TB, b raster.BGR) raster.BGR {
	out, err := shrink.Blocks(b, 2)
	require.NoError(t, err)
	return out
}

func turned90(b raster.BGR) raster.BGR {
	out := raster.NewBGR(b.H, b.W)
	for y := range b.H {
		for x := range b.W {
			copy(out.Pix[3*(x*out.W+b.H-1-y):][:3], b.Pix[3*(y*b.W+x):])
		}
	}
	return out
}

func brightened(b raster.BGR, gain float64) raster.BGR {
	out := raster.NewBGR(b.W, b.H)
	var lut [256]uint8
	for v := range lut {
		lut[v] = colour.Encode8(gain * colour.LinearOf8[v])
	}
	for i, v := range b.Pix {
		out.Pix[i] = lut[v]
	}
	return out
}

func newPicture(w, h int, r, g, b uint8) raster.BGR {
	out := raster.NewBGR(w, h)
	for i := 0; i < len(out.Pix); i += 3 {
		out.Pix[i], out.Pix[i+1], out.Pix[i+2] = b, g, r
	}
	return out
}
