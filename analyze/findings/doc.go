// Package findings looks for what a reader should look at in what was found of a log:
// broken limits, starts that failed, modules that fell silent, standstills that nothing
// explains, counters that disagree, and values that a quantity cannot have.
//
// It measures nothing; findings of one cause are one. A new finding is one entry in
// order, its code in package analyze, and its test.
//
// Start with Finder.
package findings
