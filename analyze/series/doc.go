// Package series holds what one signal did over time: the recent samples of a
// quantity (Track), where it crosses a threshold (Crossing), and when a switch changed
// (Switched), each instant with the bounds that the samples leave it.
//
// It knows one signal at a time and nothing of engines; instants are ns from the first
// frame. Memory is bounded, whatever the log's length.
//
// Start with Track.
package series
