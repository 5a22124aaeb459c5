//go:build !linux && !windows

package pipeline

import "time"

// processorTime is not known on this system: a photo's time is that of the clock.
func processorTime(int) (used time.Duration, ok bool) { return 0, false }
