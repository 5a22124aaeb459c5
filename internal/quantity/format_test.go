package quantity

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/record"
)

func TestDecimals(t *testing.T) {
	for _, c := range []struct {
		name string
		u95  float64
		want int
		ok   bool
	}{
		{"leading 1 keeps two digits", 0.0123, 3, true},
		{"leading 2 keeps two digits", 2.4, 1, true},
		{"leading 3 keeps one digit", 3.4, 0, true},
		{"hundreds", 412, -2, true},
		{"1 to 3 hundred keep the tens", 180, -1, true},
		{"rounds up to a power of ten", 0.97, 1, true},
		{"zero says nothing", 0, 0, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, ok := Decimals(c.u95)
			require.Equal(t, c.ok, ok)
			if ok {
				assert.Equal(t, c.want, got)
			}
		})
	}
}

func TestPrintedValues(t *testing.T) {
	area, share, hue, length := Of(record.LeafArea, "mm2"), Of(record.PurpleShare, "1"), Of(record.LeafHue, "deg"), Of(record.RootLength, "mm")
	for _, c := range []struct{ name, got, want string }{
		{"area in cm2", area.Value(21371, 412), "214 ± 4\u202fcm²"},
		{"large area is grouped", area.Value(1234567, 1234), "12\u202f346 ± 12\u202fcm²"},
		{"share in per cent", share.Value(0.2741, 0.021), "27.4 ± 2.1\u202f%"},
		{"share's change in points", share.Delta(-0.055, 0.012), "−5.5 ± 1.2\u202fpoints"},
		{"degrees stand close", hue.Value(127.6, 3.2), "128 ± 3°"},
		{"length", length.Value(621.4, 41), "620 ± 40\u202fmm"},
		{"rise has a plus", length.Delta(247, 31), "+250 ± 30\u202fmm"},
		{"no minus before zero", length.Delta(-0.2, 3.4), "0 ± 3\u202fmm"},
		{"a slope as fine as its values are known", share.Rate(0.000058, 0.012), "0.0\u202fpoints"},
		{"a slope that says something", area.Rate(2350, 800), "+24\u202fcm²"},
		{"a slope of values of unknown interval", length.Rate(6.25, 0), "+6.25\u202fmm"},
		{"no uncertainty, three digits", length.Value(621.4, 0), "621\u202fmm"},
		{"unknown quantity keeps its unit", Of("stem_width", "mm").Value(12.3, 0.4), "12.3 ± 0.4\u202fmm"},
	} {
		t.Run(c.name, func(t *testing.T) { assert.Equal(t, c.want, c.got) })
	}
}

func TestPercentOnlyWhereItMeansSomething(t *testing.T) {
	area := Of(record.LeafArea, "mm2")
	s, ok := area.Percent(20000, 1860, 360)
	require.True(t, ok)
	assert.Equal(t, "+9.3 ± 1.8\u202f%", s)
	_, ok = area.Percent(100, 50, 80)
	assert.False(t, ok, "an earlier value that is hardly known gives no percentage")
	_, ok = Of(record.PurpleShare, "1").Percent(0.2, 0.1, 0.02)
	assert.False(t, ok, "a share's change is in points")
}
