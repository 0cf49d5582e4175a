//go:build !race

package recording

// raceDetector tells that the tests run many times slower.
const raceDetector = false
