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

// Misused says that something cannot be asked for.
func Misused(hint, format string, args ...any) error {
	return &Misuse{What: fmt.Sprintf(format, args...), Hint: hint}
}

// ErrTold is the end of what failed after all of it has been said already.
var ErrTold = errors.New("already reported")

// Aside is a line that is said besides a result.
func Aside(text string) string { return "lull: " + Visible(text) }

// PlainError is what the system says without the path, which stands before it
// already.
func PlainError(err error) string {
	var pathError *fs.PathError
	if errors.As(err, &pathError) {
		return pathError.Err.Error()
	}
	return err.Error()
}

// PlainNetError is what the system says without the address, which stands before
// it already.
func PlainNetError(err error) string {
	var system syscall.Errno
	if errors.As(err, &system) {
		return system.Error()
	}
	return err.Error()
}
