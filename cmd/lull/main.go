// Command lull reads a CAN log of a road test and a signal map, and finds every
// idle stop in it: when the engine was stopped, who asked for the restart, how
// long it took and how sure that is.
package main

import (
	"os"
	"runtime/debug"
)

func main() {
	if os.Getenv("GOGC") == "" {
		// Analysing makes little garbage: to collect it sooner costs no time that can
		// be measured and keeps the largest logs' memory down. Beside the rest, as it
		// waits for a collection that has begun.
		go debug.SetGCPercent(60)
	}
	os.Exit(run(os.Args[1:], newConsole()))
}
