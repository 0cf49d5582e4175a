// Package trace reads a log a second time for the samples that drawings need: which
// stretches are wanted is known only when the episodes are.
//
// It measures nothing, and its memory is bounded by the windows that it was asked for.
//
// Start with Tracer.
package trace
