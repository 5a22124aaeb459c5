package leaf

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
)

// The loops in C give what Linear gives, to the last digit, with and without roots, and the bytes of the encoding's table.
func TestRowsOfLightAreThoseOfPixels(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	for _, root := range []bool{false, true} {
		c := Colour{Root: root}
		for k := range 3 {
			for v := range 256 {
				c.Tone[k][v] = float32(v)/255*float32(0.9+0.2*rng.Float64()) - 0.01
			}
			for j := range 6 {
				c.Mix[k][j] = float32(rng.NormFloat64() / 3)
			}
			c.Mix[k][k]++
		}
		enc := newEncodeTable()
		for _, n := range []int{1, 63, 64, 65, 200} {
			row := make([]uint8, 3*n)
			for i := range row {
				row[i] = uint8(rng.IntN(256))
			}
			lin := make([][3]float32, n)
			c.linearRow(row, lin)
			corrected := append([]uint8(nil), row...)
			c.correctRow(corrected, enc.bytes())
			for i, got := range lin {
				r, g, b := c.Linear(row[3*i+2], row[3*i+1], row[3*i])
				assert.Equal(t, [3]float32{r, g, b}, got)
				assert.Equal(t, []uint8{enc.byte(b), enc.byte(g), enc.byte(r)}, corrected[3*i:3*i+3])
			}
		}
	}
}

// byte is the encoded value as the nearest whole number.
func (t *encodeTable) byte(l float32) uint8 {
	return uint8(t[int(sqrt32(min(1, l))*encodeSteps+0.5)] + 0.5)
}
