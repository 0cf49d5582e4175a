// Package onelog is the analysis of one log, of a file or live: the stages of the packages
// beside it, in one (Run). Frames go in, a Result comes out; what is new on the way is told
// by a Newscast.
//
// Start with Read, or with NewRun where frames come by themselves.
package onelog
