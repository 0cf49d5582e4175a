// Package measure takes the measurements of an episode and of a starter operation from
// what was recorded, each with the bounds that the samples leave it, or the reason why
// there is none, and holds them against the map's limits. Metrics is the table of all:
// a new one is one entry there, its key in decode.MetricKeys, its test and its line of
// documentation.
//
// It finds no episode, and narrows no interval by a guess: what was not seen keeps no
// limit.
//
// Start with Metrics.
package measure
