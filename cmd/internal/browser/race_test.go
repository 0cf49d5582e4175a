//go:build race

package browser

const raceDetector = true
