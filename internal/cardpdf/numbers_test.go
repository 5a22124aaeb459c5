package cardpdf

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestParseNumbers(t *testing.T) {
	cases := []struct {
		name, in string
		want     []int
		err      string // part of the error
	}{
		{"one", "7", []int{7}, ""},
		{"range", "1-4", []int{1, 2, 3, 4}, ""},
		{"list with a range", "3,5,9-12", []int{3, 5, 9, 10, 11, 12}, ""},
		{"spaces and an en dash", " 3 , 9 – 10 ", []int{3, 9, 10}, ""},
		{"overlap and order", "5,3-6,4", []int{3, 4, 5, 6}, ""},
		{"trailing comma", "8,", []int{8}, ""},
		{"both ends", "1,574", []int{1, 574}, ""},
		{"nothing", " , ", nil, "no plant numbers given"},
		{"zero", "0", nil, "no tag for plant 0: numbers run from 1 to 574"},
		{"card's own", "570-575", nil, "no tag for plant 575"},
		{"far too many", "1-999999999", nil, "no tag for plant 999999999"},
		{"backwards", "12-9", nil, "runs backwards; write 9-12"},
		{"word", "3,fern", nil, `"fern" is not a plant number`},
		{"open range", "4-", nil, `"4-" is not a plant number`},
		{"negative", "-4", nil, `"-4" is not a plant number`},
		{"fraction", "1.5", nil, `"1.5" is not a plant number`},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			got, err := ParseNumbers(c.in)
			if c.err != "" {
				require.ErrorContains(t, err, c.err)
				return
			}
			require.NoError(t, err)
			assert.Equal(t, c.want, got)
		})
	}
}

func TestPaperByName(t *testing.T) {
	p, err := PaperByName(" A4 ")
	require.NoError(t, err)
	assert.Equal(t, Paper{"a4", 210, 297}, p) // ISO 216:2007, table 1
	_, err = PaperByName("a5")
	assert.ErrorContains(t, err, "a4, letter, 4x6")
}

func TestClean(t *testing.T) {
	c := newCoverage()
	for in, want := range map[string]string{
		"Ficus e\u0301lastica": "Ficus élastica", // accent stored apart
		"Žluťák  Ελιά Фикус":   "Žluťák Ελιά Фикус",
		"two\nlines\tand more": "two lines and more",
		"bell\a":               "bell",
		"樹 and 🌿":              "□ and □", // not in the font; the second lies beyond U+FFFF
	} {
		assert.Equal(t, want, c.clean(in))
	}
}
