// Package sample gives tests what a command could have found: a result with every kind of
// row that there is, comparisons, accounts, names that break things. Nothing but tests
// imports it. Start with Report.
package sample
