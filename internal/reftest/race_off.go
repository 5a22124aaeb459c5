//go:build !race

package reftest

// RaceDetector says that the tests were built with the race detector.
const RaceDetector = false
