// Command lull reads a CAN log of a road test and a signal map, and finds every
// idle stop in it: when the engine was stopped, who asked for the restart, how
// long it took and how sure that is.
package main

import "os"

func main() { os.Exit(run(os.Args[1:], newConsole())) }
