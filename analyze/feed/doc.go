// Package feed turns a log's frames into samples (Feed), and holds what they told so far,
// as far as it may still be asked for: the recent samples of every role, what the map's
// conditions are, and when signals were not there to be seen (Recording).
//
// It finds no episode and measures nothing. Memory is bounded, whatever the log's
// length.
//
// Start with Feed.
package feed
