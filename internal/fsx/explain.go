package fsx

import (
	"errors"
	"os"
	"path/filepath"
)

// cause is what a person can do something about, whatever the system calls it.
type cause int

const (
	causeOther cause = iota
	causeFull
	causeReadOnlyDisk
	causeHeld
	causePermission
	causeNoAnswer
	causeName
	causeAbsent
)

// Explain wraps what the system says about path with what a person can do about it. Nil stays nil, and an error
// that has its advice already is returned as it is.
func Explain(path string, err error) error {
	if err == nil {
		return nil
	}
	var h *HintError
	if errors.As(err, &h) {
		return err
	}
	dir := filepath.Dir(path)
	switch causeOf(err) {
	case causeFull:
		return &HintError{"the disk is full: " + path + " could not be written", "Free some space and run the same command again; nothing that was there is lost.", err}
	case causeReadOnlyDisk:
		return &HintError{"the folder " + dir + " is on a disk that can only be read", "Copy the collection to a disk that can be written, or mount this one for writing.", err}
	case causeHeld:
		return &HintError{path + " is held open by another program", "Close it there (a spreadsheet locks the file that it shows; a virus scanner or a sync program lets go after a while) and try again; the file is as it was.", err}
	case causePermission:
		return &HintError{"no permission for " + path, "Check who owns the folder " + dir + "; you need the right to write in it.", err}
	case causeNoAnswer:
		return &HintError{"the disk or network folder that holds " + path + " does not answer", "Connect it again and run the same command again; what was stored is kept.", err}
	case causeName:
		return &HintError{"the system does not take the name " + path, "Use a shorter name, without any of the characters < > : \" / \\ | ? *, and without a dot or a space at its end.", err}
	case causeAbsent:
		return &HintError{path + " does not exist", "Check the name, and that the disk or network folder is connected.", said{err}}
	}
	return err
}

// causeOf tells the causes that all systems name alike, after the system's own.
func causeOf(err error) cause {
	switch c := systemCause(err); {
	case c != causeOther:
		return c
	case errors.Is(err, os.ErrPermission):
		return causePermission
	case errors.Is(err, os.ErrNotExist):
		return causeAbsent
	}
	return causeOther
}

// said is a cause that the sentence before it has told wholly: what the system calls it would only repeat it in its own
// words.
type said struct{ error }

// Unwrap gives the cause.
func (s said) Unwrap() error { return s.error }

func isSaid(err error) bool {
	_, ok := err.(said)
	return ok
}
