package leaf

import (
	"encoding/json"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"phototrack/internal/cv"
	"phototrack/internal/geom"
	"phototrack/internal/raster"
	"phototrack/internal/record"
)

type sceneCal struct {
	File, Set               string
	Lut                     [][3]float64
	M                       [][3]float64
	Poly                    bool
	H                       [3][3]float64
	Tags                    [][][2]float64
	Blur, Ppm, Dist, Median float64
}

func TestLoop(t *testing.T) {
	raw, err := os.ReadFile("/tmp/leafwork/calib.json")
	if err != nil {
		t.Skip()
	}
	var cals []sceneCal
	json.Unmarshal(raw, &cals)
	truth := map[string]map[string]any{}
	for _, s := range []string{"single", "series", "hard"} {
		var tr struct{ Files []map[string]any }
		b, _ := os.ReadFile("/work/shared/scenes/" + s + "/truth.json")
		json.Unmarshal(b, &tr)
		for _, f := range tr.Files {
			truth[f["file"].(string)] = f
		}
	}
	only := os.Getenv("ONLY")
	for _, c := range cals {
		if strings.HasPrefix(c.File, "X") || (only != "" && !strings.Contains(c.File, only)) {
			continue
		}
		data, _ := os.ReadFile(filepath.Join("/work/shared/scenes", c.Set, c.File))
		img, err := cv.Decode(data)
		if err != nil {
			t.Fatal(err)
		}
		tr := truth[c.File]
		if o := tr["orientation"].(float64); o != 1 {
			img = rot(img, int(o))
		}
		in := &Input{Img: img, ScalePxPerMM: c.Ppm, DistanceMM: c.Dist, EdgeSpreadPx: c.Blur}
		for k := range 3 {
			for i := range 256 {
				in.Colour.Tone[k][i] = float32(c.Lut[i][k])
			}
			for j := range c.M {
				in.Colour.Mix[k][j] = float32(c.M[j][k])
			}
		}
		in.Colour.Root = c.Poly
		cam := tr["camera"].(map[string]any)
		card := tr["card"].(map[string]any)
		K := geom.Mat3{cam["fx"].(float64), 0, cam["cx"].(float64), 0, cam["fy"].(float64), cam["cy"].(float64), 0, 0, 1}
		R := card["R"].([]any)
		tt := card["t_mm"].([]any)
		var P geom.Mat3
		for i := range 3 {
			r := R[i].([]any)
			P[3*i], P[3*i+1], P[3*i+2] = r[0].(float64), r[1].(float64), tt[i].(float64)
		}
		in.CardToPx = geom.Homography(K.Mul(P))
		for i := range 9 {
			in.CardToPx[i] /= K.Mul(P)[8]
		}
		for _, q := range [][2]float64{{-2, -2}, {150, -2}, {150, 102}, {-2, 102}} {
			p := in.CardToPx.Px(geom.MM{X: q[0], Y: q[1]})
			in.Card = append(in.Card, record.Point(p))
		}
		for _, tg := range c.Tags {
			var ps []record.Point
			for _, q := range tg {
				ps = append(ps, record.Point{X: q[0], Y: q[1]})
			}
			in.Tags = append(in.Tags, ps)
		}
		mf, _ := os.Open(filepath.Join("/work/shared/scenes", c.Set, "masks", strings.TrimSuffix(c.File, ".jpg")+".png"))
		mi, _ := png.Decode(mf)
		mf.Close()
		gm := mi.(*image.Gray)
		toPlane, _ := in.CardToPx.Inverse()
		if os.Getenv("BROWN") != "" {
			debugBrown = func(g *grid, label []int32, ps []brownPart) {
				tr := make([]int, len(ps))
				cx := make([]int, len(ps))
				cy := make([]int, len(ps))
				for i, l := range label {
					x, y := i%g.w, i/g.w
					cx[l] += x
					cy[l] += y
					if v := gm.Pix[(y*g.k)*gm.Stride+x*g.k]; v >= 1 && v <= 4 {
						tr[l]++
					}
				}
				for l, p := range ps {
					if p.size > 60 {
						fmt.Printf("   %5d true %.2f hold %.2f tag %d L %.0f C %.0f at %d,%d keep %v turns", p.size, float64(tr[l])/float64(p.size), float64(p.hold)/float64(p.rim), p.tag, p.L, p.chroma, cx[l]/p.size, cy[l]/p.size, p.isLeaf(1/g.pxPerMM/g.pxPerMM))
						for i, t := range p.turns {
							fmt.Printf(" %.2f@%v", t, p.at[i])
						}
						fmt.Println()
					}
				}
			}
		}
		t0 := time.Now()
		set := DefaultSettings()
		in.AreaRelU, in.LU, in.AU, in.BU, in.HueDegU = 0.001, 0.5, 0.5, 0.5, 1
		in.Eye = eye(R, tt)
		res, why, err := Measure(*in, set)
		el := time.Since(t0)
		if err != nil || len(res.Quantities) == 0 {
			fmt.Println(c.File, err, why)
			continue
		}
		f := &fine{w: res.Mask.W, h: res.Mask.H, k: res.Mask.Scale, mask: res.Mask.Pix}
		own := res.Quantities[0].Value
		sh := tr["leaf"].(map[string]any)["visible_share"].(map[string]any)
		worst, shs := 0.0, ""
		for i, n := range []string{"green", "yellow", "purple", "brown"} {
			d := 100 * (res.Quantities[1+i].Value - sh[n].(float64))
			worst = max(worst, math.Abs(d))
			shs += fmt.Sprintf(" %+.2f(±%.2f)", d, 100*res.Quantities[1+i].U95)
		}
		var truA, both, uni, fp, fn float64
		dbg := image.NewRGBA(image.Rect(0, 0, img.W, img.H))
		for y := range img.H {
			for x := range img.W {
				v := gm.Pix[y*gm.Stride+x]
				tm := v >= 1 && v <= 4
				om := false
				if x/f.k < f.w && y/f.k < f.h {
					om = f.mask[y/f.k*f.w+x/f.k] != 0
				}
				a := 0.0
				if tm || om {
					a = toPlane.AreaMM2(geom.PX{X: float64(x), Y: float64(y)})
					uni += a
				}
				if tm {
					truA += a
				}
				if tm && om {
					both += a
				}
				p := img.Pix[3*(y*img.W+x):]
				col := color.RGBA{p[2], p[1], p[0], 255}
				if tm && !om {
					fn += a
					col = color.RGBA{0, 0, 255, 255}
				} else if om && !tm {
					fp += a
					col = color.RGBA{255, 0, 0, 255}
				}
				dbg.SetRGBA(x, y, col)
			}
		}
		lt := tr["leaf"].(map[string]any)
		fmt.Printf("%-24s mask %+6.2f%% truth %+6.2f%% (±%.1f) IoU %.4f fp %.2f fn %.2f  %v  share %.2f [%s]\n", c.File, (own/truA-1)*100, (own/lt["visible_area_total_mm2"].(float64)-1)*100, res.Quantities[0].U95/own*100, both/uni, fp/truA*100, fn/truA*100, el.Round(time.Millisecond), worst, shs)
		if math.Abs(own/truA-1) > 0.004 || only != "" {
			o, _ := os.Create("/tmp/leafwork/dbg_" + c.File + ".png")
			png.Encode(o, dbg)
			o.Close()
		}
	}
}

func rot(img raster.BGR, o int) raster.BGR {
	out := raster.NewBGR(img.H, img.W)
	for y := range img.H {
		for x := range img.W {
			nx, ny := img.H-1-y, x // 6: turn clockwise
			if o == 8 {
				nx, ny = y, img.W-1-x
			}
			copy(out.Pix[3*(ny*out.W+nx):], img.Pix[3*(y*img.W+x):3*(y*img.W+x)+3])
		}
	}
	return out
}

func eye(R, tt []any) (e [3]float64) {
	for i := range 3 {
		for j := range 3 {
			e[i] -= R[j].([]any)[i].(float64) * tt[j].(float64)
		}
	}
	return
}
