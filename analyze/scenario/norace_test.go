//go:build !race

package scenario_test

const raceDetector = false
