//go:build race

package analyze_test

const raceDetector = true
