package words

import (
	"errors"
	"fmt"
	"io/fs"
	"syscall"

	"lull/pkg/failure"
)

// Failure is what could not be done: where, what, and what to do about it.
type Failure = failure.Failure

// Misuse is wrong use, with a hint that says what to type instead.
type Misuse struct{ What, Hint string }

func (e *Misuse) Error() string { return failure.Sentence("", e.What, e.Hint) }

// Misused returns a Misuse.
func Misused(hint, format string, args ...any) error {
	return &Misuse{What: fmt.Sprintf(format, args...), Hint: hint}
}

// ErrTold is the error of a command whose failures have all been told already.
var ErrTold = errors.New("already reported")

// Aside returns a line that is said besides a result.
func Aside(text string) string { return "lull: " + Visible(text) }

// PlainError returns the system's message without the path, which the reader has already
// been told.
func PlainError(err error) string {
	var pathError *fs.PathError
	if errors.As(err, &pathError) {
		return pathError.Err.Error()
	}
	return err.Error()
}

// PlainNetError returns the system's message without the address, which the reader has
// already been told.
func PlainNetError(err error) string {
	var system syscall.Errno
	if errors.As(err, &system) {
		return system.Error()
	}
	return err.Error()
}
