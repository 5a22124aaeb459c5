package csvcell

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestSafe(t *testing.T) {
	for in, want := range map[string]string{
		"":                         "",
		"Clivia":                   "Clivia",
		"a-b+c=d@e":                "a-b+c=d@e",
		"=1+1":                     "'=1+1",
		"+1":                       "'+1",
		"-1":                       "'-1",
		"@SUM(A1)":                 "'@SUM(A1)",
		" =1+1":                    " '=1+1",
		"\t=1+1":                   "\t'=1+1",
		"\ufeff=1+1":               "\ufeff'=1+1",
		"\uff1d1+1":                "'\uff1d1+1",
		"note;=1+1":                "note;'=1+1",
		"note; =HYPERLINK(\"x\")":  "note; '=HYPERLINK(\"x\")",
		"note\t@A1":                "note\t'@A1",
		"note|-1":                  "note|'-1",
		"two\nlines\r\n=3;\"=4":    "two\nlines\r\n'=3;\"'=4",
		"fed, half strength - dry": "fed, half strength - dry",
	} {
		assert.Equal(t, want, Safe(in), "%q", in)
	}
}

// Whatever is split at whatever separator, no piece begins as a formula does.
func FuzzSafe(f *testing.F) {
	f.Add("a;=1\t+2\n-3")
	f.Fuzz(func(t *testing.T, s string) {
		for _, piece := range strings.FieldsFunc(Safe(s), func(r rune) bool { return strings.ContainsRune(breaks, r) }) {
			piece = strings.TrimLeftFunc(piece, blank)
			if piece != "" && strings.ContainsRune(starts, []rune(piece)[0]) {
				t.Fatalf("%q gives a piece %q", s, piece)
			}
		}
	})
}
