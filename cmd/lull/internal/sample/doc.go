// Package sample gives tests what a command could have found: a result with every kind of
// row, comparisons, accounts, names that break things. Only tests import it. Start with
// Report.
package sample
