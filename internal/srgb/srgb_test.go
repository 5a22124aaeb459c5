package srgb

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/icc"
)

// Little CMS must read the profile and find that it says sRGB.
func TestProfileIsSRGB(t *testing.T) {
	p, err := icc.Open(Profile())
	require.NoError(t, err)
	defer p.Close()
	assert.Equal(t, Name, p.Name())

	// The profile's own path from these values to sRGB must leave them alone; the wide space of
	// telephones shows that the check can tell.
	r, err := p.ToSRGB(nil)
	require.NoError(t, err)
	assert.True(t, r.Untouched)

	wide, err := icc.DisplayP3()
	require.NoError(t, err)
	defer wide.Close()
	r, err = wide.ToSRGB(nil)
	require.NoError(t, err)
	assert.False(t, r.Untouched)
}
