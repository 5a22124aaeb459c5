package collection

import (
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var triangle = Mark{What: MarkLeaveOut, Who: "Ann", When: "2026-05-14T10:00:00Z", Note: "the flower <b>", Rings: [][][2]float64{{{0.1, 0.1}, {0.9, 0.1}, {0.5, 0.8}, {0.1, 0.1}}}}

func TestMarksAreSavedReadAndExchanged(t *testing.T) {
	c := newCollection(t, nil)
	require.NoError(t, c.SaveMarks(hashA, "../../IMG 1.jpg", []Mark{triangle}))
	assert.FileExists(t, c.Path(MarksDir, "aaaaaaaaaaaa-IMG 1.jpg.json"))
	fresh, err := Open(c.Dir)
	require.NoError(t, err)
	assert.Equal(t, []Mark{triangle}, fresh.MarksFor(hashA))
	assert.Empty(t, fresh.MarksFor(hashB))

	out := filepath.Join(t.TempDir(), "out.json")
	require.NoError(t, fresh.ExportMarks(hashA, "IMG 1.jpg", out))
	other := newCollection(t, nil)
	p, err := other.ImportMarks(out)
	require.NoError(t, err)
	assert.Equal(t, hashA, p.SHA256)
	assert.Equal(t, []Mark{triangle}, other.MarksFor(hashA))

	require.NoError(t, fresh.SaveMarks(hashA, "renamed.jpg", nil))
	assert.Empty(t, fresh.MarksFor(hashA))
	files, _ := os.ReadDir(c.Path(MarksDir))
	assert.Len(t, files, 1, "a renamed photo keeps its file")
	assert.Error(t, fresh.SaveMarks("../../x", "a.jpg", nil))
}

func TestFaultyMarksAreNamedAndLeftOut(t *testing.T) {
	const ring = `[[0.1,0.1],[0.9,0.1],[0.5,0.8],[0.1,0.1]]`
	good := `{"type":"FeatureCollection","photo":{"sha256":"` + hashA + `"},"features":[{"type":"Feature","properties":{"what":"keep"},"geometry":{"type":"Polygon","coordinates":[` + ring + `]}}]}`
	_, err := ParseMarks([]byte(good), "x.json")
	require.NoError(t, err)
	for name, change := range map[string][2]string{
		"not JSON":          {`"type":"FeatureCollection"`, `type`},
		"cut short":         {`]}}]}`, `]`},
		"text after it":     {`]}}]}`, `]}}]} {}`},
		"other type":        {`FeatureCollection`, `Topology`},
		"other geometry":    {`"Polygon"`, `"Point"`},
		"unknown word":      {`"keep"`, `"perhaps"`},
		"outside":           {`0.9`, `1.9`},
		"huge":              {`0.9`, `1e400`},
		"open ring":         {`[0.1,0.1]]`, `[0.2,0.1]]`},
		"two corners":       {`[0.9,0.1],[0.5,0.8],`, `[0.9,0.1],`},
		"no area":           {`[0.5,0.8]`, `[0.5,0.1]`},
		"no ring":           {`[` + ring + `]`, `[]`},
		"hash no hash":      {hashA, "not a hash"},
		"two photos":        {`"what":"keep"`, `"what":"keep","sha256":"` + hashB + `"`},
		"point of a number": {`[0.9,0.1]`, `0.9`},
	} {
		bad := strings.Replace(good, change[0], change[1], 1)
		require.NotEqual(t, good, bad, name)
		p, err := ParseMarks([]byte(bad), "x.json")
		assert.Error(t, err, name)
		assert.Equal(t, PhotoMarks{}, p, name)
	}
	c := newCollection(t, map[string]string{MarksDir + "/bad.json": "{", MarksDir + "/good.json": good, MarksDir + "/._junk.json": "x"})
	require.Len(t, c.Problems, 1)
	assert.Equal(t, "marks/bad.json", c.Problems[0].Place())
	assert.Len(t, c.MarksFor(hashA), 1)
}

func TestTheHashMayStandInTheNameOrInTheFeature(t *testing.T) {
	const body = `{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"what":"keep"PROP},"geometry":{"type":"Polygon","coordinates":[[[0,0],[1,0],[1,1],[0,0]]]}}]}`
	p, err := ParseMarks([]byte(strings.Replace(body, "PROP", "", 1)), "aaaaaaaaaaaa-IMG.jpg.json")
	require.NoError(t, err)
	assert.Equal(t, "aaaaaaaaaaaa", p.SHA256)
	p, err = ParseMarks([]byte(strings.Replace(body, "PROP", `,"sha256":"`+strings.ToUpper(hashA)+`"`, 1)), "x.json")
	require.NoError(t, err)
	assert.Equal(t, hashA, p.SHA256)
	_, err = ParseMarks([]byte(strings.Replace(body, "PROP", "", 1)), "x.json")
	assert.Error(t, err)
}

func FuzzMarks(f *testing.F) {
	data, _ := EncodeMarks(PhotoMarks{SHA256: hashA, Name: "a.jpg", Marks: []Mark{triangle}})
	f.Add(data)
	f.Add([]byte(`{"type":"FeatureCollection","features":[]}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		p, err := ParseMarks(data, hashA+".json")
		if err != nil {
			if !reflect.DeepEqual(p, PhotoMarks{}) {
				t.Fatal("an error and a result")
			}
			return
		}
		out, err := EncodeMarks(p)
		if err != nil {
			t.Fatalf("what was read cannot be written: %v", err)
		}
		again, err := ParseMarks(out, "x.json")
		if err != nil || len(again.Marks) != len(p.Marks) || again.SHA256 != p.SHA256 {
			t.Fatalf("what was written does not read back: %v", err)
		}
	})
}
