package series

import (
	"path/filepath"
	"strings"

	"golang.org/x/sys/windows"
)

// journalMode is WAL on a disk of this computer. On a network folder it is the older journal: write-ahead mode needs memory
// that is shared by all who have the store open, which two computers do not have, and Windows does not say so (SQLite,
// "Write-Ahead Logging", section 1).
func journalMode(path string) string {
	if isNetworkFolder(path) {
		return "DELETE"
	}
	return "WAL"
}

func isNetworkFolder(path string) bool {
	volume := filepath.VolumeName(path)
	if rest, ok := strings.CutPrefix(volume, `\\?\`); ok && len(rest) == 2 {
		volume = rest
	}
	if strings.HasPrefix(volume, `\\`) {
		return true
	}
	root, err := windows.UTF16PtrFromString(volume + `\`)
	return err == nil && windows.GetDriveType(root) == windows.DRIVE_REMOTE
}
