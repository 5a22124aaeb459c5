//go:build amd64

package killtest

import (
	"errors"
	"fmt"
	"os"
	"os/exec"
	"runtime"
	"strings"
	"syscall"
)

// changing are the system calls that change files (x86-64), with what names the file: a descriptor, or nothing where the
// call counts wherever it leads.
var changing = map[uint64]struct {
	name string
	fd   bool
}{
	1: {"write", true}, 18: {"pwrite64", true}, 20: {"writev", true}, 296: {"pwritev", true},
	74: {"fsync", true}, 75: {"fdatasync", true}, 77: {"ftruncate", true}, 285: {"fallocate", true}, 91: {"fchmod", true},
	76: {"truncate", false}, 82: {"rename", false}, 264: {"renameat", false}, 316: {"renameat2", false}, 86: {"link", false}, 265: {"linkat", false},
	87: {"unlink", false}, 263: {"unlinkat", false}, 83: {"mkdir", false}, 258: {"mkdirat", false}, 84: {"rmdir", false},
	85: {"creat", false}, 257: {"openat", false},
}

const (
	optionExitKill = 0x100000 // PTRACE_O_EXITKILL
	syscallStop    = syscall.SIGTRAP | 0x80
)

// Run starts cmd and ends it directly before its n-th change of a file below the folder under, counted over all its threads;
// n 0 lets it run to its end. calls are the names of the changes seen, in order; killed says that it was ended. Processes
// that it starts are not counted.
func Run(cmd *exec.Cmd, under string, n int) (calls []string, killed bool, err error) {
	runtime.LockOSThread() // a tracer is a thread
	defer runtime.UnlockOSThread()
	if cmd.SysProcAttr == nil {
		cmd.SysProcAttr = &syscall.SysProcAttr{}
	}
	cmd.SysProcAttr.Ptrace = true
	if err := cmd.Start(); err != nil {
		return nil, false, err
	}
	pid := cmd.Process.Pid
	var ws syscall.WaitStatus
	if _, err := syscall.Wait4(pid, &ws, 0, nil); err != nil {
		return nil, false, err
	}
	if !ws.Stopped() {
		return nil, false, fmt.Errorf("the program did not stop at its start: %v", ws)
	}
	if err := syscall.PtraceSetOptions(pid, syscall.PTRACE_O_TRACESYSGOOD|syscall.PTRACE_O_TRACECLONE|optionExitKill); err != nil {
		return nil, false, err
	}
	if err := syscall.PtraceSyscall(pid, 0); err != nil {
		return nil, false, err
	}
	known := map[int]bool{pid: true}
	inside := map[int]bool{}
	for {
		tid, err := syscall.Wait4(-1, &ws, syscall.WALL, nil)
		if errors.Is(err, syscall.EINTR) {
			continue
		}
		if err != nil {
			return calls, killed, err
		}
		switch {
		case ws.Exited() || ws.Signaled():
			if tid == pid {
				cmd.Wait() // its pipes; the process itself is gone
				return calls, killed, nil
			}
			continue
		case !ws.Stopped():
			continue
		}
		sig := ws.StopSignal()
		pass := 0
		switch {
		case sig == syscallStop:
			inside[tid] = !inside[tid]
			if inside[tid] && !killed {
				if name := change(tid, under); name != "" {
					calls = append(calls, name)
					if len(calls) == n {
						killed = true
						syscall.Kill(pid, syscall.SIGKILL)
						continue
					}
				}
			}
		case sig == syscall.SIGTRAP: // a new thread, or the program's start
		case sig == syscall.SIGSTOP && !known[tid]:
			known[tid] = true
		default:
			pass = int(sig)
		}
		syscall.PtraceSyscall(tid, pass) // a thread that is gone meanwhile is none to go on
	}
}

// change names the system call that a thread is about to make, if it changes a file below the folder.
func change(tid int, under string) string {
	var regs syscall.PtraceRegs
	if syscall.PtraceGetRegs(tid, &regs) != nil {
		return ""
	}
	c, ok := changing[regs.Orig_rax]
	if !ok || c.name == "openat" && regs.Rdx&syscall.O_CREAT == 0 {
		return ""
	}
	if c.fd {
		path, err := os.Readlink(fmt.Sprintf("/proc/%d/fd/%d", tid, regs.Rdi))
		if err != nil || !strings.HasPrefix(path, under) {
			return ""
		}
	}
	return c.name
}
