//go:build race

package onelog_test

const raceDetector = true
