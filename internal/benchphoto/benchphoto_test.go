package benchphoto

import (
	"bytes"
	"image/jpeg"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestCopiesDifferAndAreOfOneLength(t *testing.T) {
	photo, err := os.ReadFile("../../samples/photos/012_2026-03_L.jpg")
	require.NoError(t, err)
	for _, more := range []int{24, 100, 65537} {
		a, err := Copy(photo, 1, len(photo)+more)
		require.NoError(t, err)
		b, err := Copy(photo, 12345, len(photo)+more)
		require.NoError(t, err)
		assert.Len(t, a, len(photo)+more)
		assert.Len(t, b, len(photo)+more)
		assert.NotEqual(t, a, b)
		was, err := jpeg.Decode(bytes.NewReader(photo))
		require.NoError(t, err)
		is, err := jpeg.Decode(bytes.NewReader(b))
		require.NoError(t, err)
		assert.Equal(t, was, is)
	}
	for _, more := range []int{0, 23, 65538} {
		_, err := Copy(photo, 1, len(photo)+more)
		assert.Error(t, err)
	}
}
