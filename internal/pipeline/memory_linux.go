package pipeline

import (
	"fmt"
	"os"
	"strings"
)

// residentBytes is the memory that a process holds at this moment, 0 where that cannot be told.
func residentBytes(pid int) int64 {
	data, err := os.ReadFile(fmt.Sprintf("/proc/%d/statm", pid))
	if err != nil {
		return 0
	}
	var size, resident int64
	if _, err := fmt.Sscan(string(data), &size, &resident); err != nil {
		return 0
	}
	return resident * int64(os.Getpagesize())
}

// availableBytes is the memory that programs can still take without swapping, 0 where that cannot be told.
func availableBytes() int64 {
	data, err := os.ReadFile("/proc/meminfo")
	if err != nil {
		return 0
	}
	_, rest, ok := strings.Cut(string(data), "MemAvailable:")
	if !ok {
		return 0
	}
	var kB int64
	if _, err := fmt.Sscan(rest, &kB); err != nil {
		return 0
	}
	return kB * 1024
}

// offerToBeKilled makes this process the one that the system ends first when memory runs out: the supervisor, which
// holds the store, survives and refuses the photo.
func offerToBeKilled() {
	os.WriteFile("/proc/self/oom_score_adj", []byte("800"), 0) // where it is not allowed, the system chooses by itself
}
