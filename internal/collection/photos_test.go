//go:build unix

package collection

import (
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phototrack/internal/fsx"
	"phototrack/internal/record"
)

func TestDateFromName(t *testing.T) {
	for _, tt := range []struct{ path, want, source string }{
		{"2026-05-14.jpg", "2026-05-14T00:00:00", "name"},
		{"IMG_20260514_101530.jpg", "2026-05-14T10:15:30", "name"},
		{"PXL_20260514_101530123.jpg", "2026-05-14T10:15:30", "name"},
		{"PXL_20260514_101530123.MP.jpg", "2026-05-14T10:15:30", "name"},
		{"20260514101530.jpg", "2026-05-14T10:15:30", "name"},
		{"IMG-20260514-WA0003.jpg", "2026-05-14T00:00:00", "name"},
		{"WhatsApp Image 2026-05-14 at 10.15.30.jpeg", "2026-05-14T10:15:30", "name"},
		{"signal-2026-05-14-101530.jpg", "2026-05-14T10:15:30", "name"},
		{"photo_2026-05-14_10-15-30 (2).jpg", "2026-05-14T10:15:30", "name"},
		{"Screenshot 2026.05.14 plant 7.png", "2026-05-14T00:00:00", "name"},
		{"012_2026_05_14_L.jpg", "2026-05-14T00:00:00", "name"},
		{"2026-05-14/IMG_0001.jpg", "2026-05-14T00:00:00", "folder"},
		{"round of 2026-05-14, evening/shelf/IMG_0001.jpg", "2026-05-14T00:00:00", "folder"},
		{"2026/05/14/IMG_0001.jpg", "2026-05-14T00:00:00", "folder"},
		{"2026-05-14/2026-05-13 late.jpg", "2026-05-13T00:00:00", "name"},
		{"photos/2026-05/1a2026051433-2026-05-14.jpg", "2026-05-14T00:00:00", "name"},
		{"2026-05-14 10.15.30 and 2026-05-14.jpg", "2026-05-14T10:15:30", "name"},
		{"2026-05-14_256060.jpg", "2026-05-14T00:00:00", "name"},
		{"2026-05/IMG_0001.jpg", "", ""},
		{"012_2026-05_L.jpg", "", ""},
		{"IMG_0001.jpg", "", ""},
		{"2026-02-30.jpg", "", ""},
		{"2026-13-01.jpg", "", ""},
		{"1747217730123.jpg", "", ""},
		{"120260514.jpg", "", ""},
		{"202605149.jpg", "", ""},
		{"2026-05.14.jpg", "", ""},
		{"2026-05-14 or 2026-05-15.jpg", "", ""},
		{"photos/2026-05/1a2026051433-IMG_0001.jpg", "", ""},
		{"", "", ""},
	} {
		s, ok := DateFromName(tt.path)
		assert.Equal(t, tt.want, s.String(), tt.path)
		assert.Equal(t, tt.source, s.Source, tt.path)
		assert.Equal(t, tt.want != "", ok, tt.path)
	}
}

func TestSafeName(t *testing.T) {
	for in, want := range map[string]string{
		"IMG_1.JPG": "IMG_1.JPG", "../../etc/passwd": "passwd", `C:\photos\a.jpg`: "a.jpg", "a\x1b[31m\n.jpg": "a_[31m_.jpg",
		"..": "photo", "": "photo", ".hidden": "hidden", "a:b*c?.jpg": "a_b_c_.jpg", "Bär.jpg": "Bär.jpg", "a\xff.jpg": "a_.jpg", "x\u202egpj.jpg": "x_gpj.jpg",
		// Names of devices (Microsoft, "Naming Files, Paths, and Namespaces").
		"con.jpg": "_con.jpg", "NUL": "_NUL", "Com1.tar.jpg": "_Com1.tar.jpg", "LPT³.jpg": "_LPT³.jpg", "aux .jpg": "_aux .jpg", "console.jpg": "console.jpg", "COM10.jpg": "COM10.jpg",
	} {
		assert.Equal(t, want, SafeName(in), "%q", in)
	}
	long := SafeName(strings.Repeat("ä", 300) + ".jpeg")
	assert.LessOrEqual(t, len(long), maxNameBytes)
	assert.True(t, strings.HasSuffix(long, "ä.jpeg"))
}

func TestListPhotos(t *testing.T) {
	outside := t.TempDir()
	dir := filepath.Join(t.TempDir(), "inbox")
	write := func(path, text string) {
		require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o755))
		require.NoError(t, os.WriteFile(path, []byte(text), 0o644))
	}
	for _, name := range []string{"b.JPG", "a.jpeg", "sub/c.heic", "sub/2026-05/d.webp", "e.tif", "live.HEIC"} {
		write(filepath.Join(dir, name), "x")
	}
	write(filepath.Join(dir, "no extension"), "\xff\xd8\xff\xe0 a photo from a chat")
	for _, name := range []string{"live.MOV", "a.aae", "a.xmp", "a.jpeg.json", "old.THM", ".hidden.jpg", "._a.jpg", "Thumbs.db", ".thumbnails/t.jpg", "sub/@eaDir/t.jpg", "__MACOSX/t.jpg"} {
		write(filepath.Join(dir, name), "x")
	}
	for _, name := range []string{"film.mp4", "letter.pdf", "raw.dng", "nothing known"} {
		write(filepath.Join(dir, name), "x")
	}
	write(filepath.Join(outside, "secret.jpg"), "x")
	require.NoError(t, os.Symlink(filepath.Join(outside, "secret.jpg"), filepath.Join(dir, "link out.jpg")))
	require.NoError(t, os.Symlink(outside, filepath.Join(dir, "folder out")))
	require.NoError(t, os.Symlink(filepath.Join(dir, "b.JPG"), filepath.Join(dir, "link in.jpg")))
	require.NoError(t, os.Symlink(filepath.Join(dir, "nowhere"), filepath.Join(dir, "broken.jpg")))
	require.NoError(t, syscall.Mkfifo(filepath.Join(dir, "pipe.jpg"), 0o644))

	l, err := ListPhotos(dir)
	require.NoError(t, err)
	var photos, unknown []string
	for _, p := range l.Photos {
		photos = append(photos, p.Rel)
		assert.Equal(t, filepath.Join(dir, filepath.FromSlash(p.Rel)), p.Path)
		assert.False(t, p.ModTime.IsZero())
	}
	for _, u := range l.Unknown {
		unknown = append(unknown, u.Rel)
		assert.NotEmpty(t, u.Why+u.Hint)
	}
	assert.Equal(t, []string{"a.jpeg", "b.JPG", "e.tif", "live.HEIC", "no extension", "sub/2026-05/d.webp", "sub/c.heic"}, photos)
	assert.Equal(t, []string{"broken.jpg", "film.mp4", "folder out", "letter.pdf", "link out.jpg", "nothing known", "pipe.jpg", "raw.dng"}, unknown)
	assert.Equal(t, 12, l.Skipped)

	one, err := ListPhotos(filepath.Join(dir, "a.jpeg"))
	require.NoError(t, err)
	assert.Len(t, one.Photos, 1)
	_, err = ListPhotos(filepath.Join(dir, "no such folder"))
	assert.Error(t, err)
	empty, err := ListPhotos(t.TempDir())
	require.NoError(t, err)
	assert.Empty(t, empty.Photos)
}

func TestArchive(t *testing.T) {
	c := newCollection(t, nil)
	src := c.Path(InboxDir, "IMG 1.jpg")
	require.NoError(t, os.WriteFile(src, []byte("pixels"), 0o644))
	sum, err := HashFile(src)
	require.NoError(t, err)
	// SHA-256 of "pixels", by the hashlib of Python 3.
	require.Equal(t, "6ec9c2b0eb14010746c8bce8939303b382344b296206612eb8a907a37b2b2f37", sum)
	p := &record.Photo{Name: "IMG 1.jpg", SHA256: sum, Taken: record.Stamp{Time: time.Date(2026, 5, 14, 0, 0, 0, 0, time.UTC), Source: "exif"}}
	rel, err := c.Archive(p, src)
	require.NoError(t, err)
	assert.Equal(t, "photos/2026-05/"+sum[:12]+"-IMG 1.jpg", rel)
	a, _ := os.Stat(src)
	b, err := os.Stat(c.Path(rel))
	require.NoError(t, err)
	assert.False(t, os.SameFile(a, b), "a file of its own")
	require.NoError(t, os.WriteFile(src, []byte("pIxels"), 0o644)) // an edit in place
	kept, err := os.ReadFile(c.Path(rel))
	require.NoError(t, err)
	assert.Equal(t, "pixels", string(kept), "an edit of the photo leaves the kept original as it was")
	require.NoError(t, os.WriteFile(src, []byte("pixels"), 0o644))
	again, err := c.Archive(p, src)
	require.NoError(t, err)
	assert.Equal(t, rel, again)

	path, ok := c.Original(p)
	assert.True(t, ok)
	assert.Equal(t, c.Path(rel), path)
	moved := *p
	moved.Taken.Time = moved.Taken.Time.AddDate(0, 3, 0)
	path, ok = c.Original(&moved)
	assert.True(t, ok, "a corrected date does not lose the original")
	assert.Equal(t, c.Path(rel), path)
	_, ok = c.Original(&record.Photo{Name: "IMG 1.jpg", SHA256: hashA})
	assert.False(t, ok)
	assert.Equal(t, map[string]bool{PhotoRef(sum, p.Name): true}, c.Originals())

	// The archived copy was damaged (and is no link): it stays as it is, the good one goes beside it.
	require.NoError(t, os.Remove(c.Path(rel)))
	require.NoError(t, os.WriteFile(c.Path(rel), []byte("damaged"), 0o644))
	beside, err := c.Archive(p, src)
	require.NoError(t, err)
	assert.Equal(t, "photos/2026-05/"+sum[:12]+"-IMG 1 (2).jpg", beside)
	damaged, _ := os.ReadFile(c.Path(rel))
	assert.Equal(t, "damaged", string(damaged))

	require.NoError(t, copyChecked(src, c.Path(PhotosDir, "copy.jpg"), sum, fsx.Clone))
	copied, _ := os.ReadFile(c.Path(PhotosDir, "copy.jpg"))
	assert.Equal(t, "pixels", string(copied))
	require.ErrorIs(t, copyChecked(src, c.Path(PhotosDir, "other.jpg"), hashA, fsx.Clone), ErrChanged)
	assert.NoFileExists(t, c.Path(PhotosDir, "other.jpg"))

	undated := &record.Photo{Name: "x.jpg", SHA256: hashA}
	_, err = c.Archive(undated, src)
	require.ErrorIs(t, err, ErrChanged, "a file that changed since it was measured is not kept under the old hash")
	undated.SHA256 = sum
	rel, err = c.Archive(undated, src)
	require.NoError(t, err)
	assert.Equal(t, "photos/undated/"+sum[:12]+"-x.jpg", rel)
	content, _ := os.ReadFile(src)
	assert.Equal(t, "pixels", string(content))
}

// Links are made only where the settings ask for them, and can be undone.
func TestArchiveLinksWhereAsked(t *testing.T) {
	c := newCollection(t, map[string]string{SettingsFile: "[run]\nlink_originals = true\n"})
	src := c.Path(InboxDir, "a.jpg")
	require.NoError(t, os.WriteFile(src, []byte("pixels"), 0o644))
	sum, err := HashFile(src)
	require.NoError(t, err)
	rel, err := c.Archive(&record.Photo{Name: "a.jpg", SHA256: sum}, src)
	require.NoError(t, err)
	same := func() bool {
		a, err := os.Stat(src)
		require.NoError(t, err)
		b, err := os.Stat(c.Path(rel))
		require.NoError(t, err)
		return os.SameFile(a, b)
	}
	assert.True(t, same())
	require.ErrorIs(t, Unshare(c.Path(rel), hashA), ErrChanged)
	assert.True(t, same())
	require.NoError(t, Unshare(c.Path(rel), sum))
	assert.False(t, same())
	data, err := os.ReadFile(c.Path(rel))
	require.NoError(t, err)
	assert.Equal(t, "pixels", string(data))
}

func TestGivenName(t *testing.T) {
	sum := "6ec9c2b0eb14010746c8bce8939303b382344b296206612eb8a907a37b2b2f37"
	name, kept, whole := GivenName("6ec9c2b0eb14-IMG 1.jpg", sum)
	assert.Equal(t, "IMG 1.jpg", name)
	assert.True(t, kept && whole)
	_, kept, whole = GivenName("6ec9c2b0eb15-IMG 1.jpg", sum)
	assert.True(t, kept)
	assert.False(t, whole)
	name, kept, whole = GivenName("202605141015-x.jpg", sum)
	assert.Equal(t, "202605141015-x.jpg", name, "figures are a date, no hash")
	assert.True(t, !kept && whole)
}
