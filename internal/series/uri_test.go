package series

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// The forms are those of SQLite's documentation, "Uniform Resource Identifiers", 3.2 and 3.5.
func TestFilesAreNamedForSQLite(t *testing.T) {
	for path, want := range map[string]string{
		"/home/fred/data.db":                     "file:///home/fred/data.db",
		"C:/Documents and Settings/fred/data.db": "file:///C:/Documents%20and%20Settings/fred/data.db",
		"//server/share/a?b#c%.db":               "file:////server/share/a%3Fb%23c%25.db",
		"/Gewächshaus/x.db":                      "file:///Gew%C3%A4chshaus/x.db",
	} {
		assert.Equal(t, want, fileURI(path))
	}
}
