package intake

import (
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/collection"
	"phototrack/internal/record"
	"phototrack/internal/series"
)

func TestParsePart(t *testing.T) {
	for _, s := range []string{"", "1", "0/3", "4/3", "-1/3", "1/0", "1/3/4", "a/b", "1/99999999999999999999", " 1/3"} {
		_, err := ParsePart(s)
		assert.Error(t, err, "%q", s)
	}
	p, err := ParsePart("3/8")
	require.NoError(t, err)
	assert.Equal(t, Part{3, 8}, p)
}

// Every photo belongs to exactly one part, the shares are about equal, and which part it is depends on its content alone.
func TestPartsDivide(t *testing.T) {
	for _, n := range []int{1, 2, 7, 64} {
		count := make([]int, n)
		for i := range 6400 {
			sum, in := collection.Hash([]byte(fmt.Sprint(i))), 0
			for k := 1; k <= n; k++ {
				if (Part{k, n}).Holds(sum) {
					in++
					count[k-1]++
				}
			}
			require.Equal(t, 1, in)
		}
		for _, c := range count {
			// Five standard deviations of a binomial share.
			assert.InDelta(t, 6400/n, c, 5*80, "of %d", n)
		}
	}
}

// A result comes back as it was, to the last bit; one that was cut, changed or renamed is refused.
func TestResultFiles(t *testing.T) {
	dir := t.TempDir()
	p := record.Photo{Name: "a.jpg", SHA256: collection.Hash([]byte("a")), Status: record.Accepted, Plant: 12, View: record.Leaf,
		Taken:      record.Stamp{Time: time.Date(2026, 5, 14, 9, 30, 0, 0, time.FixedZone("", 7200)), HasOffset: true, Source: "exif"},
		Quantities: []record.Quantity{{Name: record.LeafArea, Unit: "mm2", Value: 1.0 / 3, U95: 5e-324, Terms: []record.Term{{Name: "print", U: 0.1, Shape: record.Normal, Common: true}}}},
		Pictures:   map[string][]byte{"plain": {1, 2, 3}}, Extra: map[string]string{"k": "v"}}
	in := result{Photo: p, Seen: []series.SeenFile{{Path: "/x/a.jpg", Size: 3, MTime: time.Unix(5, 7), SHA256: p.SHA256}}}
	require.NoError(t, writeResult(dir, in))
	path := filepath.Join(dir, p.SHA256+ResultExt)
	out, err := readResult(path)
	require.NoError(t, err)
	assert.Equal(t, in.Photo.Taken.String(), out.Photo.Taken.String())
	assert.True(t, in.Seen[0].MTime.Equal(out.Seen[0].MTime))
	in.Photo.Taken, out.Photo.Taken = record.Stamp{}, record.Stamp{}
	in.Seen, out.Seen = nil, nil
	assert.Equal(t, in, out)

	whole, err := os.ReadFile(path)
	require.NoError(t, err)
	for n := 0; n < len(whole); n += 1 + n/20 {
		require.NoError(t, os.WriteFile(path, whole[:n], 0o600))
		_, err := readResult(path)
		assert.ErrorIs(t, err, ErrResult, "cut at %d", n)
		bad := append([]byte(nil), whole...)
		bad[n] ^= 4
		require.NoError(t, os.WriteFile(path, bad, 0o600))
		_, err = readResult(path)
		assert.ErrorIs(t, err, ErrResult, "changed at %d", n)
	}
	other := filepath.Join(dir, collection.Hash([]byte("b"))+ResultExt)
	require.NoError(t, os.WriteFile(other, whole, 0o600))
	_, err = readResult(other)
	assert.ErrorIs(t, err, ErrResult)
}

func TestMissingParts(t *testing.T) {
	dir := t.TempDir()
	assert.Empty(t, missingParts(dir))
	for _, p := range []Part{{1, 4}, {3, 4}} {
		require.NoError(t, os.WriteFile(filepath.Join(dir, p.doneFile()), nil, 0o600))
	}
	require.NoError(t, os.WriteFile(filepath.Join(dir, "part_9_of_x.done"), nil, 0o600))
	assert.Equal(t, []Part{{2, 4}, {4, 4}}, missingParts(dir))
}
