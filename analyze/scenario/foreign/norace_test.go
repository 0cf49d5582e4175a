//go:build !race

package foreign

const raceDetector = false
