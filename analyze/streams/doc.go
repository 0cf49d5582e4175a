// Package streams watches when frames come, whatever is in them: it learns periods,
// and finds modules that fall silent, recordings that stop, and times in which a
// signal was not there to be seen.
//
// It never decodes a frame, and its memory is bounded, whatever the log's length.
//
// Start with Streams.
package streams
