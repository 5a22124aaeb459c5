package collection

import (
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"sort"
	"strings"
	"time"

	"phototrack/internal/fsx"
)

// PhotoFile is a file that looks like a photo.
type PhotoFile struct {
	Path    string // full path
	Rel     string // within the folder that was listed, with forward slashes
	Size    int64
	ModTime time.Time
}

// Unlisted is a file that is not measured and should not pass unseen.
type Unlisted struct {
	Rel  string
	Why  string
	Hint string
}

// Listing is what a folder of photos holds.
type Listing struct {
	Photos  []PhotoFile // by Rel
	Skipped int         // sidecars, live-photo companions, thumbnails, hidden files: quietly left out
	Unknown []Unlisted  // other files, links that lead out, folders that cannot be read
}

var (
	photoExt   = map[string]bool{".jpg": true, ".jpeg": true, ".jpe": true, ".jfif": true, ".png": true, ".tif": true, ".tiff": true, ".webp": true, ".heic": true, ".heif": true, ".hif": true}
	sidecarExt = map[string]bool{".aae": true, ".xmp": true, ".json": true, ".thm": true, ".ini": true, ".db": true, ".csv": true, ".txt": true, ".md": true}
	textExt    = map[string]bool{".json": true, ".ini": true, ".db": true, ".csv": true, ".txt": true, ".md": true} // a photo under such a name is a photo
	videoExt   = map[string]bool{".mov": true, ".mp4": true, ".m4v": true}
	thumbDirs  = map[string]bool{"thumbnails": true, "thumbs": true, "thumb": true, "@eadir": true, "__macosx": true}
)

// isClutter says whether a name is a system's own file.
func isClutter(name string) bool {
	switch strings.ToLower(name) {
	case "thumbs.db", "desktop.ini", "ehthumbs.db", "icon\r", "lost+found", "$recycle.bin", "system volume information":
		return true
	}
	return false
}

// ListPhotos walks a folder and sorts its files into photos, what is skipped quietly, and what is not known. Links are
// not followed: a link to a file within the folder is skipped (its file is listed itself), any other is named. Pipes,
// devices and sockets are named and never opened. A single file may be given in place of a folder.
func ListPhotos(dir string) (Listing, error) {
	var l Listing
	root, err := filepath.EvalSymlinks(dir)
	if err != nil {
		return l, fsx.Explain(dir, err)
	}
	st, err := os.Stat(root)
	if err != nil {
		return l, fsx.Explain(dir, err)
	}
	if !st.IsDir() {
		if !st.Mode().IsRegular() {
			return l, &fsx.HintError{What: dir + " is neither a folder nor an ordinary file", Hint: "Name a folder of photos, or photos."}
		}
		l.addFile(root, filepath.Base(root), st, nil)
		return l, nil
	}
	err = filepath.WalkDir(root, func(path string, e fs.DirEntry, err error) error {
		return l.visit(root, path, e, err)
	})
	sort.Slice(l.Photos, func(i, j int) bool { return l.Photos[i].Rel < l.Photos[j].Rel })
	sort.Slice(l.Unknown, func(i, j int) bool { return l.Unknown[i].Rel < l.Unknown[j].Rel })
	return l, err
}

func (l *Listing) visit(root, path string, e fs.DirEntry, err error) error {
	rel, relErr := filepath.Rel(root, path)
	if relErr != nil {
		return relErr
	}
	rel = filepath.ToSlash(rel)
	switch {
	case err != nil && path == root:
		return fsx.Explain(path, err)
	case err != nil:
		l.Unknown = append(l.Unknown, Unlisted{rel, "it cannot be read: " + err.Error(), fsx.HintOf(fsx.Explain(path, err))})
		if e != nil && e.IsDir() {
			return fs.SkipDir
		}
		return nil
	case path == root:
		return nil
	case hiddenOrClutter(e):
		l.Skipped++
		if e.IsDir() {
			return fs.SkipDir
		}
		return nil
	case e.IsDir():
		return nil
	case e.Type()&fs.ModeSymlink != 0:
		l.visitLink(root, path, rel)
		return nil
	case !e.Type().IsRegular():
		l.Unknown = append(l.Unknown, Unlisted{rel, "it is not an ordinary file", "Only ordinary files are opened."})
		return nil
	}
	info, err := e.Info()
	if err != nil {
		return nil // gone since the folder was read: the next run sees what is there then
	}
	l.addFile(path, rel, info, func(ext string) bool { return hasStill(path, ext) })
	return nil
}

// hiddenOrClutter says whether a file or folder is none of the grower's: hidden, a system's own, or thumbnails.
func hiddenOrClutter(e fs.DirEntry) bool {
	return strings.HasPrefix(e.Name(), ".") || isClutter(e.Name()) || e.IsDir() && thumbDirs[strings.ToLower(e.Name())]
}

func (l *Listing) visitLink(root, path, rel string) {
	real, err := filepath.EvalSymlinks(path)
	if err == nil {
		if r, relErr := filepath.Rel(root, real); relErr == nil && filepath.IsLocal(r) {
			l.Skipped++
			return
		}
	}
	l.Unknown = append(l.Unknown, Unlisted{rel, "it is a link that leads out of the folder", "Copy the photo itself into the folder."})
}

// addFile sorts one ordinary file by its extension, or by its first bytes where it has none.
func (l *Listing) addFile(path, rel string, info fs.FileInfo, companion func(ext string) bool) {
	ext := strings.ToLower(filepath.Ext(rel))
	switch {
	case photoExt[ext], (ext == "" || textExt[ext]) && looksLikePhoto(path):
		l.Photos = append(l.Photos, PhotoFile{path, rel, info.Size(), info.ModTime()})
	case sidecarExt[ext], videoExt[ext] && companion != nil && companion(ext):
		l.Skipped++
	case videoExt[ext]:
		l.Unknown = append(l.Unknown, Unlisted{rel, "it is a film", "Only photos are measured: take a photo, or save one frame as JPEG."})
	default:
		l.Unknown = append(l.Unknown, Unlisted{rel, "this kind of file is not known", "Save photos as JPEG, PNG, TIFF, WebP or HEIC; move anything else out of the folder."})
	}
}

// PhotoName gives a photo a name that says what it is: with the extension of its format after one that is no photo's.
// format is as photo.Sniff gives it, "" where it is not known.
func PhotoName(name, format string) string {
	if photoExt[strings.ToLower(filepath.Ext(name))] {
		return name
	}
	ext := map[string]string{"png": ".png", "tiff": ".tif", "webp": ".webp", "heic": ".heic"}[strings.ToLower(format)]
	if ext == "" {
		ext = ".jpg"
	}
	return name + ext
}

// hasStill says whether a photo of the same name stands beside a film: then the film is the moving part of it.
func hasStill(path, ext string) bool {
	stem := path[:len(path)-len(ext)]
	for e := range photoExt {
		for _, name := range []string{stem + e, stem + strings.ToUpper(e)} {
			if _, err := os.Lstat(name); err == nil {
				return true
			}
		}
	}
	return false
}

// looksLikePhoto reads the first bytes of a file without an extension.
func looksLikePhoto(path string) bool {
	f, err := os.Open(path)
	if err != nil {
		return false
	}
	defer f.Close()
	var b [12]byte
	n, _ := io.ReadFull(f, b[:])
	head := string(b[:n])
	switch {
	case strings.HasPrefix(head, "\xff\xd8\xff"), strings.HasPrefix(head, "\x89PNG\r\n\x1a\n"), strings.HasPrefix(head, "II*\x00"), strings.HasPrefix(head, "MM\x00*"):
		return true
	case n == len(b) && head[:4] == "RIFF" && head[8:] == "WEBP":
		return true
	case n == len(b) && head[4:8] == "ftyp":
		return strings.Contains("heic heix hevc heim heis mif1 msf1", head[8:])
	}
	return false
}
