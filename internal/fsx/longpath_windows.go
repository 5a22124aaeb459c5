package fsx

import (
	"path/filepath"
	"strings"
)

// maxPlainPath is how long a path may be for calls that were not told otherwise: MAX_PATH, less room for a file in a folder.
const maxPlainPath = 248

// longPath writes a long path so that Windows takes it in calls that Go's own packages do not prepare:
// \\?\C:\... and, for a network folder, \\?\UNC\server\share\...
func longPath(path string) string {
	if len(path) < maxPlainPath || strings.HasPrefix(path, `\\?\`) || strings.HasPrefix(path, `\\.\`) {
		return path
	}
	abs, err := filepath.Abs(path)
	if err != nil {
		return path
	}
	if rest, ok := strings.CutPrefix(abs, `\\`); ok {
		return `\\?\UNC\` + rest
	}
	return `\\?\` + abs
}
