//go:build !race

package main

// raceDetector tells that the tests run many times slower.
const raceDetector = false
