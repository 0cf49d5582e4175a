// Package segment finds the episodes, standstills and starter operations in what is
// recorded, each as soon as it can be told, and holds those that are open or wait for
// their last samples (Segmenter).
//
// It decodes nothing, measures nothing and judges no limit; it says no sentence but the
// notes of an episode. Memory is bounded, whatever the log's length.
//
// Start with Segmenter.
package segment
