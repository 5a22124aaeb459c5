package publish

import (
	"bufio"
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"hash"
	"io"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"

	"phototrack/internal/fsx"
	"phototrack/internal/record"
	"phototrack/internal/series"
)

// kept knows which plates of a report can stay as they are; the report's fingerprintFile says what each was made from. A plate stays if all that it was made from is the same: the
// stored measurements and the pictures' bytes, words, values and events, and the program itself, to the last byte of it.
// And it must still be the file that was written then.
type kept struct {
	dir string
	old map[string]keptPlate
	mu  sync.Mutex
	now map[string]keptPlate
}

// keptPlate is the hash of a plate's inputs and of its file.
type keptPlate struct{ from, file string }

// openKept reads what is known of the plates of a report's folder; a damaged line is as good as none.
func openKept(dir string) *kept {
	k := &kept{dir: dir, old: map[string]keptPlate{}, now: map[string]keptPlate{}}
	data, err := os.ReadFile(filepath.Join(dir, fingerprintFile))
	if err != nil {
		return k
	}
	for lines := bufio.NewScanner(bytes.NewReader(data)); lines.Scan(); {
		if f := strings.Fields(lines.Text()); len(f) == 3 {
			k.old[f[2]] = keptPlate{f[0], f[1]}
		}
	}
	return k
}

// stays says that a plate, named from the report's folder, is there, was made from the same and is as it was written.
func (k *kept) stays(name, from string) bool {
	was, ok := k.old[name]
	if !ok || from == "" || was.from != from {
		return false
	}
	file, err := fileHash(filepath.Join(k.dir, filepath.FromSlash(name)))
	if err != nil || file != was.file {
		return false
	}
	k.note(name, was)
	return true
}

// write writes a plate.
func (k *kept) write(name, from string, data []byte) error {
	if err := fsx.WriteFileAtomic(filepath.Join(k.dir, filepath.FromSlash(name)), data, 0o644); err != nil {
		return err
	}
	if from != "" {
		sum := sha256.Sum256(data)
		k.note(name, keptPlate{from, hex.EncodeToString(sum[:])})
	}
	return nil
}

func (k *kept) note(name string, p keptPlate) {
	k.mu.Lock()
	defer k.mu.Unlock()
	k.now[name] = p
}

// save writes what is known now, and first the report's fingerprint, or that it is not done.
func (k *kept) save(report string) error {
	var b bytes.Buffer
	fmt.Fprintln(&b, report)
	for _, n := range slices.Sorted(maps.Keys(k.now)) {
		fmt.Fprintln(&b, k.now[n].from, k.now[n].file, n)
	}
	return fsx.WriteFileAtomic(filepath.Join(k.dir, fingerprintFile), b.Bytes(), 0o644)
}

// notDone stands for the fingerprint of a report that is being written.
const notDone = "-"

// inputs hashes what a plate is made from.
type inputs struct {
	h     hash.Hash
	fault bool
}

// newInputs begins with the program and with what is said of the plate as a whole.
func newInputs(said ...any) *inputs {
	in := &inputs{h: sha256.New(), fault: program() == ""}
	in.add(program())
	in.add(said...)
	return in
}

// add takes values as JSON, one a line. What cannot be written so has no hash, and the plate is made anew each time.
func (in *inputs) add(said ...any) {
	e := json.NewEncoder(in.h)
	for _, v := range said {
		in.fault = in.fault || e.Encode(v) != nil
	}
}

// photo takes what is stored of a photo, its picture and the values under it.
func (in *inputs) photo(ctx context.Context, st *series.Store, p *record.Photo, kind string, values []string) {
	whole, ok, err := st.Get(ctx, p.SHA256)
	in.fault = in.fault || err != nil
	data, okPicture, err := st.Picture(ctx, p.SHA256, kind)
	in.fault = in.fault || err != nil
	whole.Quantities = nil // on a plate they are the values under it
	in.add(ok, whole, okPicture, len(data), values)
	in.h.Write(data)
}

// sum is the hash, "" where there is none.
func (in *inputs) sum() string {
	if in.fault {
		return ""
	}
	return hex.EncodeToString(in.h.Sum(nil))
}

// program is a hash of the running program; "" where it cannot be read. A version number would be forgotten to be raised
// one day, and then plates of an older program would stay.
var program = sync.OnceValue(func() string {
	path, err := os.Executable()
	if err != nil {
		return ""
	}
	sum, err := fileHash(path)
	if err != nil {
		return ""
	}
	return sum
})

func fileHash(path string) (string, error) {
	f, err := os.Open(path)
	if err != nil {
		return "", err
	}
	defer f.Close()
	h := sha256.New()
	if _, err := io.Copy(h, f); err != nil {
		return "", err
	}
	return hex.EncodeToString(h.Sum(nil)), nil
}
