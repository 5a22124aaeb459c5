//go:build !linux && !windows

package pipeline

import "syscall"

// childAttributes has nothing to add on other systems: a worker ends when its input does.
func childAttributes() *syscall.SysProcAttr { return nil }
