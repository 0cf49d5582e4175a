//go:build race

package browsertest

// raceDetector tells that the tests run many times slower. The browser and lull are
// programs of their own, in which it finds nothing.
const raceDetector = true
