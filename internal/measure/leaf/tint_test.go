package leaf

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestTint(t *testing.T) {
	m := Mask{W: 8, H: 4, Scale: 2, Pix: make([]uint8, 32)}
	for i := range 8 {
		m.Pix[i] = Green + 1
		m.Pix[8+i] = Brown + 1
	}
	pic := newPicture(16, 8, 100, 100, 100)
	m.Tint(pic)
	at := func(x, y int) [3]uint8 { return [3]uint8(pic.Pix[3*(y*pic.W+x):][:3]) }
	assert.Equal(t, [3]uint8{100, 100, 100}, at(3, 1), "green tissue is left as it is")
	assert.NotEqual(t, [3]uint8{100, 100, 100}, at(3, 2), "brown is drawn")
	assert.Greater(t, at(3, 2)[2], at(3, 2)[0], "in vermilion: more red than blue")
	assert.Equal(t, [3]uint8{100, 100, 100}, at(3, 5), "ground is left as it is")
	Mask{}.Tint(pic)
	seen := map[[3]uint8]bool{}
	for c := NoClass; c <= Brown; c++ {
		if rgb, ok := TintColour(c); ok {
			assert.False(t, seen[rgb])
			seen[rgb] = true
		}
	}
	assert.Len(t, seen, 4)
}
