package segnet

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestBytesThatAreNoNetwork(t *testing.T) {
	_, err := New(nil, 16, 16)
	require.ErrorIs(t, err, ErrModel)
	_, err = New(make([]byte, 50), 16, 16)
	require.ErrorIs(t, err, ErrModel)
}
