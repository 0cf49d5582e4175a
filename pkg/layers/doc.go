// Package layers holds nothing but tests of how lull is laid out: imports go
// one way, pkg <- decode <- analyze <- cmd, and within the analysis and the command as the
// tables of DEVELOPERS.md have it.
package layers
