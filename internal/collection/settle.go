package collection

import (
	"errors"
	"fmt"
	"os"
	"time"

	"phototrack/internal/fsx"
)

// settleWait is how long a reader waits for a change of files that another process is about to finish: it takes a few
// renames.
const settleWait = 2 * time.Second

// settle settles a change of files that was cut off, or waits for the process that is just making it.
func (c *Collection) settle() {
	for end := time.Now().Add(settleWait); ; time.Sleep(10 * time.Millisecond) {
		lock, err := c.Lock()
		if err == nil {
			lock.Close()
			return
		}
		what := fsx.Interrupted(c.Dir)
		if what == "" {
			return
		}
		if !errors.Is(err, fsx.ErrLocked) || time.Now().After(end) {
			c.Settled = append(c.Settled, fmt.Sprintf("%s was cut off and cannot be settled now: %v", upper(what), err))
			return
		}
	}
}

// settledSentence tells what became of a change that was cut off.
func settledSentence(what string, finished bool) string {
	if finished {
		return upper(what) + " had been cut off before its end; it is finished now."
	}
	return upper(what) + " had been cut off before its end, and a file was saved by another program since; it was taken back, nothing else was changed. Repeat it if it is still wanted."
}

// upper begins a sentence.
func upper(s string) string {
	if s == "" || s[0] < 'a' || s[0] > 'z' {
		return s
	}
	return string(s[0]-'a'+'A') + s[1:]
}

// sweep clears away the unfinished files of processes that are no more.
func (c *Collection) sweep() {
	dirs := []string{c.Dir, c.Path(MarksDir), c.Path(FormerDir), c.Path(PhotosDir)}
	if months, err := os.ReadDir(c.Path(PhotosDir)); err == nil {
		for _, m := range months {
			if m.IsDir() {
				dirs = append(dirs, c.Path(PhotosDir, m.Name()))
			}
		}
	}
	fsx.SweepTemps(dirs...)
}
