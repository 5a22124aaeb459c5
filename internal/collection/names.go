package collection

import (
	"path/filepath"
	"regexp"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"phototrack/internal/record"
)

// maxNameBytes keeps an archived name, with its hash before it, within what every file system takes (255 bytes).
const maxNameBytes = 150

// reserved are names that Windows gives to devices, whatever comes after a dot (Microsoft, "Naming Files, Paths, and
// Namespaces"). A collection may move to another computer, so they are given to no file on any.
var reserved = regexp.MustCompile(`^(?i:CON|PRN|AUX|NUL|CONIN\$|CONOUT\$|(?:COM|LPT)[0-9¹²³])[ ]*(?:\.|$)`)

// SafeName makes a file name that any system takes, from one that came with a photo: no path, no control or reserved
// characters, no leading dot, not too long; the extension stays.
func SafeName(name string) string {
	name = strings.ToValidUTF8(name[strings.LastIndexAny(name, `/\`)+1:], "_")
	name = strings.Map(func(r rune) rune {
		if unicode.IsControl(r) || strings.ContainsRune(`<>:"|?*`, r) || unicode.Is(unicode.Cf, r) {
			return '_'
		}
		return r
	}, name)
	name = strings.TrimRight(strings.TrimLeft(name, "."), ". ")
	if name == "" {
		name = "photo"
	}
	if reserved.MatchString(name) {
		name = "_" + name
	}
	ext := filepath.Ext(name)
	if len(ext) > 10 {
		ext = ""
	}
	if stem := strings.TrimSuffix(name, ext); len(name) > maxNameBytes {
		stem = stem[:maxNameBytes-len(ext)]
		for !utf8.ValidString(stem) {
			stem = stem[:len(stem)-1]
		}
		name = stem + ext
	}
	return name
}

// A calendar day with the same mark (or none) between its parts, not inside a longer run of digits; then, for the
// time of day, what cameras and chat programs write.
var (
	dayInName = regexp.MustCompile(`(?:^|[^0-9])((?:19|20)\d{2})([-_. ]?)(\d{2})([-_. ]?)(\d{2})`)
	timeAfter = regexp.MustCompile(`^(?:[-_ T.]|[-_ ]at[-_ ]|, )?(\d{2})([-_.:h]?)(\d{2})([-_.:m]?)(\d{2})(?:\d{3})?(?:[^0-9]|$)`)
	hashStart = regexp.MustCompile(`^[0-9a-f]{12}-`)
	threeDirs = regexp.MustCompile(`(?:^|/)((?:19|20)\d{2})/(\d{2})/(\d{2})(?:/|$)`)
)

// DateFromName finds a full calendar day in a file's name (2026-05-14, 20260514_101530, IMG-20260514-WA0003), with
// the time where it follows, else in the folders above it, the nearest first (also 2026/05/14). A month alone is no
// date, and a name with two different days has none. Give the path within the folder that was searched, or the
// folders above it count as well.
func DateFromName(path string) (record.Stamp, bool) {
	path = filepath.ToSlash(path)
	dir, name := "", path
	if i := strings.LastIndexByte(path, '/'); i >= 0 {
		dir, name = path[:i], path[i+1:]
	}
	if hash := hashStart.FindString(name); strings.Trim(hash, "0123456789-") != "" {
		name = name[len(hash):] // an archived original: figures of its hash are no date
	}
	if t, ok := dateIn(name, true); ok {
		return record.Stamp{Time: t, Source: "name"}, true
	}
	parts := strings.Split(dir, "/")
	for i := len(parts) - 1; i >= 0; i-- {
		if t, ok := dateIn(parts[i], false); ok {
			return record.Stamp{Time: t, Source: "folder"}, true
		}
	}
	if m := threeDirs.FindStringSubmatch(dir); m != nil {
		if t, err := time.Parse("2006-01-02", m[1]+"-"+m[2]+"-"+m[3]); err == nil {
			return record.Stamp{Time: t, Source: "folder"}, true
		}
	}
	return record.Stamp{}, false
}

// dateIn finds the one day that a name holds.
func dateIn(name string, withTime bool) (time.Time, bool) {
	var found time.Time
	for pos := 0; pos < len(name); {
		m := dayInName.FindStringSubmatchIndex(name[pos:])
		if m == nil {
			break
		}
		t, ok := dayAt(name[pos:], m, withTime)
		switch {
		case ok && !found.IsZero() && t.Format(time.DateOnly) != found.Format(time.DateOnly):
			return time.Time{}, false
		case ok && found.IsZero():
			found = t
		}
		pos += m[3] // go on after the year: what follows may be a day of its own
	}
	return found, !found.IsZero()
}

// dayAt checks one match of dayInName and reads the time of day after it.
func dayAt(s string, m []int, withTime bool) (time.Time, bool) {
	if s[m[4]:m[5]] != s[m[8]:m[9]] {
		return time.Time{}, false
	}
	t, err := time.Parse("20060102", s[m[2]:m[3]]+s[m[6]:m[7]]+s[m[10]:m[11]])
	if err != nil {
		return time.Time{}, false
	}
	rest := s[m[1]:]
	clock := timeAfter.FindStringSubmatch(rest)
	if rest != "" && rest[0] >= '0' && rest[0] <= '9' && clock == nil {
		return time.Time{}, false // the day is the beginning of a longer number
	}
	if withTime && clock != nil {
		if c, err := time.Parse("150405", clock[1]+clock[3]+clock[5]); err == nil {
			t = t.Add(c.Sub(c.Truncate(24 * time.Hour)))
		}
	}
	return t, true
}
