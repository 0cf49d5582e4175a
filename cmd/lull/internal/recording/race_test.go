//go:build race

package recording

// raceDetector tells that the tests run many times slower. What only compares text
// is then left to a plain run; what runs goroutines is not.
const raceDetector = true
