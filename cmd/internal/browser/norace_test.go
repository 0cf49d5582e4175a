//go:build !race

package browser

// raceDetector tells that the tests run many times slower.
const raceDetector = false
