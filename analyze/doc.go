// Package analyze is the vocabulary of results: what one log told (Result), stop by
// stop (Episode, Standstill, Start), figure by figure (MetricValue with its bounds and
// its reason to be absent), what a reader should look at (Finding), and what a drawing
// is made of (Traces).
//
// It measures nothing: the packages below it do, in the way of the data. It never
// makes up a number: what cannot be measured is absent and says why, and no interval
// is narrower than the samples around it. It knows no car but the signal map.
//
// Start with Result; package onelog makes one from the frames of a log.
package analyze
