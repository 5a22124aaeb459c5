package pipeline

import "syscall"

// childAttributes makes a worker die with its parent, and keeps the terminal's Ctrl-C for the parent alone, which then
// ends its workers in order.
func childAttributes() *syscall.SysProcAttr {
	return &syscall.SysProcAttr{Pdeathsig: syscall.SIGKILL, Setpgid: true}
}
