package intake

import (
	"bufio"
	"bytes"
	"encoding/gob"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"phototrack/internal/collection"
	"phototrack/internal/fsx"
	"phototrack/internal/record"
	"phototrack/internal/series"
)

// ResultExt ends the names of result files: <sha256 of the photo>.result.
const ResultExt = ".result"

// resultMagic begins a result file; the digit is the version of its form. The hash of what follows stands behind it.
const resultMagic = "phototrack-result 1 "

// maxResultBytes is far beyond any result (pictures take about half a megabyte): a file that is longer is none.
const maxResultBytes = 256 << 20

// ErrResult says that a file is no whole result file.
var ErrResult = errors.New("not a whole result file")

// result is one measured photo, as a part of a run leaves it for the merge.
type result struct {
	Photo record.Photo      // with its pictures
	Seen  []series.SeenFile // the files of this content, the one that was measured first
}

// writeResult puts a result into dir, whole or not at all. The same photo's earlier result is replaced.
func writeResult(dir string, r result) error {
	var body bytes.Buffer
	if err := gob.NewEncoder(&body).Encode(r); err != nil {
		return fmt.Errorf("%s: %w", r.Photo.Name, err)
	}
	return fsx.WriteAtomic(filepath.Join(dir, r.Photo.SHA256+ResultExt), 0o644, func(w io.Writer) error {
		if _, err := fmt.Fprintf(w, "%s%s\n", resultMagic, collection.Hash(body.Bytes())); err != nil {
			return err
		}
		_, err := w.Write(body.Bytes())
		return err
	})
}

// readResult reads a result file and checks that it is whole. Errors: ErrResult, or that of opening the file.
func readResult(path string) (r result, err error) {
	st, err := os.Stat(path)
	if err != nil {
		return r, fsx.Explain(path, err)
	}
	if !st.Mode().IsRegular() || st.Size() > maxResultBytes {
		return r, fmt.Errorf("%s: %w", filepath.Base(path), ErrResult)
	}
	data, err := os.ReadFile(path)
	if err != nil {
		return r, fsx.Explain(path, err)
	}
	head, body, _ := bytes.Cut(data, []byte("\n"))
	sum, ok := strings.CutPrefix(string(head), resultMagic)
	if !ok || sum != collection.Hash(body) {
		return r, fmt.Errorf("%s: %w", filepath.Base(path), ErrResult)
	}
	if err := gob.NewDecoder(bufio.NewReader(bytes.NewReader(body))).Decode(&r); err != nil {
		return r, fmt.Errorf("%s: %w: %v", filepath.Base(path), ErrResult, err)
	}
	if r.Photo.SHA256+ResultExt != filepath.Base(path) {
		return r, fmt.Errorf("%s: %w: it is that of another photo", filepath.Base(path), ErrResult)
	}
	return r, nil
}
