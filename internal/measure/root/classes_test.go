package root

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// oneByOne is what setRow does, a pixel at a time: root of any kind, tip, old, hidden, mark on the wall, middle line.
func oneByOne(e [classCount + 1]float32) (out [6]float32) {
	most, sure := e[medium], true
	for _, v := range e[1:classCount] {
		most, sure = max(most, v), sure && e[medium]-v >= surelyLogit
	}
	if sure {
		return out
	}
	var p [classCount]float32
	var sum float32
	for c := range p {
		p[c] = quickExp(e[c] - most)
		sum += p[c]
	}
	k := 1 / sum
	out = [6]float32{k * (p[living] + p[tip] + p[old]), k * p[tip], k * p[old], k * p[hidden], k * p[onWall]}
	switch x := e[classCount]; {
	case out[0] <= 0:
	case x < 0:
		out[5] = quickExp(x) / (1 + quickExp(x))
	default:
		out[5] = 1 / (1 + quickExp(-x))
	}
	return out
}

func quickExp(v float32) float32 {
	if v < -60 {
		return 0
	}
	t := v * math.Log2E
	n := float32(int32(t) - 1)
	f := t - n
	p := 1 + f*(0.6931472+f*(0.2402265+f*(0.0555041+f*(0.0096181+f*0.0013333))))
	return math.Float32frombits(uint32(int32(n)+127)<<23) * p
}

func TestClassesOfSampledRowsOneByOne(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	for _, w := range []int{1, 2, 3, 7, 64, 65, 131} {
		s := &sheet{view: &view{W: w, H: 3}}
		pw, ph := s.planeSize()
		for channels := classCount; channels <= classCount+1; channels++ {
			logits := make([]float32, placePx*channels*pw*ph)
			for i := range logits {
				logits[i] = float32(rng.NormFloat64() * math.Exp(4*rng.Float64()))
			}
			r := s.regionsOf(logits, channels)
			for i := range r.any.Pix {
				x, y := i%w, i/w
				var e [classCount + 1]float32
				for c := range channels {
					e[c] = logits[(placePx*c+2*(y&1)+x&1)*pw*ph+y/2*pw+x/2]
				}
				want := oneByOne(e)
				got := [6]float32{r.any.Pix[i], r.tip.Pix[i], r.old.Pix[i], r.hidden.Pix[i], r.onWall.Pix[i], want[5]}
				if channels > classCount {
					got[5] = r.line.Pix[i]
				}
				require.Equal(t, want, got, "%v", e)
			}
		}
	}
	for v := float32(-59); v <= 0; v += 0.37 {
		assert.InEpsilon(t, math.Exp(float64(v)), quickExp(v), 0.002)
	}
}
