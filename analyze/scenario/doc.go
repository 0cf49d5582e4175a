// Package scenario makes drives whose truth is known: the demonstration that
// `lull demo` writes and the drives that the analysis is tested on. A car of
// simple physics runs in small steps; its frames sample it, each with its own
// period, phase and jitter, rounded to what its fields can hold. Nothing here
// knows how the analysis works, so a test that holds the one against the other
// tests both. Start with Drive.
//
// A drive is the same, byte for byte, on every machine: no random source but a
// seeded one, no function of package math that differs between processors, and
// every product is rounded before it is added to anything (see exact.go).
package scenario
