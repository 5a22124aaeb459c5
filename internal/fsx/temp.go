package fsx

import (
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
)

// tempPrefix marks our own unfinished files, so that a later clean-up touches nothing else.
const tempPrefix = ".phototrack-"

// tempSuffix ends the names of unfinished files.
const tempSuffix = ".tmp"

// IsTemp says whether a base name is that of an unfinished file of this program.
func IsTemp(name string) bool {
	return strings.HasPrefix(name, tempPrefix) && strings.HasSuffix(name, tempSuffix)
}

// TempPattern is the pattern for os.CreateTemp and os.MkdirTemp of this process's unfinished files.
func TempPattern() string { return fmt.Sprintf("%s%d-*%s", tempPrefix, os.Getpid(), tempSuffix) }

// SweepTemps removes the unfinished files that processes which are no more have left in folders. What cannot be removed
// stays for the next one to try.
func SweepTemps(dirs ...string) {
	for _, dir := range dirs {
		entries, err := os.ReadDir(dir)
		if err != nil {
			continue
		}
		for _, e := range entries {
			if IsTemp(e.Name()) && !alive(tempOwner(e.Name())) {
				os.RemoveAll(filepath.Join(dir, e.Name()))
			}
		}
	}
}

// tempOwner is the process that made an unfinished file, 0 where the name does not say.
func tempOwner(name string) int {
	pid, _, _ := strings.Cut(strings.TrimPrefix(name, tempPrefix), "-")
	n, err := strconv.Atoi(pid)
	if err != nil {
		return 0
	}
	return n
}
