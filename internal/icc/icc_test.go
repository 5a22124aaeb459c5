package icc

import (
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func convert(t testing.TB, p *Profile, bgr ...byte) ([]byte, Result) {
	t.Helper()
	r, err := p.ToSRGB(bgr)
	require.NoError(t, err)
	return bgr, r
}

// TestPrimariesOfSRGB converts, from each wide space, the numbers that stand there for sRGB's own primaries.
// The numbers are from memory of published conversions: Display P3 red 0.9175 0.2003 0.1386, green 0.4584 0.9853 0.2983,
// blue 0 0 0.9596 (W3C CSS Color 4); Adobe RGB (1998) 219 0 0, 144 255 60, 0 0 250 (B. Lindbloom's calculator).
func TestPrimariesOfSRGB(t *testing.T) {
	cases := []struct {
		name  string
		open  func() (*Profile, error)
		wide  [3]byte // red, green, blue
		wants [3]byte
	}{
		{"Display P3 red", DisplayP3, [3]byte{234, 51, 35}, [3]byte{255, 0, 0}},
		{"Display P3 green", DisplayP3, [3]byte{117, 251, 76}, [3]byte{0, 255, 0}},
		{"Display P3 blue", DisplayP3, [3]byte{0, 0, 245}, [3]byte{0, 0, 255}},
		{"Display P3 white", DisplayP3, [3]byte{255, 255, 255}, [3]byte{255, 255, 255}},
		{"Display P3 grey", DisplayP3, [3]byte{119, 119, 119}, [3]byte{119, 119, 119}},
		{"Adobe RGB red", AdobeRGB, [3]byte{219, 0, 0}, [3]byte{255, 0, 0}},
		{"Adobe RGB green", AdobeRGB, [3]byte{144, 255, 60}, [3]byte{0, 255, 0}},
		{"Adobe RGB blue", AdobeRGB, [3]byte{0, 0, 250}, [3]byte{0, 0, 255}},
		{"Adobe RGB white", AdobeRGB, [3]byte{255, 255, 255}, [3]byte{255, 255, 255}},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			p, err := c.open()
			require.NoError(t, err)
			defer p.Close()
			got, _ := convert(t, p, c.wide[2], c.wide[1], c.wide[0])
			for i, want := range c.wants {
				// A level of 8 bits near black is a coarse step in a channel that should be 0: allow what rounding of the
				// input makes of it.
				assert.InDelta(t, want, got[2-i], 8, "channel %d of %v", i, got)
			}
		})
	}
}

// primaries are chromaticities x, y of red, green and blue.
type primaries [3][2]float64

// toXYZ builds the matrix from linear RGB to XYZ for white D65 (SMPTE RP 177), independently of any library.
func toXYZ(p primaries) [3][3]float64 {
	white := [3]float64{0.3127 / 0.3290, 1, (1 - 0.3127 - 0.3290) / 0.3290}
	var m [3][3]float64
	for i, c := range p {
		m[0][i], m[1][i], m[2][i] = c[0]/c[1], 1, (1-c[0]-c[1])/c[1]
	}
	s := times(inverse(m), white)
	for r := range m {
		for c := range m[r] {
			m[r][c] *= s[c]
		}
	}
	return m
}

func times(m [3][3]float64, v [3]float64) (out [3]float64) {
	for r := range m {
		for c := range m[r] {
			out[r] += m[r][c] * v[c]
		}
	}
	return out
}

func inverse(m [3][3]float64) (out [3][3]float64) {
	minor := func(r, c int) float64 {
		a, b, d, e := (r+1)%3, (r+2)%3, (c+1)%3, (c+2)%3
		return m[a][d]*m[b][e] - m[a][e]*m[b][d]
	}
	det := m[0][0]*minor(0, 0) + m[0][1]*minor(0, 1) + m[0][2]*minor(0, 2)
	for r := range out {
		for c := range out {
			out[r][c] = minor(c, r) / det
		}
	}
	return out
}

func srgbDecode(v float64) float64 {
	if v <= 0.04045 {
		return v / 12.92
	}
	return math.Pow((v+0.055)/1.055, 2.4)
}

func srgbEncode(v float64) float64 { return encodeSRGB(min(1, max(0, v))) }

// TestAgainstTheFormula compares a grid of colours with the formula of IEC 61966-2-1 and the published chromaticities
// (from memory: sRGB of ITU-R BT.709, Display P3 of SMPTE EG 432-1, Adobe RGB (1998) of its specification), white D65.
func TestAgainstTheFormula(t *testing.T) {
	srgb := inverse(toXYZ(primaries{{0.64, 0.33}, {0.30, 0.60}, {0.15, 0.06}}))
	adobeCurve := func(v float64) float64 { return math.Pow(v, 563.0/256) }
	cases := []struct {
		name  string
		open  func() (*Profile, error)
		prim  primaries
		curve func(float64) float64
	}{
		{"Display P3", DisplayP3, primaries{{0.680, 0.320}, {0.265, 0.690}, {0.150, 0.060}}, srgbDecode},
		{"Adobe RGB (1998)", AdobeRGB, primaries{{0.64, 0.33}, {0.21, 0.71}, {0.15, 0.06}}, adobeCurve},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			p, err := c.open()
			require.NoError(t, err)
			defer p.Close()
			wide := toXYZ(c.prim)
			var pix []byte
			for r := 0; r < 256; r += 15 {
				for g := 0; g < 256; g += 15 {
					for b := 0; b < 256; b += 15 {
						pix = append(pix, byte(b), byte(g), byte(r))
					}
				}
			}
			got, res := convert(t, p, append([]byte(nil), pix...)...)
			assert.False(t, res.Untouched)
			assert.Greater(t, res.ClippedShare, 0.1, "the corners of a wide space lie outside sRGB")
			worst := 0.0
			for i := 0; i < len(pix); i += 3 {
				lin := [3]float64{c.curve(float64(pix[i+2]) / 255), c.curve(float64(pix[i+1]) / 255), c.curve(float64(pix[i]) / 255)}
				want := times(srgb, times(wide, lin))
				for k := range 3 {
					worst = max(worst, math.Abs(255*srgbEncode(want[k])-float64(got[i+2-k])))
				}
			}
			assert.Less(t, worst, 1.0, "levels")
		})
	}
}

// missing ends a test for want of a package: it fails in CI, where the install script brings the package.
func missing(t *testing.T, name string) {
	t.Helper()
	if os.Getenv("CI") == "true" {
		t.Fatal(name + " is not installed")
	}
	t.Skip(name + " is not installed")
}

// TestRecognisedByBehaviour uses the profiles of Debian's colord-data where they are installed: sRGB under any name
// changes nothing, and one that exchanges red and green does just that.
func TestRecognisedByBehaviour(t *testing.T) {
	dir := "/usr/share/color/icc/colord"
	if _, err := os.Stat(dir); err != nil {
		missing(t, "colord-data")
	}
	cases := []struct {
		file      string
		untouched bool
		in, out   []byte // blue, green, red
	}{
		{"sRGB.icc", true, []byte{10, 100, 200}, []byte{10, 100, 200}},
		{"SwappedRedAndGreen.icc", false, []byte{0, 0, 255}, []byte{0, 255, 0}},
		{"AdobeRGB1998.icc", false, []byte{60, 60, 60}, []byte{60, 60, 60}},
		{"ProPhotoRGB.icc", false, []byte{255, 255, 255}, []byte{255, 255, 255}},
	}
	for _, c := range cases {
		t.Run(c.file, func(t *testing.T) {
			data, err := os.ReadFile(filepath.Join(dir, c.file))
			require.NoError(t, err)
			p, err := Open(data)
			require.NoError(t, err)
			defer p.Close()
			got, r := convert(t, p, append([]byte(nil), c.in...)...)
			assert.Equal(t, c.untouched, r.Untouched)
			assert.NotEmpty(t, r.Name)
			for i := range got {
				assert.InDelta(t, c.out[i], got[i], 4)
			}
		})
	}
}

// TestBuiltAdobeRGBIsThePublishedFile compares the built space with the file that others ship.
func TestBuiltAdobeRGBIsThePublishedFile(t *testing.T) {
	data, err := os.ReadFile("/usr/share/color/icc/colord/AdobeRGB1998.icc")
	if err != nil {
		missing(t, "colord-data")
	}
	file, err := Open(data)
	require.NoError(t, err)
	defer file.Close()
	built, err := AdobeRGB()
	require.NoError(t, err)
	defer built.Close()
	a, _ := convert(t, file, noise(10000)...)
	b, _ := convert(t, built, noise(10000)...)
	for i := range a {
		require.InDelta(t, a[i], b[i], 2)
	}
}

// TestEmbeddedAndBack writes a profile to bytes and opens it again.
func TestEmbeddedAndBack(t *testing.T) {
	p, err := DisplayP3()
	require.NoError(t, err)
	defer p.Close()
	data, err := p.Bytes()
	require.NoError(t, err)
	again, err := Open(data)
	require.NoError(t, err)
	defer again.Close()
	a, _ := convert(t, p, noise(1000)...)
	b, _ := convert(t, again, noise(1000)...)
	for i := range a {
		require.InDelta(t, a[i], b[i], 1)
	}
}

func TestInGamutIsNotCalledClipped(t *testing.T) {
	p, err := DisplayP3()
	require.NoError(t, err)
	defer p.Close()
	var greys []byte
	for i := range 256 {
		greys = append(greys, byte(i), byte(i), byte(i))
	}
	_, r := convert(t, p, greys...)
	assert.Zero(t, r.ClippedShare)
}

func TestRubbishIsRefused(t *testing.T) {
	good := func() []byte {
		p, err := DisplayP3()
		require.NoError(t, err)
		defer p.Close()
		b, err := p.Bytes()
		require.NoError(t, err)
		return b
	}()
	wrongClass := append([]byte(nil), good...)
	copy(wrongClass[12:], "link")
	wrongSpace := append([]byte(nil), good...)
	copy(wrongSpace[16:], "CMYK")
	for name, data := range map[string][]byte{
		"nothing":       nil,
		"short":         good[:100],
		"zeros":         make([]byte, 4000),
		"device link":   wrongClass,
		"four channels": wrongSpace,
	} {
		t.Run(name, func(t *testing.T) {
			_, err := Open(data)
			assert.ErrorIs(t, err, ErrProfile)
		})
	}
	t.Run("tags missing", func(t *testing.T) {
		empty := append([]byte(nil), good[:132]...)
		empty[3], empty[2] = 132, 0
		clear(empty[128:])
		p, err := Open(empty)
		if err != nil {
			return
		}
		defer p.Close()
		pix := []byte{1, 2, 3}
		_, err = p.ToSRGB(pix)
		assert.ErrorIs(t, err, ErrProfile)
		assert.Equal(t, []byte{1, 2, 3}, pix)
	})
}

// FuzzToSRGB opens whatever bytes come as a profile and converts a few pixels by it.
func FuzzToSRGB(f *testing.F) {
	for _, open := range []func() (*Profile, error){DisplayP3, AdobeRGB} {
		p, err := open()
		require.NoError(f, err)
		b, err := p.Bytes()
		require.NoError(f, err)
		f.Add(b)
		p.Close()
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		p, err := Open(data)
		if err != nil {
			return
		}
		defer p.Close()
		pix := noise(64)
		r, err := p.convert(pix, 1)
		if err == nil && (r.ClippedShare < 0 || r.ClippedShare > 1) {
			t.Fatal("share outside 0 to 1")
		}
		for _, c := range r.Name {
			if c < ' ' || c > '~' {
				t.Fatalf("name %q", r.Name)
			}
		}
	})
}

// TestFastIsTheLibrarys compares the two ways on every profile at hand; where the fast one declines, that is shown.
func TestFastIsTheLibrarys(t *testing.T) {
	profiles := map[string][]byte{}
	for name, open := range map[string]func() (*Profile, error){"Display P3": DisplayP3, "Adobe RGB (1998)": AdobeRGB} {
		p, err := open()
		require.NoError(t, err)
		b, err := p.Bytes()
		require.NoError(t, err)
		p.Close()
		profiles[name] = b
	}
	files, _ := filepath.Glob("/usr/share/color/icc/colord/*.icc")
	for _, f := range files {
		b, err := os.ReadFile(f)
		require.NoError(t, err)
		profiles[filepath.Base(f)] = b
	}
	for name, data := range profiles {
		p, err := Open(data)
		if err != nil {
			continue // not a profile of pictures
		}
		t.Run(name, func(t *testing.T) {
			defer p.Close()
			small, slow := convert(t, p, noise(fastFrom-1)...)
			large, r := convert(t, p, noise(fastFrom)...)
			off, most := 0, 0
			for i := range small {
				d := int(small[i]) - int(large[i])
				if d != 0 {
					off++
				}
				most = max(most, d, -d)
			}
			t.Logf("%s: %.2f %% of values differ, by at most %d; outside sRGB %.1f %%", r.Name, 100*float64(off)/float64(len(small)), most, 100*r.ClippedShare)
			assert.LessOrEqual(t, most, 1)
			assert.InDelta(t, slow.ClippedShare, r.ClippedShare, 0.01)
		})
	}
}

// noise is a picture without two equal neighbours, which no cache can help with.
func noise(pixels int) []byte {
	r := rand.New(rand.NewPCG(1, 2))
	pix := make([]byte, 3*pixels)
	for i := range pix {
		pix[i] = byte(r.Uint32())
	}
	return pix
}

// BenchmarkToSRGB converts 12 megapixels of Display P3.
func BenchmarkToSRGB(b *testing.B) {
	p, err := DisplayP3()
	require.NoError(b, err)
	defer p.Close()
	const w, h = 4032, 3024
	pix := noise(w * h)
	for i := range pix {
		pix[i] = byte(60 + i/3%w/60 + i/3/w/60 + int(pix[i])/20)
	}
	for b.Loop() {
		if _, err := p.ToSRGB(pix); err != nil {
			b.Fatal(err)
		}
	}
}
