//go:build !windows

package series

// journalMode is WAL everywhere: where a folder is on a network, the system refuses it.
func journalMode(string) string { return "WAL" }
