//go:build !unix

package fsx

import "os"

// alive says whether a process of this computer still runs. Where the system cannot be asked, only this process is known
// to.
func alive(pid int) bool {
	if pid <= 0 {
		return false
	}
	p, err := os.FindProcess(pid) // on Windows this opens the process, and fails where there is none
	if err != nil {
		return false
	}
	p.Release()
	return true
}
