package fsx

import (
	"bytes"
	"errors"
	"io"
	"os"
	"time"
)

// updateTries is how often Update begins anew when another program saves the file at the same moment.
const updateTries = 50

// halfSaved is how long a text without a last line end, or without any text, may be the beginning of another program's
// save.
const halfSaved = 200 * time.Millisecond

// Update changes a text file that other programs edit as well: fresh makes the new content of the old one, nil where there
// is no file. The whole content is put in place at once, so that an interruption leaves the old file. Where another
// program saves the file meanwhile, fresh is asked again with what it saved.
func Update(path string, fresh func(old []byte) ([]byte, error)) error {
	for try := 0; ; try++ {
		old, err := ReadSettled(path)
		if err != nil && !errors.Is(err, os.ErrNotExist) {
			return Explain(path, err)
		}
		next, makeErr := fresh(old)
		if makeErr != nil {
			return makeErr
		}
		if err != nil {
			err = PlaceNew(path, 0o644, func(w io.Writer) error {
				_, err := w.Write(next)
				return err
			})
		} else {
			err = ReplaceSame(path, old, next)
		}
		if again := errors.Is(err, ErrNotSame) || errors.Is(err, os.ErrExist) || errors.Is(err, os.ErrNotExist); !again {
			return err
		}
		if try >= updateTries {
			return &HintError{path + " is being saved by another program again and again, so nothing was written", "Close the file there and try again.", err}
		}
		time.Sleep(time.Duration(try) * time.Millisecond)
	}
}

// ReadSettled reads a text file that another program may be saving: what looks like half a text and is new is read again.
// What it gives is nil only with an error.
func ReadSettled(path string) ([]byte, error) {
	for {
		data, err := os.ReadFile(path)
		if err != nil || len(data) > 0 && data[len(data)-1] == '\n' {
			return data, err
		}
		st, err := os.Stat(path)
		if err != nil {
			return nil, err
		}
		if age := time.Since(st.ModTime()); age < 0 || age > halfSaved {
			return data, nil
		}
		time.Sleep(halfSaved / 10)
	}
}

// AppendLine adds lines to the text file at path and keeps every byte that is there (see Appended and Update). A missing
// file is made with header as its first line.
func AppendLine(path, header string, lines ...string) error {
	return Update(path, func(old []byte) ([]byte, error) { return Appended(old, header, lines...), nil })
}

// Appended is the text old with lines after it: a missing line end is added first, and the text's own line end (LF or
// CRLF) is used. An empty text begins with header.
func Appended(old []byte, header string, lines ...string) []byte {
	end := "\n"
	if bytes.Contains(old, []byte("\r\n")) {
		end = "\r\n"
	}
	out := append([]byte(nil), old...)
	if len(bytes.TrimPrefix(out, []byte("\ufeff"))) == 0 {
		out = append(out, header+end...)
	}
	if n := len(out); out[n-1] != '\n' {
		out = append(out, end...)
	}
	for _, l := range lines {
		out = append(out, l+end...)
	}
	return out
}
