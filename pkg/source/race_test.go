//go:build race

package source

// raceEnabled tells that this runs under the race detector, where it takes longer.
const raceEnabled = true
