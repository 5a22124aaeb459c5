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
	dir    string
	report string // fingerprint of the report that was written last, with all its files
	old    map[string]keptFile
	mu     sync.Mutex
	now    map[string]keptFile
}

// keptFile is the hash of a plate's inputs, reportItself for the other files, and that of the file.
type keptFile struct{ from, file string }

// reportItself stands for the inputs of what is always written anew with a report.
const reportItself = "report"

// openKept reads what is known of the plates of a report's folder; a damaged line is as good as none.
func openKept(dir string) *kept {
	k := &kept{dir: dir, old: map[string]keptFile{}, now: map[string]keptFile{}}
	data, err := os.ReadFile(filepath.Join(dir, fingerprintFile))
	if err != nil {
		return k
	}
	lines := bufio.NewScanner(bytes.NewReader(data))
	if lines.Scan() {
		k.report = lines.Text()
	}
	for lines.Scan() {
		if f := strings.Fields(lines.Text()); len(f) == 3 {
			k.old[f[2]] = keptFile{f[0], f[1]}
		}
	}
	return k
}

// stays says that a plate, named from the report's folder, is there, was made from the same and is as it was written.
func (k *kept) stays(name, from string) bool {
	was, ok := k.old[name]
	if !ok || from == "" || was.from != from || !k.as(name, was) {
		return false
	}
	k.note(name, was)
	return true
}

// as says that a file is as it was written.
func (k *kept) as(name string, was keptFile) bool {
	file, err := fileHash(filepath.Join(k.dir, filepath.FromSlash(name)))
	return err == nil && file == was.file
}

// whole says that the report was made from the same, and that all its files are as they were written.
func (k *kept) whole(report string) bool {
	if k.report != report || program() == "" {
		return false
	}
	for name, was := range k.old {
		if !k.as(name, was) {
			return false
		}
	}
	_, ok := k.old[indexFile]
	return ok
}

// written notes a file of the report that was written just now.
func (k *kept) written(name string) error {
	file, err := fileHash(filepath.Join(k.dir, name))
	k.note(name, keptFile{reportItself, file})
	return err
}

// write writes a plate.
func (k *kept) write(name, from string, data []byte) error {
	if err := fsx.WriteFileAtomic(filepath.Join(k.dir, filepath.FromSlash(name)), data, 0o644); err != nil {
		return err
	}
	if from == "" {
		from = untold
	}
	sum := sha256.Sum256(data)
	k.note(name, keptFile{from, hex.EncodeToString(sum[:])})
	return nil
}

func (k *kept) note(name string, p keptFile) {
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

// untold stands for inputs that have no hash.
const untold = "-"

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
	stored, err := st.Raw(ctx, p.SHA256, kind)
	in.fault = in.fault || err != nil
	for _, part := range stored {
		in.add(len(part))
		in.h.Write(part)
	}
	in.add(values)
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
