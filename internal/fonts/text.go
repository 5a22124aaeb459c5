package fonts

import (
	"strings"
	"sync"
	"unicode"

	"golang.org/x/image/font/sfnt"
	"golang.org/x/text/unicode/norm"
)

// missing stands for a letter that the faces lack, such as a Chinese one.
const missing = '\u25a1' // an empty square

// replaced are signs that the faces lack, or have at another width, and what is written instead.
var replaced = map[rune]rune{
	'\u202f': '\u00a0', // narrow no-break space
	'\u2080': '0',      // subscript zero, in ΔE₀₀
	'\n':     ' ', '\r': ' ', '\t': ' ',
}

// Clean makes a foreign text fit to be drawn: letters and their accents in one where there is such a letter, no control
// and no formatting characters (which could turn the direction of the line), and an empty square for each letter that
// the faces lack.
func Clean(s string) string {
	return strings.Map(printable, norm.NFC.String(strings.ToValidUTF8(s, string(missing))))
}

func printable(r rune) rune {
	if to, ok := replaced[r]; ok {
		return to
	}
	switch {
	case unicode.In(r, unicode.Cc, unicode.Cf, unicode.Variation_Selector):
		return -1
	case r > 0xffff, !covered()[r]: // the PDF library knows the basic plane only
		return missing
	}
	return r
}

// covered holds the letters of the basic plane that all faces have.
var covered = sync.OnceValue(func() *[0x10000]bool {
	var out [0x10000]bool
	for i := range out {
		out[i] = true
	}
	var buf sfnt.Buffer
	for _, f := range All() {
		t, err := sfnt.Parse(f.TTF())
		if err != nil {
			continue // whoever draws with the face meets the error and names it
		}
		for r := range out {
			if out[r] {
				g, err := t.GlyphIndex(&buf, rune(r))
				out[r] = err == nil && g != 0
			}
		}
	}
	return &out
})

// Cut shortens a text to the room there is, with an ellipsis; width gives the width of a text in the room's unit.
func Cut(s string, room float64, width func(string) float64) string {
	s = Clean(s)
	if width(s) <= room {
		return s
	}
	r := []rune(s)
	for len(r) > 1 {
		r = r[:len(r)-1]
		if t := strings.TrimRight(string(r), " ,") + "…"; width(t) <= room {
			return t
		}
	}
	return string(r)
}

// Wrap breaks a text into at most so many lines; the last is cut where more would be needed.
func Wrap(s string, most int, room float64, width func(string) float64) []string {
	var out []string
	// At plain blanks only: a value stays with its unit, which a no-break space ties to it.
	words := strings.FieldsFunc(Clean(s), func(r rune) bool { return r == ' ' })
	for len(words) > 0 {
		n := 1
		for n < len(words) && width(strings.Join(words[:n+1], " ")) <= room {
			n++
		}
		if len(out) == most-1 {
			n = len(words)
		}
		out = append(out, Cut(strings.Join(words[:n], " "), room, width))
		words = words[n:]
	}
	return out
}
