package fsx

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"io"
	"os"
	"path/filepath"
)

// JournalFile is the note of a change of several files that is under way in a folder. While it lies there the change is
// neither done nor undone: Recover settles that.
const JournalFile = ".phototrack-journal"

// Replacement puts New in place of Old in one file.
type Replacement struct {
	Path     string // within the folder, with forward slashes
	Old, New []byte // a nil Old: there is no such file yet
}

// Move is a step of MoveTogether: From, if it is there, gets the name To.
type Move struct {
	From, To string // within the folder, with forward slashes; To "" takes the file away
	Link     bool   // From keeps its name too, where the file system has links
}

// journal is what lies in JournalFile.
type journal struct {
	What    string // for a person: "a change of events.csv"
	Replace []replaceStep
	Moves   []Move // the last one is the change itself: while its From is there, it is not done
}

// replaceStep names files within the folder. The copies lie beside the file, where that is a link beside what it leads to.
type replaceStep struct {
	To            string
	Fresh, Former string // finished copies of the new content and of the old, "" where there was no file
	Old, New      string // hashes, Old "" where there was no file
}

func sumOf(data []byte) string {
	h := sha256.Sum256(data)
	return hex.EncodeToString(h[:])
}

// sumAt is the hash of a file, "" where there is none.
func sumAt(path string) (string, error) {
	data, err := os.ReadFile(path)
	if errors.Is(err, os.ErrNotExist) {
		return "", nil
	}
	return sumOf(data), err
}

// ReplaceTogether replaces several files of a folder as one: whenever the program or the power ends, all of them hold
// their new content or, after Recover at the latest, all their old one. A file that holds anything but its Old gives
// ErrNotSame, and nothing is changed. what tells a person which change it was. Hold the folder's lock.
func ReplaceTogether(dir, what string, files ...Replacement) (err error) {
	j := journal{What: what}
	defer func() {
		if err == nil || !exists(filepath.Join(dir, JournalFile)) {
			j.sweep(dir)
		}
	}()
	for _, f := range files {
		s, err := f.stage(dir)
		j.Replace = append(j.Replace, s) // what was staged before a fault is swept away
		if err != nil {
			return err
		}
	}
	for _, s := range j.Replace {
		now, err := sumAt(at(dir, s.To))
		if err != nil {
			return Explain(at(dir, s.To), err)
		}
		if now != s.Old {
			return ErrNotSame
		}
	}
	if err := j.write(dir); err != nil {
		return err
	}
	done, err := j.settle(dir)
	if err == nil && !done {
		err = ErrNotSame
	}
	return err
}

// stage writes the file's new content, and its old one, beside where it is to go.
func (f Replacement) stage(dir string) (s replaceStep, err error) {
	s = replaceStep{To: f.Path, New: sumOf(f.New)}
	perm := os.FileMode(0o644)
	if f.Old != nil {
		s.Old = sumOf(f.Old)
		if st, err := os.Stat(at(dir, f.Path)); err == nil {
			perm = st.Mode().Perm()
		}
		if s.Former, err = stage(dir, f.Path, perm, f.Old); err != nil {
			return s, err
		}
	}
	s.Fresh, err = stage(dir, f.Path, perm, f.New)
	return s, err
}

// MoveTogether does moves within a folder in order as one; the last one is what counts. Whatever is wanted to stay must
// have got its other name by a step before.
func MoveTogether(dir, what string, moves ...Move) error {
	j := journal{What: what, Moves: moves}
	if err := j.write(dir); err != nil {
		return err
	}
	_, err := j.settle(dir)
	return err
}

// Interrupted says which change of a folder's files was cut off, "" where none was. It only looks.
func Interrupted(dir string) string {
	j, err := readJournal(dir)
	switch {
	case errors.Is(err, os.ErrNotExist):
		return ""
	case err != nil:
		return "a change of files"
	}
	return j.What
}

// Recover settles a change that was cut off: it is finished, or, where a file has been changed by another program since,
// taken back. what is "" where there was none. Hold the folder's lock.
func Recover(dir string) (what string, finished bool, err error) {
	j, err := readJournal(dir)
	switch {
	case errors.Is(err, os.ErrNotExist):
		return "", false, nil
	case err != nil:
		return "", false, Explain(filepath.Join(dir, JournalFile), err)
	}
	done, err := j.settle(dir)
	if err != nil {
		return j.What, false, err
	}
	j.sweep(dir)
	return j.What, done, nil
}

func readJournal(dir string) (j journal, err error) {
	data, err := os.ReadFile(filepath.Join(dir, JournalFile))
	if err != nil {
		return j, err
	}
	if err := json.Unmarshal(data, &j); err != nil {
		return j, err
	}
	for _, s := range j.Replace {
		home := filepath.Dir(at(dir, s.To)) // of a link, where it leads to
		ok := filepath.IsLocal(filepath.FromSlash(s.To))
		for _, name := range []string{s.Fresh, s.Former} {
			ok = ok && (name == "" || IsTemp(filepath.Base(name)) && filepath.Dir(at(dir, name)) == home)
		}
		if !ok {
			return j, errors.New(JournalFile + " names a file outside of its folder")
		}
	}
	for _, m := range j.Moves {
		if !filepath.IsLocal(filepath.FromSlash(m.From)) || m.To != "" && !filepath.IsLocal(filepath.FromSlash(m.To)) {
			return j, errors.New(JournalFile + " names a file outside of its folder")
		}
	}
	return j, nil
}

func (j *journal) write(dir string) error {
	data, err := json.Marshal(j)
	if err != nil {
		return err
	}
	return WriteFileAtomic(filepath.Join(dir, JournalFile), append(data, '\n'), 0o644)
}

// settle finishes the change, or takes it back, and removes the journal.
func (j *journal) settle(dir string) (done bool, err error) {
	done = true
	if len(j.Moves) > 0 {
		err = j.move(dir)
	} else if done, err = j.replace(dir); err == nil && !done {
		err = j.takeBack(dir)
	}
	if err != nil {
		return false, err
	}
	if err := os.Remove(filepath.Join(dir, JournalFile)); err != nil && !errors.Is(err, os.ErrNotExist) {
		return done, Explain(dir, err)
	}
	return done, Explain(dir, syncDir(dir))
}

// replace brings every file to its new content; ok is false where one holds what neither this change nor the state before
// it has put there.
func (j *journal) replace(dir string) (ok bool, err error) {
	for _, s := range j.Replace {
		to, fresh := at(dir, s.To), at(dir, s.Fresh)
		now, err := sumAt(to)
		if err != nil {
			return false, Explain(to, err)
		}
		staged, err := sumAt(fresh)
		if err != nil {
			return false, Explain(fresh, err)
		}
		switch {
		case now == s.New: // done; what was there before lies under the other name
			if staged != "" && staged != s.Old && staged != s.New {
				return false, nil
			}
			continue
		case now != s.Old || staged != s.New:
			return false, nil
		}
		if err := swapIn(fresh, to, s.Old); errors.Is(err, ErrNotSame) || errors.Is(err, os.ErrExist) {
			return false, nil
		} else if err != nil {
			return false, Explain(to, err)
		}
		if err := syncDir(filepath.Dir(to)); err != nil {
			return false, Explain(to, err)
		}
	}
	return true, nil
}

// takeBack gives files that have been replaced their old content again. What another program has written stays.
func (j *journal) takeBack(dir string) error {
	for _, s := range j.Replace {
		to, fresh := at(dir, s.To), at(dir, s.Fresh)
		now, err := sumAt(to)
		if err != nil {
			return Explain(to, err)
		}
		if now != s.New {
			continue
		}
		staged, err := sumAt(fresh)
		if err != nil {
			return Explain(fresh, err)
		}
		switch {
		case staged != "" && staged != s.New: // the old content, or what another program saved in the moment between
			err = replaceFile(fresh, to)
		case s.Former != "":
			err = replaceFile(at(dir, s.Former), to)
		default:
			err = os.Remove(to)
		}
		if err != nil && !errors.Is(err, os.ErrNotExist) {
			return Explain(to, err)
		}
		if err := syncDir(filepath.Dir(to)); err != nil {
			return Explain(to, err)
		}
	}
	return nil
}

// move does what is left of the moves.
func (j *journal) move(dir string) error {
	last := j.Moves[len(j.Moves)-1]
	if !exists(at(dir, last.From)) {
		return nil
	}
	for _, m := range j.Moves {
		from := at(dir, m.From)
		if !exists(from) {
			continue
		}
		var err error
		switch to := at(dir, m.To); {
		case m.To == "":
			err = os.Remove(from)
		case m.Link && exists(to):
		case m.Link:
			if err = os.Link(from, to); err != nil {
				err = replaceFile(from, to) // no links here: until the last step the file has its other name only
			}
		default:
			err = replaceFile(from, to)
		}
		if err == nil {
			err = syncDir(filepath.Dir(from))
		}
		if err != nil {
			return Explain(from, err)
		}
	}
	return nil
}

// sweep removes the finished copies that are not needed any more.
func (j *journal) sweep(dir string) {
	for _, s := range j.Replace {
		for _, name := range []string{s.Fresh, s.Former} {
			if name != "" && IsTemp(filepath.Base(name)) {
				os.Remove(at(dir, name))
			}
		}
	}
}

// stage writes a finished copy beside the file that it is for, and gives its name within dir, or the full one where a link
// leads out of dir.
func stage(dir, name string, perm os.FileMode, data []byte) (string, error) {
	temp, err := writeTemp(filepath.Dir(at(dir, name)), perm, func(w io.Writer) error {
		_, err := w.Write(data)
		return err
	})
	if err != nil {
		return "", Explain(at(dir, name), err)
	}
	rel, err := filepath.Rel(dir, temp)
	if err != nil || !filepath.IsLocal(rel) {
		return filepath.Abs(temp)
	}
	return filepath.ToSlash(rel), nil
}

// swapIn puts the finished file fresh in place of to, which must have the content with the hash old ("" for no file);
// else ErrNotSame, or os.ErrExist, and to is as it was. Where the system can exchange two names in one step, a save of
// another program in the moment before is seen, and put back; the old content then lies under fresh.
func swapIn(fresh, to, old string) error {
	if old == "" {
		return nameNew(fresh, to)
	}
	if err := exchange(fresh, to); err != nil {
		now, err := sumAt(to)
		if err != nil {
			return err
		}
		if now != old {
			return ErrNotSame
		}
		return replaceFile(fresh, to)
	}
	displaced, err := sumAt(fresh)
	if err == nil && displaced == old {
		return nil
	}
	if back := exchange(fresh, to); back != nil {
		return errors.Join(err, back)
	}
	if err != nil {
		return err
	}
	return ErrNotSame
}

// at is a file of a folder, a link followed to what it leads to.
func at(dir, name string) string {
	path := filepath.FromSlash(name)
	if !filepath.IsAbs(path) {
		path = filepath.Join(dir, path)
	}
	if real, err := filepath.EvalSymlinks(path); err == nil {
		return real
	}
	return path
}

func exists(path string) bool {
	_, err := os.Lstat(path)
	return err == nil
}
