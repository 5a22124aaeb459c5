package desk

import (
	"bytes"
	"context"
	"image"
	imagepng "image/png"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/collection"
	"phototrack/internal/pipeline"
	"phototrack/internal/record"
)

// A file edited by hand is noticed on the next page, and its lines stay when the desk adds one.
func TestHandEditsAreNoticedAndKept(t *testing.T) {
	b := serve(t)
	path := filepath.Join(b.dir, "plants.csv")
	before := b.file(t, "plants.csv")
	require.NoError(t, os.WriteFile(path, []byte(before+"70,Hoya by hand,,,,,,,\r\n"), 0o644))
	_, page := b.get(t, "/")
	assert.Contains(t, page, "Hoya by hand")
	code, _ := b.post(t, "/plants", url.Values{"number": {"71"}, "name": {"Hoya from the desk"}})
	assert.Equal(t, 200, code)
	after := b.file(t, "plants.csv")
	assert.True(t, strings.HasPrefix(after, before+"70,Hoya by hand"), "every byte that was there stays")
	assert.Contains(t, after, "71,Hoya from the desk")
	code, page = b.post(t, "/plants", url.Values{"number": {"71"}, "name": {"again"}})
	assert.Equal(t, 422, code)
	assert.Contains(t, page, "A number belongs to one plant for life")
	require.NoError(t, os.WriteFile(path, []byte(before+"x,broken,,,,,,,\n"), 0o644))
	_, page = b.get(t, "/")
	assert.Contains(t, page, "line of your files needs a look")
	assert.NotContains(t, page, "Hoya by hand")
	b.settle(t)
}

// A pot that was changed by hand is noticed, and the photos that rest on it can be measured again from the month's page.
func TestPhotosThatAreDueAreNamed(t *testing.T) {
	b := serve(t, "012_2026-03_L.jpg", "031_2026-03_R.jpg", "031_2026-06_R.jpg")
	_, page := b.get(t, "/")
	assert.NotContains(t, page, "changed since")
	length := b.value(t, "031_2026-06_R.jpg", record.RootLength)
	require.NoError(t, os.WriteFile(filepath.Join(b.dir, "events.csv"), []byte(strings.Replace(b.file(t, "events.csv"), "120,100,125", "123,102,125", 1)), 0o644))
	_, page = b.get(t, "/")
	assert.Contains(t, page, "One photo rests on a pot")
	b.post(t, "/measure", url.Values{})
	assert.Len(t, b.settle(t).Photos, 1)
	assert.NotEqual(t, length, b.value(t, "031_2026-06_R.jpg", record.RootLength))
	_, page = b.get(t, "/")
	assert.NotContains(t, page, "changed since")
}

// A photo whose original is gone is named and keeps its numbers; the others are measured again all the same.
func TestAMissingOriginalStopsNoOther(t *testing.T) {
	b := serve(t, "012_2026-03_L.jpg", "012_2026-04_L.jpg")
	s, done, err := b.desk.now(context.Background())
	require.NoError(t, err)
	var photos []*record.Photo
	for i := range s.photos {
		p := s.photos[i]
		photos = append(photos, &p)
	}
	done()
	require.Len(t, photos, 2)
	area := b.value(t, photos[0].Name, record.LeafArea)
	path, ok := s.c.Original(photos[0])
	require.True(t, ok)
	require.NoError(t, os.Remove(path))
	require.NoError(t, os.Remove(photos[0].Path))
	told := map[string]error{}
	require.NoError(t, b.desk.remeasure(context.Background(), photos, func(o pipeline.Outcome) { told[o.Photo.Name] = o.Err }))
	require.Len(t, told, 2)
	assert.ErrorContains(t, told[photos[0].Name], "the original of "+photos[0].Name+" is not where it was")
	assert.NoError(t, told[photos[1].Name])
	assert.Equal(t, area, b.value(t, photos[0].Name, record.LeafArea))
	assert.ErrorContains(t, b.desk.remeasure(context.Background(), photos[:1], nil), "not where it was")
}

// An event can be noted for one plant, a list or a group; it lands in events.csv as one line.
func TestEventsForOneSomeAndAGroup(t *testing.T) {
	b := serve(t)
	for _, plants := range []string{"12", "17, 23", "clivia"} {
		code, page := b.post(t, "/events", url.Values{"date": {"2026-05-02"}, "plants": {plants}, "event": {"feed"}, "note": {"half strength"}})
		require.Equal(t, 200, code, page)
	}
	events := b.file(t, "events.csv")
	assert.Contains(t, events, "2026-05-02,clivia,feed,half strength")
	assert.Contains(t, events, `2026-05-02,"17, 23",feed,half strength`)
	_, page := b.get(t, "/plant/44")
	assert.Contains(t, page, "half strength")
	for name, bad := range map[string]url.Values{
		"no such day":   {"date": {"2026-13-02"}, "plants": {"12"}, "event": {"feed"}},
		"no such plant": {"date": {"2026-05-02"}, "plants": {"99"}, "event": {"feed"}},
		"no such kind":  {"date": {"2026-05-02"}, "plants": {"12"}, "event": {"dance"}},
		"half a pot":    {"date": {"2026-05-02"}, "plants": {"12"}, "event": {"repot"}, "pot_top": {"120"}},
	} {
		code, page := b.post(t, "/events", bad)
		assert.Equal(t, 422, code, name)
		assert.Contains(t, page, `class="wrong"`, "%s: the reason stands beside the field", name)
		assert.Contains(t, page, `value="`+bad.Get("plants")+`"`, "%s: what was typed is kept", name)
	}
	assert.Equal(t, events, b.file(t, "events.csv"))
}

// Corrections change the numbers of the photo they are about, are written down with old and new value, and can be taken
// back.
func TestCorrectionsAreKeptAndReversible(t *testing.T) {
	b := serve(t, "012_2026-03_L.jpg", "012_2026-04_L.jpg")
	sha := b.sha(t, "012_2026-03_L.jpg")
	before, other := b.value(t, "012_2026-03_L.jpg", record.LeafArea), b.value(t, "012_2026-04_L.jpg", record.LeafArea)
	code, page := b.post(t, "/photo/"+sha+"/correct", url.Values{"offset_mm": {"40"}, "plant": {"12"}, "date": {"2026-03-07"}, "counts": {"yes"}, "reason": {"plant stood before the card"}})
	require.Equal(t, 200, code, page)
	assert.Contains(t, page, "Corrected and measured again.")
	// A plane nearer to the camera by 40 of about 700 mm is seen larger, so that the same picture means less area.
	assert.InDelta(t, 0.89, b.value(t, "012_2026-03_L.jpg", record.LeafArea)/before, 0.02)
	assert.Equal(t, other, b.value(t, "012_2026-04_L.jpg", record.LeafArea), "the other photo is not touched")
	assert.Equal(t, 2, strings.Count(b.file(t, "corrections.csv"), "\n"), "what was not changed is not written")

	s, done, err := b.desk.now(context.Background())
	require.NoError(t, err)
	k := s.c.Corrections[0]
	done()
	assert.Equal(t, "0", k.Old)
	assert.Equal(t, "40", k.New)
	code, page = b.post(t, "/corrections/undo", url.Values{"line": {itoa(k.Line)}, "time": {k.Time}})
	require.Equal(t, 200, code, page)
	assert.Equal(t, before, b.value(t, "012_2026-03_L.jpg", record.LeafArea))
	assert.Equal(t, 3, strings.Count(b.file(t, "corrections.csv"), "\n"), "taking back adds a line")

	code, _ = b.post(t, "/photo/"+sha+"/correct", url.Values{"counts": {"no"}})
	assert.Equal(t, 422, code, "an exclusion needs a reason")
	code, page = b.post(t, "/photo/"+sha+"/correct", url.Values{"counts": {"no"}, "reason": {"wind"}})
	require.Equal(t, 200, code)
	assert.Contains(t, page, "wind")
	code, _ = b.post(t, "/photo/"+sha+"/correct", url.Values{"counts": {"yes"}})
	require.Equal(t, 200, code)
	assert.Equal(t, before, b.value(t, "012_2026-03_L.jpg", record.LeafArea))
	code, _ = b.post(t, "/photo/"+sha+"/correct", url.Values{"plant": {"44"}})
	require.Equal(t, 200, code)
	_, page = b.get(t, "/plant/44")
	assert.Contains(t, page, sha)
	code, _ = b.post(t, "/corrections/undo", url.Values{"line": {"2"}, "time": {"1999-01-01"}})
	assert.Equal(t, 409, code)
}

// While another phototrack writes, the desk says so, and changes nothing.
func TestAnotherWriterIsNamed(t *testing.T) {
	b := serve(t)
	c, err := collection.Open(b.dir)
	require.NoError(t, err)
	lock, err := c.Lock()
	require.NoError(t, err)
	before := b.file(t, "events.csv")
	code, page := b.post(t, "/events", url.Values{"date": {"2026-05-02"}, "plants": {"12"}, "event": {"feed"}})
	assert.Equal(t, 409, code)
	assert.Contains(t, page, "being written by another phototrack")
	assert.Equal(t, before, b.file(t, "events.csv"))
	code, _ = b.get(t, "/")
	assert.Equal(t, 200, code, "reading goes on")
	require.NoError(t, lock.Close())
	code, _ = b.post(t, "/events", url.Values{"date": {"2026-05-02"}, "plants": {"12"}, "event": {"feed"}})
	assert.Equal(t, 200, code)
}

// A plate can be composed as picture, moving picture and PDF, is only written when it is saved, and then never over
// another.
func TestPlatesOfEveryForm(t *testing.T) {
	b := serve(t, "012_2026-03_L.jpg", "012_2026-04_L.jpg", "044_2026-04_L.jpg")
	for form, magic := range map[string]string{"picture": "\x89PNG", "moving": "GIF8", "pdf": "%PDF"} {
		code, page := b.post(t, "/plates", url.Values{"plant": {"12"}, "preset": {"a4"}, "form": {form}})
		require.Equal(t, 200, code, page)
		_, id, ok := strings.Cut(page, `name="save" value="`)
		require.True(t, ok, form)
		id, _, _ = strings.Cut(id, `"`)
		code, data := b.get(t, "/draft/"+id)
		assert.Equal(t, 200, code, form)
		assert.True(t, strings.HasPrefix(data, magic), form)
		assert.NoDirExists(t, filepath.Join(b.dir, "reports", platesDir, form))
		for range 2 {
			code, page = b.post(t, "/plates", url.Values{"save": {id}})
			require.Equal(t, 200, code, page)
		}
	}
	saved, err := os.ReadDir(filepath.Join(b.dir, "reports", platesDir))
	require.NoError(t, err)
	assert.Len(t, saved, 6)
	code, page := b.post(t, "/plates", url.Values{"plant": {"12", "44"}, "date": {"2026-04"}, "preset": {"wide"}})
	assert.Equal(t, 200, code)
	assert.Contains(t, page, "plate_012_leaf_044_leaf_2026-04_wide.png")
	for name, bad := range map[string]url.Values{
		"no plant":       {"preset": {"wide"}},
		"no such preset": {"plant": {"12"}, "preset": {"../wide"}},
		"no such plant":  {"plant": {"99"}, "preset": {"wide"}},
		"no such view":   {"plant": {"12"}, "preset": {"wide"}, "view": {"soil"}},
		"no photo":       {"plant": {"23"}, "preset": {"wide"}},
	} {
		code, _ := b.post(t, "/plates", bad)
		assert.Equal(t, 422, code, name)
	}
	code, _ = b.post(t, "/plates", url.Values{"save": {"../../x"}})
	assert.Equal(t, 410, code)
}

// A photo whose tag is not in the list finds its place when the plant is added, without being dropped again.
func TestAddingAPlantGivesItsPhotosAPlace(t *testing.T) {
	b := serve(t)
	plants := b.file(t, "plants.csv")
	require.NoError(t, os.WriteFile(filepath.Join(b.dir, "plants.csv"), []byte(strings.Replace(plants, "45,Aspidistra", "46,Another", 1)), 0o644))
	data, err := os.ReadFile("../../samples/photos/045_2026-03_L.jpg")
	require.NoError(t, err)
	code, _, text := b.drop(t, map[string][]byte{"045_2026-03_L.jpg": data})
	require.Equal(t, 200, code, text)
	s := b.settle(t)
	require.Len(t, s.Photos, 1)
	assert.Equal(t, "flagged", s.Photos[0].Status)
	_, page := b.get(t, "/unsorted")
	assert.Contains(t, page, "045_2026-03_L.jpg")
	code, page = b.post(t, "/plants", url.Values{"number": {"45"}, "name": {"Aspidistra"}})
	require.Equal(t, 200, code, page)
	s = b.settle(t)
	require.Len(t, s.Photos, 1, "it was measured anew")
	assert.Equal(t, "accepted", s.Photos[0].Status)
	_, page = b.get(t, "/plant/45")
	assert.Contains(t, page, "045_2026-03_L.jpg")
	_, page = b.get(t, "/unsorted")
	assert.Contains(t, page, "every photo has its plant")
}

// A photo without a card is shown with its reason and what to do, and can be given a plant.
func TestPhotoWithoutCard(t *testing.T) {
	b := serve(t)
	var png bytes.Buffer
	grey := image.NewGray(image.Rect(0, 0, 800, 600))
	for i := range grey.Pix {
		grey.Pix[i] = 128
	}
	require.NoError(t, imagepng.Encode(&png, grey))
	code, _, text := b.drop(t, map[string][]byte{"2026-05-09 <b>grey.png": png.Bytes()})
	require.Equal(t, 200, code, text)
	s := b.settle(t)
	require.Len(t, s.Photos, 1)
	assert.Equal(t, "rejected", s.Photos[0].Status)
	require.NotEmpty(t, s.Photos[0].Reasons)
	assert.NotEmpty(t, s.Photos[0].Reasons[0].Hint)
	_, page := b.get(t, "/unsorted")
	assert.Contains(t, page, s.Photos[0].SHA)
	code, page = b.get(t, "/photo/"+s.Photos[0].SHA)
	assert.Equal(t, 200, code)
	assert.Contains(t, page, "No scale card was found")
	assert.NotContains(t, page, "<b>grey")
	code, page = b.post(t, "/photo/"+s.Photos[0].SHA+"/correct", url.Values{"plant": {"12"}})
	assert.Equal(t, 200, code, page)
	_, page = b.get(t, "/photo/"+s.Photos[0].SHA)
	assert.Contains(t, page, "Clivia A")
}
