//go:build !unix

package fsx

// Held says whether somebody holds the lock at path just now: here that is found out by trying to take it.
func Held(path string) bool {
	l, err := AcquireLock(path)
	if err != nil {
		return true
	}
	l.Close()
	return false
}
