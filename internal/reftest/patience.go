package reftest

import "time"

// raceSlowdown is how much longer a program may take under the race detector: 2 to 20 times (go.dev/doc/articles/race_detector,
// Runtime Overhead).
const raceSlowdown = 20

// Patience is a limit of time for the program as it is built for use; under the race detector (RaceDetector) it is as much longer.
func Patience(limit time.Duration) time.Duration {
	if RaceDetector {
		return raceSlowdown * limit
	}
	return limit
}
