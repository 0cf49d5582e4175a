// Package conditions follows the restart requests and inhibits of a map in
// three-valued logic: samples and time go in, and transitions with their instants come
// out (Set). TruthLog and CodeHistory keep what a condition, or the car's own code, was
// over time.
//
// It knows the map's expressions and the times of frames, and nothing of engines: Rebase
// tells it when a `moves` comparison starts over.
//
// Start with Set.
package conditions
