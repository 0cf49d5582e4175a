//go:build race

package source

// raceEnabled reports whether the race detector is on, which slows tests down.
const raceEnabled = true
