// Package segment finds the episodes, standstills and starter operations in what is
// recorded, each as soon as it can be told, and holds those that are open or wait for
// their last samples (Segmenter).
//
// It decodes nothing, measures nothing and judges no limit. Memory is bounded, whatever the log's length.
//
// Start with Segmenter.
package segment
