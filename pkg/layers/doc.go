// Package layers holds only the test of lull's layout: imports go one way, pkg <-
// decode <- analyze <- cmd, and within the analysis and the command they follow the
// table in DEVELOPERS.md.
package layers
