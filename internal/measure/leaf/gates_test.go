package leaf

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// TestWhereTheDoubtIs: how much is in doubt is said with the number of the places that hold a tenth of it or more each, if there are any.
func TestWhereTheDoubtIs(t *testing.T) {
	all := &tally{area: 20000}
	for pieces, want := range map[int]string{0: "up to 10 cm² of 200, in many small places", 1: "up to 10 cm² of 200, mostly in 1 place", 2: "up to 10 cm² of 200, mostly in 2 places"} {
		r := found{doubt: Doubt{Area: 100, Pieces: []Piece{{Px: 3}, {Px: 9}}}}
		for range pieces {
			r.doubt.Pieces = append(r.doubt.Pieces, Piece{Px: 40})
		}
		assert.Equal(t, want, r.sayPlaces(all, 0.05))
	}
}
