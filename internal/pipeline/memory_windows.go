package pipeline

import (
	"unsafe"

	"golang.org/x/sys/windows"
)

// What golang.org/x/sys lacks of the system's questions on memory (psapi.h, sysinfoapi.h).
var (
	kernel32             = windows.NewLazySystemDLL("kernel32.dll")
	getProcessMemoryInfo = kernel32.NewProc("K32GetProcessMemoryInfo")
	globalMemoryStatusEx = kernel32.NewProc("GlobalMemoryStatusEx")
)

// processMemoryCounters is PROCESS_MEMORY_COUNTERS.
type processMemoryCounters struct {
	size           uint32
	pageFaults     uint32
	peakWorkingSet uintptr
	workingSet     uintptr
	quotas         [4]uintptr
	pagefile       uintptr // what is committed: the working set shrinks when Windows likes, this does not
	peakPagefile   uintptr
}

// residentBytes is the memory that a process holds at this moment, 0 where that cannot be told.
func residentBytes(pid int) int64 {
	h, err := windows.OpenProcess(windows.PROCESS_QUERY_LIMITED_INFORMATION|windows.PROCESS_VM_READ, false, uint32(pid))
	if err != nil {
		return 0
	}
	defer windows.CloseHandle(h)
	c := processMemoryCounters{size: uint32(unsafe.Sizeof(processMemoryCounters{}))}
	if ok, _, _ := getProcessMemoryInfo.Call(uintptr(h), uintptr(unsafe.Pointer(&c)), uintptr(c.size)); ok == 0 {
		return 0
	}
	return int64(max(c.workingSet, c.pagefile))
}

// memoryStatus is MEMORYSTATUSEX.
type memoryStatus struct {
	size, load                  uint32
	physical, availablePhysical uint64
	pagefile, availablePagefile uint64
	virtual, availableVirtual   uint64
	availableExtended           uint64
}

// availableBytes is the memory that programs can still take without swapping, 0 where that cannot be told.
func availableBytes() int64 {
	s := memoryStatus{size: uint32(unsafe.Sizeof(memoryStatus{}))}
	if ok, _, _ := globalMemoryStatusEx.Call(uintptr(unsafe.Pointer(&s))); ok == 0 {
		return 0
	}
	return int64(min(s.availablePhysical, s.availablePagefile))
}

// offerToBeKilled has no counterpart: where memory runs out, Windows refuses it to who asks, and ends nobody.
func offerToBeKilled() {}
