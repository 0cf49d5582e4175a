// Package layers holds nothing but tests of how lull is laid out: imports go
// one way, pkg <- decode <- analyze <- cmd and within the command as a table has it,
// and no file outgrows its reader.
package layers
