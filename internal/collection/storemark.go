package collection

import (
	"errors"
	"os"

	"phototrack/internal/fsx"
)

// StoreMark is the file by which a collection knows that it has a store, should the store be gone.
const StoreMark = ".phototrack-store"

const storeMarkText = "This collection has a store, " + StoreFile + ". If that file is missing, restore a backup, or let\n" +
	"phototrack run --anew measure everything again from photos/ and inbox/.\n"

// ErrStoreLost says that a collection had a store and has none any more.
var ErrStoreLost = errors.New("the collection's store is gone")

// lostHint is what to do then.
const lostHint = "Put the file back, restore a backup (phototrack restore FILE), or measure everything again from photos/ and inbox/: phototrack run --anew"

// CheckStore says what is wrong where the store should be: ErrStoreLost where it is missing, empty or a link that leads
// nowhere although there was one before. Nil where it is there, and where the collection is new.
func (c *Collection) CheckStore() error {
	path := c.StorePath()
	st, err := os.Stat(path)
	_, linkErr := os.Lstat(path)
	switch {
	case err == nil && st.Size() > 0:
		return nil
	case err != nil && !errors.Is(err, os.ErrNotExist):
		return fsx.Explain(path, err)
	case err != nil && linkErr == nil:
		return &fsx.HintError{What: path + " is a link to a file that is not there", Hint: "Connect the disk or folder that it leads to. " + lostHint, Err: ErrStoreLost}
	case !c.hadStore():
		return nil
	case err == nil:
		return &fsx.HintError{What: path + " is empty", Hint: lostHint, Err: ErrStoreLost}
	}
	return &fsx.HintError{What: path + " is missing", Hint: lostHint, Err: ErrStoreLost}
}

// hadStore says whether the collection had a store: by its mark, by kept originals, or by reports.
func (c *Collection) hadStore() bool {
	if _, err := os.Lstat(c.Path(StoreMark)); err == nil {
		return true
	}
	if reports, err := os.ReadDir(c.Path(ReportsDir)); err == nil && len(reports) > 0 {
		return true
	}
	months, err := os.ReadDir(c.Path(PhotosDir))
	if err != nil {
		return false
	}
	for _, m := range months {
		if files, err := os.ReadDir(c.Path(PhotosDir, m.Name())); err == nil && len(files) > 0 {
			return true
		}
	}
	return false
}

// MarkStore notes that there is a store. Call it when the store has been made.
func (c *Collection) MarkStore() error {
	if _, err := os.Lstat(c.Path(StoreMark)); err == nil {
		return nil
	}
	return fsx.WriteFileAtomic(c.Path(StoreMark), []byte(storeMarkText), 0o644)
}
