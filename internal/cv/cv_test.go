package cv

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestDetectsWhatTheDictionaryDraws(t *testing.T) {
	const cell, margin = 6, 30
	for _, id := range []int{0, 12, 574, 575, 586} {
		m, err := DrawMarker(id, cell)
		require.NoError(t, err)
		w := m.W + 2*margin
		page := make([]uint8, w*w)
		for i := range page {
			page[i] = 255
		}
		for y := range m.H {
			copy(page[(y+margin)*w+margin:], m.Pix[y*m.W:(y+1)*m.W])
		}
		got, err := DetectMarkers(page, w, w)
		require.NoError(t, err)
		require.Len(t, got, 1)
		assert.Equal(t, id, got[0].ID)
		assert.InDelta(t, margin, got[0].Corners[0][0], 1.5, "top left corner first")
		assert.InDelta(t, margin+m.W, got[0].Corners[2][1], 1.5)
	}
}

func TestDecodeRefusesRubbish(t *testing.T) {
	for name, data := range map[string][]byte{"nothing": nil, "text": []byte("no picture at all"), "start of a JPEG": {0xff, 0xd8, 0xff, 0xe0}} {
		t.Run(name, func(t *testing.T) {
			_, err := Decode(data)
			assert.ErrorIs(t, err, ErrDecode)
		})
	}
}
