// Package foreign makes cars that nobody has a signal map of, with what is true
// of them: where their signals lie, and what happened in their drives. Whatever
// drafts a map from a log is measured on them.
//
// The physics is that of package scenario; everything on the bus is drawn from a
// seed: identifiers, layouts, orders, scales, periods, noise, lag, what several
// modules tell alike, and much that looks like a signal and is another one. The
// same seed gives the same frames on every machine, see exact.go. Start with
// NewUnknown.
package foreign
