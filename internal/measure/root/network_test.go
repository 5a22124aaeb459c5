package root

import (
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The network is one for the whole process: walls that are asked about at the same time are answered as those asked one after the other.
func TestTwoWallsAreJudgedAtOnce(t *testing.T) {
	sheets := [2]*sheet{newDrawn(1).sh, newDrawn(2).sh}
	var alone, together [2]*regions
	for i, s := range sheets {
		r, err := judgeWall(s, wallNetwork)
		require.NoError(t, err)
		alone[i] = r
	}
	var wait sync.WaitGroup
	var errs [2]error
	for i, s := range sheets {
		wait.Go(func() { together[i], errs[i] = judgeWall(s, wallNetwork) })
	}
	wait.Wait()
	for i := range sheets {
		require.NoError(t, errs[i])
		assert.Equal(t, alone[i].any.Pix, together[i].any.Pix)
		assert.Equal(t, alone[i].line.Pix, together[i].line.Pix)
	}
	assert.NotEqual(t, alone[0].any.Pix, alone[1].any.Pix)
}
