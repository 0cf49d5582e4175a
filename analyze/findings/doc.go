// Package findings looks for what a reader should look at in what was found of a log:
// broken limits, starts that failed, modules that fell silent, standstills that nothing
// explains, counters that disagree, and values that a quantity cannot have.
//
// It measures nothing and words nothing; findings of one cause are one. A new finding is
// its code and type in package analyze, an entry in findingOrder, a call of add, its
// sentence and their tests. Whether a result can be believed is said by Finder.Trust.
//
// Start with Finder.
package findings
