package desk

import (
	"errors"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"phototrack/internal/collection"
	"phototrack/internal/fsx"
	"phototrack/internal/words"
)

// refusal is an error about an entry as the form shows it: beside the field that its words name. fields give the form's
// field for a word; the longest word that is found rules. ok is false for an error that is not the entry's fault.
func refusal(err error, fields map[string]string) (out wrong, ok bool) {
	var hint *fsx.HintError
	if !errors.As(err, &hint) || errors.Is(err, fsx.ErrLocked) || errors.Is(err, collection.ErrStale) {
		return out, false
	}
	out = wrong{What: words.Upper(err.Error()), Hint: fsx.HintOf(err)}
	words := make([]string, 0, len(fields))
	for w := range fields {
		words = append(words, w)
	}
	slices.SortFunc(words, func(a, b string) int { return len(b) - len(a) })
	text := strings.ToLower(err.Error())
	for _, w := range words {
		if strings.Contains(text, w) {
			out.Field = fields[w]
			break
		}
	}
	return out, true
}

// again shows a page whose entry was refused, with what was typed.
func (d *Desk) again(w http.ResponseWriter, s *snapshot, l sheet) error {
	d.render(w, http.StatusUnprocessableEntity, l.template, d.pageOf(s, l), l.body)
	return nil
}

// typed is what a form held.
func typed(f url.Values) map[string]string {
	out := map[string]string{}
	for k, v := range f {
		if k != tokenField && len(v) > 0 {
			out[k] = v[0]
		}
	}
	return out
}
