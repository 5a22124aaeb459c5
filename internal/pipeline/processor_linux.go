package pipeline

import (
	"time"

	"golang.org/x/sys/unix"
)

// processorTime is how much of the processors a process has had so far, with all its threads; ok says that the system tells.
func processorTime(pid int) (used time.Duration, ok bool) {
	const wholeProcess = 2 // CPUCLOCK_SCHED of the kernel's posix-timers.h: the clock of a process is ~pid << 3 | this (clock_getcpuclockid(3))
	var ts unix.Timespec
	if err := unix.ClockGettime(int32(^pid<<3|wholeProcess), &ts); err != nil {
		return 0, false
	}
	return time.Duration(ts.Nano()), true
}
