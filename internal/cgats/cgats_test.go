package cgats

import (
	"errors"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/colour"
)

const head = "CGATS.17\nORIGINATOR \"a reader\"\n"

func table(fields, rows string) string {
	return head + "NUMBER_OF_FIELDS 5\nBEGIN_DATA_FORMAT\n" + fields + "\nEND_DATA_FORMAT\nBEGIN_DATA\n" + rows + "\nEND_DATA\n"
}

func TestReadsLabForD50(t *testing.T) {
	f, err := Read(strings.NewReader(table("SAMPLE_ID SAMPLE_NAME LAB_L LAB_A LAB_B", "A1 \"neutral 1\" 100 0 0\nA2 \"dark one\" 0 0 0 # black")))
	require.NoError(t, err)
	require.Len(t, f.Samples, 2)
	assert.Equal(t, "D50", f.White)
	require.Len(t, f.Assumed, 1, "the light is not declared")
	assert.Equal(t, "neutral 1", f.Samples[0].Name)
	assert.Equal(t, "A2", f.Samples[1].ID)
	assert.Equal(t, 9, f.Samples[1].Line)
	for i := range 3 {
		assert.InDelta(t, 1, f.Samples[0].Linear[i], 1e-3, "white is white")
		assert.InDelta(t, 0, f.Samples[1].Linear[i], 1e-6)
	}
}

// ColorChecker white and blue, CIELAB for D50 by the maker and sRGB from it by BabelColor (values from memory, good to a
// unit or two of 8-bit sRGB): white 96.5 -0.43 1.19 -> 243 243 242; blue 28.8 14.2 -50.3 -> 35 63 147.
func TestKnownChartColours(t *testing.T) {
	f, err := Read(strings.NewReader(strings.Replace(table("SAMPLE_ID LAB_L LAB_A LAB_B",
		"white 96.539 -0.425 1.186\nblue 28.778 14.179 -50.297"), head, head+"ILLUMINATION_NAME \"D50\"\n", 1)))
	require.NoError(t, err)
	assert.Empty(t, f.Assumed)
	for i, want := range [][3]float64{{243, 243, 242}, {35, 63, 147}} {
		for c := range 3 {
			assert.InDelta(t, want[c], 255*colour.Encode(f.Samples[i].Linear[c]), 7, "%s channel %d", f.Samples[i].ID, c)
		}
	}
}

func TestReadsXYZ(t *testing.T) {
	tests := []struct {
		name, light, row string
		assumed          int
	}{
		{"D65, white is 100", "WEIGHTING_FUNCTION \"ILLUMINANT, D65\"\nWEIGHTING_FUNCTION \"OBSERVER, 2 degree\"\n", "w 95.047 100 108.883", 0},
		{"D50, white is 100", "ILLUMINATION_NAME \"D50\"\n", "w 96.422 100 82.521", 0},
		{"D50, white is 1", "ILLUMINANT D50\n", "w 0.96422 1 0.82521", 1},
		{"decimal commas", "ILLUMINATION_NAME \"D50\"\n", "w 96,422 100,0 82,521", 0},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			f, err := Read(strings.NewReader(strings.Replace(table("SAMPLE_ID XYZ_X XYZ_Y XYZ_Z", tt.row), head, head+tt.light, 1)))
			require.NoError(t, err)
			assert.Len(t, f.Assumed, tt.assumed)
			for c := range 3 {
				assert.InDelta(t, 1, f.Samples[0].Linear[c], 2e-3)
			}
		})
	}
}

func TestRefusals(t *testing.T) {
	good := table("SAMPLE_ID LAB_L LAB_A LAB_B", "A1 50 0 0")
	tests := []struct {
		name, text string
		want       error
		line       int
	}{
		{"a photo", "\xff\xd8\xff\xe0 JFIF", ErrFormat, 0},
		{"empty", "", ErrFormat, 0},
		{"no table", head, ErrFormat, 0},
		{"cut short", strings.TrimSuffix(good, "END_DATA\n"), ErrFormat, 0},
		{"fewer sets than declared", strings.Replace(good, "BEGIN_DATA\n", "NUMBER_OF_SETS 2\nBEGIN_DATA\n", 1), ErrFormat, 0},
		{"a word for a number", table("SAMPLE_ID LAB_L LAB_A LAB_B", "A1 50 0 0\nA2 fifty 0 0"), ErrRow, 9},
		{"a value is missing", table("SAMPLE_ID LAB_L LAB_A LAB_B", "A1 50 0"), ErrRow, 8},
		{"open quotation", table("SAMPLE_ID LAB_L LAB_A LAB_B", "\"A1 50 0 0"), ErrFormat, 8},
		{"not a number", table("SAMPLE_ID LAB_L LAB_A LAB_B", "A1 NaN 0 0"), ErrRow, 8},
		{"spectra only", table("SAMPLE_ID SPECTRAL_NM400 SPECTRAL_NM410", "A1 0.1 0.2"), ErrOnlySpectra, 0},
		{"densities only", table("SAMPLE_ID D_RED D_GREEN", "A1 0.1 0.2"), ErrNoColours, 0},
		{"10 degree observer", strings.Replace(good, head, head+"WEIGHTING_FUNCTION \"OBSERVER, 10 degree\"\n", 1), ErrObserver, 0},
		{"another light", strings.Replace(good, head, head+"ILLUMINATION_NAME \"D75\"\n", 1), ErrWhite, 0},
		{"windows line ends", strings.ReplaceAll(table("SAMPLE_ID LAB_L LAB_A LAB_B", "A1 50 x 0"), "\n", "\r\n"), ErrRow, 8},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			_, err := Read(strings.NewReader(tt.text))
			require.ErrorIs(t, err, tt.want)
			var at *LineError
			if tt.line > 0 {
				require.True(t, errors.As(err, &at), "%v", err)
				assert.Equal(t, tt.line, at.Line)
			}
		})
	}
}

func FuzzRead(f *testing.F) {
	f.Add([]byte(table("SAMPLE_ID LAB_L LAB_A LAB_B", "A1 50 0 0")))
	f.Add([]byte(table("SAMPLE_ID XYZ_X XYZ_Y XYZ_Z", "A1 0.5 0.5 0.5")))
	f.Add([]byte("BEGIN_DATA_FORMAT\nBEGIN_DATA\n\"\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		got, err := Read(strings.NewReader(string(data)))
		if err != nil {
			return
		}
		for _, s := range got.Samples {
			for _, v := range s.Linear {
				if v != v {
					t.Fatal("a reading that was taken is no number")
				}
			}
		}
	})
}
