//go:build race

package oracle

// RaceDetector reports whether the race detector is on, under which tests run many times
// slower.
const RaceDetector = true
