// Package failure is how lull tells what could not be done: where, what, and what to do
// about it.
//
// Start with Failure.
package failure

// Failure is what could not be done.
type Failure struct {
	Where, What, Hint string
	Cause             error
	NoLog             bool // the file holds nothing that is a log
}

// Error returns one line: the place, what is wrong there, and what to do.
func (e *Failure) Error() string { return Sentence(e.Where, e.What, e.Hint) }

// Unwrap returns the cause, nil where there is none.
func (e *Failure) Unwrap() error { return e.Cause }

// Sentence joins a place, what is wrong there and what to do to one line. Place and hint
// may be empty.
func Sentence(where, what, hint string) string {
	if where != "" {
		what = where + ": " + what
	}
	if hint != "" {
		what += "; " + hint
	}
	return what
}
