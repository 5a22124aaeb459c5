package icc

/*
#include <lcms2.h>
*/
import "C"

import (
	"math"
	"unsafe"
)

// shaper is a transform by three curves and a matrix, as cameras' profiles are, taken apart into sums: what each level of
// each channel adds to the linear values of sRGB. It does in a third of the time what the library's own loop does.
type shaper struct {
	add    [3][256][3]int32 // by channel of the input (blue, green, red) and level: blue, green, red in 1/256 of 1/65535
	encode [1 << 16]byte    // from linear 0..65535 to a level of sRGB
}

const (
	shaperBits  = 8
	shaperRound = 1 << (shaperBits - 1)
	linearMax   = 1<<16 - 1
)

// mostLinear is the linear light, of white's, above which a profile is not one of this kind: three such terms still fit 32 bits.
const mostLinear = 16

// shaperOf takes a profile apart by asking the library for the levels of each channel alone. A profile that is more than
// curves and a matrix does not add up in this way: the result is held against the library's own on a grid of colours,
// and ok is false where they differ by more than one level.
func shaperOf(p *Profile, exact C.cmsHTRANSFORM) (s *shaper, ok bool) {
	t := linearTransform(p)
	if t == nil {
		return nil, false
	}
	defer C.cmsDeleteTransform(t)
	const n = 1 + 3*256
	in, out := make([]float32, 3*n), make([]float32, 3*n) // the first stays black
	for c := range 3 {
		for v := range 256 {
			in[3*(1+256*c+v)+c] = float32(v) / 255
		}
	}
	C.cmsDoTransform(t, unsafe.Pointer(&in[0]), unsafe.Pointer(&out[0]), n)
	s = &shaper{}
	for c := range 3 {
		for v := range 256 {
			for k := range 3 {
				// Black is in each of the three terms of a sum but must count once.
				x := float64(out[3*(1+256*c+v)+k]) - float64(out[k])*2/3
				if math.IsNaN(x) || math.Abs(x) > mostLinear {
					return nil, false
				}
				s.add[c][v][k] = int32(math.Round(x * linearMax * (1 << shaperBits)))
			}
		}
	}
	for i := range s.encode {
		s.encode[i] = byte(math.Round(255 * encodeSRGB(float64(i)/linearMax)))
	}
	return s, s.agrees(exact)
}

// agrees compares with the library's transform on the grid of probes.
func (s *shaper) agrees(exact C.cmsHTRANSFORM) bool {
	in := probeGrid()
	want := make([]byte, len(in))
	C.cmsDoTransform(exact, unsafe.Pointer(&in[0]), unsafe.Pointer(&want[0]), C.cmsUInt32Number(len(in)/3))
	s.apply(in)
	for i := range in {
		if !near(in[i], want[i]) {
			return false
		}
	}
	return true
}

// apply converts blue, green, red pixels in place.
func (s *shaper) apply(pix []byte) {
	for i := 0; i+2 < len(pix); i += 3 {
		p := pix[i : i+3 : i+3]
		b, g, r := &s.add[0][p[0]], &s.add[1][p[1]], &s.add[2][p[2]]
		p[0] = s.encode[linear(b[0]+g[0]+r[0])]
		p[1] = s.encode[linear(b[1]+g[1]+r[1])]
		p[2] = s.encode[linear(b[2]+g[2]+r[2])]
	}
}

// clipped is the share of sampled pixels that sRGB cannot show, by the same margin of one level as the library's way.
func (s *shaper) clipped(pix []byte) float64 {
	low := int32(-math.Round(linearMax / (255 * 12.92) * (1 << shaperBits)))
	high := int32(math.Round(decodeSRGB(256.0/255) * linearMax * (1 << shaperBits)))
	count, all := 0, 0
	step := 3 * sampleStep(len(pix)/3)
	for i := 0; i+2 < len(pix); i += step {
		b, g, r := &s.add[0][pix[i]], &s.add[1][pix[i+1]], &s.add[2][pix[i+2]]
		x, y, z := b[0]+g[0]+r[0], b[1]+g[1]+r[1], b[2]+g[2]+r[2]
		if min(x, y, z) < low || max(x, y, z) > high {
			count++
		}
		all++
	}
	return float64(count) / float64(all)
}

// linear rounds a sum and clips it to what sRGB can show.
func linear(sum int32) uint16 {
	return uint16(min(max((sum+shaperRound)>>shaperBits, 0), linearMax))
}

// decodeSRGB is the way back, for signals above the short straight piece at black.
func decodeSRGB(v float64) float64 { return math.Pow((v+0.055)/1.055, 2.4) }

// linearKnee is where the straight piece at black ends (IEC 61966-2-1).
const linearKnee = 0.0031308

// encodeSRGB is the tone curve of IEC 61966-2-1 from linear light to the signal, both 0 to 1.
func encodeSRGB(v float64) float64 {
	if v <= linearKnee {
		return 12.92 * v
	}
	return 1.055*math.Pow(v, 1/2.4) - 0.055
}
