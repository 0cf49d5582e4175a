// Package analyze turns the frames of a log into facts: the stops of the engine
// and what restarted it, each instant with the bounds that the bus leaves it,
// standstills and why the engine ran on in them, starter operations, modules that
// fell silent, and what of all this a reader should look at.
//
// It never reads a log's text, opens a file or writes one; it never makes up a
// number: what cannot be measured is absent and says why, and no interval is
// narrower than the samples around it. It knows no car but the signal map.
//
// Start with Run: NewRun takes the map, Push each frame, Finish gives the Result.
// Metrics lists all that is measured.
package analyze
