// Package conditions follows the restart requests and inhibits of a map in
// three-valued logic: samples and time go in, and transitions with their instants come
// out (Set). TruthLog and CodeHistory keep what a condition, or the car's own code, was
// over time.
//
// It knows the map's expressions and the times of frames, and nothing of engines: at
// which moment a `moves` comparison begins anew is told by Rebase.
//
// Start with Set.
package conditions
