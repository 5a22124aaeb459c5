//go:build amd64

package killtest

import (
	"encoding/binary"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"runtime"
	"strings"
	"syscall"
)

// call is a system call that can change a file.
type call struct {
	name string
	by   way
	arg  int // the argument that is the descriptor or the flags
}

// way says how to find out whether a call changes a file below the folder.
type way int

const (
	byPath    way = iota // it counts wherever its path leads
	byFD                 // by the descriptor
	byFlags              // by its path, where it is asked to make or empty a file
	byFlagsAt            // flags in memory, as openat2 has them
	byRequest            // an ioctl, by its descriptor where it asks for a clone
)

// changing are the system calls of x86-64 that change files, their names or what is known about them.
var changing = map[uint64]call{
	1: {"write", byFD, 0}, 18: {"pwrite64", byFD, 0}, 20: {"writev", byFD, 0}, 296: {"pwritev", byFD, 0}, 328: {"pwritev2", byFD, 0},
	40: {"sendfile", byFD, 0}, 275: {"splice", byFD, 2}, 326: {"copy_file_range", byFD, 2}, 16: {"ioctl", byRequest, 0},
	74: {"fsync", byFD, 0}, 75: {"fdatasync", byFD, 0}, 77: {"ftruncate", byFD, 0}, 285: {"fallocate", byFD, 0},
	91: {"fchmod", byFD, 0}, 93: {"fchown", byFD, 0}, 76: {"truncate", byPath, 0}, 90: {"chmod", byPath, 0}, 92: {"chown", byPath, 0},
	94: {"lchown", byPath, 0}, 260: {"fchownat", byPath, 0}, 268: {"fchmodat", byPath, 0}, 452: {"fchmodat2", byPath, 0},
	82: {"rename", byPath, 0}, 264: {"renameat", byPath, 0}, 316: {"renameat2", byPath, 0}, 86: {"link", byPath, 0}, 265: {"linkat", byPath, 0},
	88: {"symlink", byPath, 0}, 266: {"symlinkat", byPath, 0}, 133: {"mknod", byPath, 0}, 259: {"mknodat", byPath, 0},
	87: {"unlink", byPath, 0}, 263: {"unlinkat", byPath, 0}, 83: {"mkdir", byPath, 0}, 258: {"mkdirat", byPath, 0}, 84: {"rmdir", byPath, 0},
	132: {"utime", byPath, 0}, 235: {"utimes", byPath, 0}, 261: {"futimesat", byPath, 0}, 280: {"utimensat", byPath, 0},
	85: {"creat", byPath, 0}, 2: {"open", byFlags, 1}, 257: {"openat", byFlags, 2}, 437: {"openat2", byFlagsAt, 2},
}

const (
	making         = syscall.O_CREAT | syscall.O_TRUNC // flags of open with which it changes something
	ficlone        = 0x40049409                        // FICLONE and FICLONERANGE, requests of ioctl
	ficloneRange   = 0x4020940d
	optionExitKill = 0x100000 // PTRACE_O_EXITKILL
	syscallStop    = syscall.SIGTRAP | 0x80
	ownOnly        = 0x20000000 // __WNOTHREAD: of the children, only those of this thread; others may be waited for meanwhile
	atEntry        = 9          // AT_ENTRY of the auxiliary vector
	breakpoint     = 0xcc
)

// Run starts cmd and ends it directly before its n-th change of a file below the folder under, counted over all its threads;
// n 0 lets it run to its end. calls are the names of the changes seen, in order; killed says that it was ended. Processes
// that it starts are not counted, nor is what is done before the program begins (loading its libraries changes nothing).
// Several may run at once.
func Run(cmd *exec.Cmd, under string, n int) (calls []string, killed bool, err error) {
	calls, killed, _, err = trace(cmd, under, n, func() bool { return false })
	return calls, killed, err
}

// Meanwhile starts cmd, holds it directly before its n-th change, has something else done, and lets it run to its end: what a
// program does when another one comes in between. exit is its exit code; met says that it came to its n-th change.
func Meanwhile(cmd *exec.Cmd, under string, n int, other func()) (calls []string, met bool, exit int, err error) {
	return trace(cmd, under, n, func() bool { other(); return true })
}

// trace is both: before the n-th change at is asked whether the program may go on.
func trace(cmd *exec.Cmd, under string, n int, at func() bool) (calls []string, met bool, exit int, err error) {
	runtime.LockOSThread() // a tracer is a thread
	defer runtime.UnlockOSThread()
	pid, err := startTraced(cmd)
	if err != nil {
		return nil, false, 0, err
	}
	t := tracer{under: under, n: n, at: at, pid: pid, known: map[int]bool{pid: true}, inside: map[int]bool{}}
	for {
		var ws syscall.WaitStatus
		tid, err := syscall.Wait4(-1, &ws, syscall.WALL|ownOnly, nil)
		switch {
		case errors.Is(err, syscall.EINTR):
		case err != nil:
			return t.calls, t.met, 0, err
		case ws.Exited() || ws.Signaled():
			if tid == pid {
				cmd.Wait() // its pipes; the process itself is gone
				return t.calls, t.met, ws.ExitStatus(), nil
			}
		case ws.Stopped():
			if pass, on := t.stopped(tid, ws.StopSignal()); on {
				syscall.PtraceSyscall(tid, pass) // a thread that is gone meanwhile is none to go on
			}
		}
	}
}

// startTraced starts cmd and lets it come to its own first instruction, from where on it stops at every system call.
func startTraced(cmd *exec.Cmd) (pid int, err error) {
	if cmd.SysProcAttr == nil {
		cmd.SysProcAttr = &syscall.SysProcAttr{}
	}
	cmd.SysProcAttr.Ptrace = true
	if err := cmd.Start(); err != nil {
		return 0, err
	}
	pid = cmd.Process.Pid
	var ws syscall.WaitStatus
	if _, err := syscall.Wait4(pid, &ws, ownOnly, nil); err != nil {
		return pid, err
	}
	if !ws.Stopped() {
		return pid, fmt.Errorf("the program did not stop at its start: %v", ws)
	}
	if err := syscall.PtraceSetOptions(pid, syscall.PTRACE_O_TRACESYSGOOD|syscall.PTRACE_O_TRACECLONE|optionExitKill); err != nil {
		return pid, err
	}
	if err := begin(pid); err != nil {
		return pid, err
	}
	return pid, syscall.PtraceSyscall(pid, 0)
}

// tracer follows the threads of a program.
type tracer struct {
	under string
	n     int
	at    func() bool
	pid   int

	known  map[int]bool // threads that have stopped for the first time
	inside map[int]bool // threads within a system call
	calls  []string
	met    bool // the n-th change was come to
	ended  bool
}

// stopped looks at a thread that has stopped: the signal to pass on to it, and whether it goes on.
func (t *tracer) stopped(tid int, sig syscall.Signal) (pass int, on bool) {
	switch {
	case sig == syscallStop:
		t.inside[tid] = !t.inside[tid]
		return 0, !t.inside[tid] || t.ended || t.mayCall(tid)
	case sig == syscall.SIGTRAP: // a new thread, or the program's start
		return 0, true
	case sig == syscall.SIGSTOP && !t.known[tid]:
		t.known[tid] = true
		return 0, true
	}
	return int(sig), true
}

// mayCall notes the system call that a thread stands before, where it is a change; before the n-th it asks, and ends the program where the
// answer is no.
func (t *tracer) mayCall(tid int) bool {
	name := change(tid, t.under)
	if name == "" {
		return true
	}
	t.calls = append(t.calls, name)
	if len(t.calls) != t.n {
		return true
	}
	t.met = true
	if t.at() {
		return true
	}
	t.ended = true
	syscall.Kill(t.pid, syscall.SIGKILL)
	return false
}

// begin lets a program that stands at its start load its libraries, a few hundred of them here, and come to its first own
// instruction: stopping at each of the thousands of system calls till there takes as long as the rest.
func begin(pid int) error {
	entry, err := entryOf(pid)
	if err != nil {
		return err
	}
	first := make([]byte, 1)
	if _, err := syscall.PtracePeekText(pid, entry, first); err != nil {
		return err
	}
	if _, err := syscall.PtracePokeText(pid, entry, []byte{breakpoint}); err != nil {
		return err
	}
	var ws syscall.WaitStatus
	for sig := 0; ; sig = int(ws.StopSignal()) {
		if err := syscall.PtraceCont(pid, sig); err != nil {
			return err
		}
		if _, err := syscall.Wait4(pid, &ws, ownOnly, nil); err != nil {
			return err
		}
		if !ws.Stopped() {
			return fmt.Errorf("the program ended before it began: %v", ws)
		}
		if ws.StopSignal() == syscall.SIGTRAP {
			break
		}
	}
	var regs syscall.PtraceRegs
	if err := syscall.PtraceGetRegs(pid, &regs); err != nil {
		return err
	}
	if regs.Rip != uint64(entry)+1 {
		return fmt.Errorf("the program stopped at %x, not at its entry %x", regs.Rip, entry)
	}
	if _, err := syscall.PtracePokeText(pid, entry, first); err != nil {
		return err
	}
	regs.Rip--
	return syscall.PtraceSetRegs(pid, &regs)
}

// entryOf is the address of a program's first instruction.
func entryOf(pid int) (uintptr, error) {
	data, err := os.ReadFile(fmt.Sprintf("/proc/%d/auxv", pid))
	if err != nil {
		return 0, err
	}
	for ; len(data) >= 16; data = data[16:] {
		if binary.LittleEndian.Uint64(data) == atEntry {
			return uintptr(binary.LittleEndian.Uint64(data[8:])), nil
		}
	}
	return 0, errors.New("the system does not say where the program begins")
}

// change names the system call that a thread is about to make, if it changes a file below the folder.
func change(tid int, under string) string {
	var regs syscall.PtraceRegs
	if syscall.PtraceGetRegs(tid, &regs) != nil {
		return ""
	}
	c, ok := changing[regs.Orig_rax]
	if !ok {
		return ""
	}
	args := [3]uint64{regs.Rdi, regs.Rsi, regs.Rdx}
	switch c.by {
	case byFlags:
		if args[c.arg]&making == 0 {
			return ""
		}
	case byFlagsAt:
		how := make([]byte, 8)
		if _, err := syscall.PtracePeekData(tid, uintptr(args[c.arg]), how); err != nil || binary.LittleEndian.Uint64(how)&making == 0 {
			return ""
		}
	case byFD, byRequest:
		if c.by == byRequest && args[1] != ficlone && args[1] != ficloneRange {
			return ""
		}
		path, err := os.Readlink(fmt.Sprintf("/proc/%d/fd/%d", tid, int32(args[c.arg])))
		if err != nil || !strings.HasPrefix(path, under) {
			return ""
		}
	}
	return c.name
}
