package photo

import (
	"errors"
	"strings"

	"phototrack/internal/gate"
	"phototrack/internal/record"
)

// The three ways in which a file is refused.
var (
	ErrUnreadable    = errors.New("not readable as a photo")
	ErrUnknownFormat = errors.New("not a format that is read")
	ErrTooLarge      = errors.New("larger than is opened")
)

// ReasonOf gives the row of the table of gates for an error of this package, with the figures as detail. An error of
// another origin counts as unreadable.
func ReasonOf(err error) record.Reason {
	code, base := gate.Unreadable, ErrUnreadable
	switch {
	case errors.Is(err, ErrUnknownFormat):
		code, base = gate.UnknownFormat, ErrUnknownFormat
	case errors.Is(err, ErrTooLarge):
		code, base = gate.TooLarge, ErrTooLarge
	}
	return record.Reason{Code: code, Detail: strings.TrimPrefix(err.Error(), base.Error()+": ")}
}
