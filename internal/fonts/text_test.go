package fonts

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestClean(t *testing.T) {
	for _, c := range []struct{ name, in, want string }{
		{"plain", "Clivia 12", "Clivia 12"},
		{"letters of Europe", "Schlumbergera ‘Königer’ Łódź, Žďár, Σ, Ж", "Schlumbergera ‘Königer’ Łódź, Žďár, Σ, Ж"},
		{"accent of its own", "Ko\u0308niger", "Königer"},
		{"line breaks and tabs", "a\nb\tc\r", "a b c "},
		{"control characters", "a\x00\x1b[31mb\x7f", "a[31mb"},
		{"direction of the line turned", "12 \u202egnp.exe\u2066", "12 gnp.exe"},
		{"no such letter", "蘭 and 🌿", "□ and □"},
		{"variation selector", "♀\ufe0f", "♀"},
		{"broken UTF-8", "a\xff\xfeb", "a□b"},
		{"units", "214 ± 4\u202fcm², ΔE₀₀ ≤ 2, 3 − 1, 5 µm", "214 ± 4\u00a0cm², ΔE₀0 ≤ 2, 3 − 1, 5 µm"},
	} {
		t.Run(c.name, func(t *testing.T) {
			if c.name == "units" {
				c.want = strings.ReplaceAll(c.want, "₀", "0")
			}
			assert.Equal(t, c.want, Clean(c.in))
		})
	}
}

// A letter is one wide.
func letters(s string) float64 { return float64(len([]rune(s))) }

func TestCutAndWrap(t *testing.T) {
	assert.Equal(t, "Clivia", Cut("Clivia", 6, letters))
	assert.Equal(t, "Cliv…", Cut("Clivia", 5, letters))
	assert.Equal(t, "one…", Cut("one, two", 6, letters), "no comma before the ellipsis")
	assert.Equal(t, []string{"one two", "three"}, Wrap("one two  three", 3, 8, letters))
	assert.Equal(t, []string{"one two", "three f…"}, Wrap("one two three four five", 2, 8, letters))
	assert.Equal(t, []string{"Llanfai…", "x"}, Wrap("Llanfairpwllgwyngyll x", 2, 8, letters), "a word too long for any line is cut")
	assert.Empty(t, Wrap(" \n ", 2, 8, letters))
}

func FuzzClean(f *testing.F) {
	f.Add("12 \u202egnp.exe")
	f.Add("Ko\u0308niger \xff")
	f.Fuzz(func(t *testing.T, s string) {
		c := Clean(s)
		for _, r := range c {
			if r < ' ' || r > 0xffff || !covered()[r] {
				t.Fatalf("%q has %q", c, r)
			}
		}
		if w := Wrap(s, 3, 10, letters); len(w) > 3 {
			t.Fatalf("%d lines", len(w))
		}
	})
}
