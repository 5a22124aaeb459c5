package scenemaker

import (
	"math"
	"math/rand/v2"

	"phototrack/internal/colour"
	"phototrack/internal/raster"
)

// Sensor is the camera behind the lens.
type Sensor struct {
	WhiteSRGB float64       // 8-bit value that the card's paper reaches
	BlurPx    float64       // standard deviation of the lens's point spread; a pixel's own area comes on top
	Electrons float64       // at full scale: shot noise
	ReadNoise float64       // of full scale
	Mix       [3][3]float64 // what channels see of each other's light; rows sum to 1
	Contrast  float64       // of the tone curve beyond sRGB's: 0 none
	Flare     float64       // light spread over the whole photo, of full scale
	Quality   int           // of the JPEG
}

// Straight is a camera that sees sRGB.
var Straight = [3][3]float64{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}

// planes3 are three channels of linear light.
type planes3 [3][]float32

// blur is a separable Gaussian; what lies outside the frame is taken like its edge.
func blur(p []float32, w, h int, sigma float64) {
	if sigma < 0.05 {
		return
	}
	r := max(1, int(math.Ceil(3*sigma)))
	k := make([]float32, 2*r+1)
	sum := 0.0
	for i := range k {
		sum += math.Exp(-float64((i-r)*(i-r)) / (2 * sigma * sigma))
	}
	for i := range k {
		k[i] = float32(math.Exp(-float64((i-r)*(i-r))/(2*sigma*sigma)) / sum)
	}
	line := make([]float32, w+2*r)
	for y := range h {
		row := p[y*w : (y+1)*w]
		copy(line[r:], row)
		for i := range r {
			line[i], line[r+w+i] = row[0], row[w-1]
		}
		for x := range row {
			v := float32(0)
			for i, c := range k {
				v += c * line[x+i]
			}
			row[x] = v
		}
	}
	// Down the columns, a row at a time: a ring of the rows as they were.
	ring := make([][]float32, 2*r+1)
	for i := range ring {
		ring[i] = append([]float32(nil), p[min(h-1, max(0, i-r))*w:][:w]...)
	}
	for y := range h {
		out := p[y*w : (y+1)*w]
		clear(out)
		for i, c := range k {
			src := ring[(y+i)%len(ring)]
			for x, v := range src {
				out[x] += c * v
			}
		}
		next := min(h-1, y+r+1)
		copy(ring[y%len(ring)], p[next*w:][:w])
	}
}

const toneSteps = 1 << 14

// tone is the table from linear light 0..1 to the 8-bit value, not yet rounded.
func (s Sensor) tone() []float32 {
	t := make([]float32, toneSteps+1)
	for i := range t {
		v := colour.Encode(float64(i) / toneSteps)
		v += s.Contrast * v * (1 - v) * (2*v - 1)
		t[i] = float32(255 * v)
	}
	return t
}

// expose turns light into the picture: channels mixed, flare, noise, tone, eight bits. Exposure is such that paper lit
// evenly reaches WhiteSRGB.
func (s Sensor) expose(light planes3, w, h int, paperAlbedo float64, seed uint64) raster.BGR {
	out := raster.NewBGR(w, h)
	gain := float32(colour.Linear(s.WhiteSRGB/255) / paperAlbedo)
	var m [3][3]float32
	for i := range 3 {
		for j := range 3 {
			m[i][j] = float32(s.Mix[i][j]) * gain
		}
	}
	rng := rand.New(rand.NewPCG(seed, 0x5eed))
	tone := s.tone()
	shot, read, flare := float32(1/s.Electrons), float32(s.ReadNoise*s.ReadNoise), float32(s.Flare)
	for i := range w * h {
		r, g, b := light[0][i], light[1][i], light[2][i]
		for c := range 3 {
			v := m[c][0]*r + m[c][1]*g + m[c][2]*b + flare
			v += float32(math.Sqrt(float64(max(0, v)*shot+read))) * float32(rng.NormFloat64())
			x := min(toneSteps, max(0, v*toneSteps))
			k := min(toneSteps-1, int(x))
			t := tone[k] + (x-float32(k))*(tone[k+1]-tone[k])
			out.Pix[3*i+2-c] = uint8(min(255, max(0, t+0.5)))
		}
	}
	return out
}
