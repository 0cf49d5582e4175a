// Package failure describes what lull could not do: where, what, and what the user can
// do about it. Start with Failure.
package failure

// Failure is an error that says where something went wrong, what went wrong, and what to
// do about it.
type Failure struct {
	Where, What, Hint string
	Cause             error
	NoLog             bool // the file is not a log at all
}

// Error returns the failure as one line.
func (e *Failure) Error() string { return Sentence(e.Where, e.What, e.Hint) }

// Unwrap returns the cause, or nil.
func (e *Failure) Unwrap() error { return e.Cause }

// Sentence joins a place, what is wrong there, and a hint into one line. The place and
// the hint may be empty.
func Sentence(where, what, hint string) string {
	if where != "" {
		what = where + ": " + what
	}
	if hint != "" {
		what += "; " + hint
	}
	return what
}
