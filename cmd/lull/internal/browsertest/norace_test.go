//go:build !race

package browsertest

// raceDetector tells that the tests run many times slower.
const raceDetector = false
