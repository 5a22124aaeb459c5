package pipeline

import (
	"time"

	"golang.org/x/sys/windows"
)

// processorTime is how much of the processors a process has had so far, with all its threads; ok says that the system tells.
func processorTime(pid int) (used time.Duration, ok bool) {
	h, err := windows.OpenProcess(windows.PROCESS_QUERY_LIMITED_INFORMATION, false, uint32(pid))
	if err != nil {
		return 0, false
	}
	defer windows.CloseHandle(h)
	var begun, ended, kernel, user windows.Filetime
	if err := windows.GetProcessTimes(h, &begun, &ended, &kernel, &user); err != nil {
		return 0, false
	}
	return ticks(kernel) + ticks(user), true
}

// ticks is a span of time, which Windows counts in steps of 100 ns. Filetime's own method takes it for a date.
func ticks(f windows.Filetime) time.Duration {
	return time.Duration(int64(f.HighDateTime)<<32|int64(f.LowDateTime)) * 100
}
