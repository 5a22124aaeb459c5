package desk

import (
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"phototrack/internal/drawnshelf"
	"phototrack/internal/golden"
)

// TestPagesAsKept compares the desk's pages of a drawn collection with kept ones. What differs from run to run (folder, address, token, day)
// is named instead.
func TestPagesAsKept(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "shelf")
	last := drawnshelf.Make(t, dir)
	b := serveDir(t, dir, false)
	same := strings.NewReplacer(b.dir, "FOLDER", b.base, "ADDRESS", b.desk.token, "TOKEN", time.Now().Format(time.DateOnly), "TODAY")
	for name, path := range map[string]string{"month": "/?month=" + drawnshelf.LastMonth, "plant": "/plant/1", "photo": "/photo/" + last, "unsorted": "/unsorted", "add": "/add", "notes": "/notes",
		"plates": "/plates?plant=1", "compare": "/compare?plant=1", "corrections": "/corrections", "start": "/start", "reports": "/reports", "print": "/print", "rules": "/rules", "none": "/nowhere"} {
		code, page := b.get(t, path)
		assert.Contains(t, []int{200, 404}, code, name)
		golden.Check(t, name+".txt", golden.Page(same.Replace(page)))
	}
	b.settle(t)
}
