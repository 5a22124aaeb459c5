package pipeline

import (
	"os"
	"syscall"
	"unsafe"

	"golang.org/x/sys/windows"
)

// childAttributes gives a worker a console of its own that nobody sees: it keeps the terminal's Ctrl-C for the parent alone,
// which then ends its workers in order, and no window opens where the parent has none.
func childAttributes() *syscall.SysProcAttr {
	return &syscall.SysProcAttr{HideWindow: true, CreationFlags: windows.CREATE_NEW_PROCESS_GROUP | windows.CREATE_NO_WINDOW}
}

// hardLimit is how far above its bound a worker's memory can get at all, in per cent. Below that the bound is watched, and
// the photo refused with the reason; a decoder that is quicker than the watch gets no more memory and ends.
const hardLimit = 125

// bind puts a worker that has just started into a job object of its own: the system ends it when the last handle of the job
// is closed, which is when release is called or when the parent ends, however it ends. In the moment before, and where the
// system refuses a job, the end of its input is what ends a worker.
func bind(p *os.Process, maxBytes int64) (release func()) {
	job, err := windows.CreateJobObject(nil, nil)
	if err != nil {
		return func() {}
	}
	release = func() { windows.CloseHandle(job) }
	var limits windows.JOBOBJECT_EXTENDED_LIMIT_INFORMATION
	limits.BasicLimitInformation.LimitFlags = windows.JOB_OBJECT_LIMIT_KILL_ON_JOB_CLOSE
	if maxBytes > 0 {
		limits.BasicLimitInformation.LimitFlags |= windows.JOB_OBJECT_LIMIT_PROCESS_MEMORY
		limits.ProcessMemoryLimit = uintptr(maxBytes / 100 * hardLimit)
	}
	if _, err := windows.SetInformationJobObject(job, windows.JobObjectExtendedLimitInformation, uintptr(unsafe.Pointer(&limits)), uint32(unsafe.Sizeof(limits))); err != nil {
		return release
	}
	h, err := windows.OpenProcess(windows.PROCESS_SET_QUOTA|windows.PROCESS_TERMINATE, false, uint32(p.Pid))
	if err != nil {
		return release
	}
	defer windows.CloseHandle(h)
	windows.AssignProcessToJobObject(job, h)
	return release
}
