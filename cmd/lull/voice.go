package main

import (
	"errors"
	"fmt"
	"io"
	"strings"

	"lull/cmd/lull/internal/words"
	"lull/decode/sigmap"
)

// All that lull says besides its results is worded and printed here. The rules:
// one line an error, "lull: where: what; what to do". Lower case, no full stop,
// no exclamation mark. Say what was found before what was expected. Never blame
// the user, never print a Go type. Text that came from a file or an argument is
// made harmless first. Results go to standard output, all else to standard
// error.

// Exit statuses.
const (
	statusDone   = 0
	statusFailed = 1 // could not be done
	statusUsage  = 2 // wrong use
	statusBroken = 3 // --check found a limit broken
)

// errReported ends the program with status 1 after all has been said already.
var errReported = errors.New("already reported")

// errBlind is errReported where no log ever shows the engine speed, which its map
// may be to blame for.
var errBlind = fmt.Errorf("no engine speed: %w", errReported)

// errLimitBroken ends the program with status 3; the result tells the rest.
var errLimitBroken = errors.New("a limit was broken")

// usageError is wrong use: status 2 and a hint that says what to type instead.
type usageError struct{ what, hint string }

func (e *usageError) Error() string { return sentence("", e.what, e.hint) }

func misuse(hint, format string, args ...any) error {
	return &usageError{what: fmt.Sprintf(format, args...), hint: hint}
}

// failure is what could not be done: where, what, and what to do about it.
type failure struct {
	where, what, hint string
	cause             error
	noLog             bool // the file holds nothing that is a log
}

func (e *failure) Error() string { return sentence(e.where, e.what, e.hint) }
func (e *failure) Unwrap() error { return e.cause }

func sentence(where, what, hint string) string {
	if where != "" {
		what = where + ": " + what
	}
	if hint != "" {
		what += "; " + hint
	}
	return what
}

// report prints an error and returns the exit status that it stands for.
func report(w io.Writer, err error) int {
	var usage *usageError
	var mistakes sigmap.Errors
	switch {
	case err == nil:
		return statusDone
	case errors.Is(err, errReported):
		return statusFailed
	case errors.Is(err, errLimitBroken):
		return statusBroken
	case errors.As(err, &usage):
		say(w, err.Error())
		return statusUsage
	case errors.As(err, &mistakes):
		_ = listMistakes(w, mistakes) // standard error is the last place to say so
		return statusFailed
	}
	if several, ok := err.(interface{ Unwrap() []error }); ok {
		for _, e := range several.Unwrap() {
			report(w, e)
		}
		return statusFailed
	}
	say(w, err.Error())
	return statusFailed
}

// say prints one line of its own on standard error.
func say(w io.Writer, text string) {
	fmt.Fprintf(w, "lull: %s\n", words.Visible(text))
}

// suggestion words the hint for a name that is not known, out of those that are
// and lie near it.
func suggestion(near []string, prefix, fallback string) string {
	if len(near) == 0 {
		return fallback
	}
	quoted := make([]string, len(near))
	for i, n := range near {
		quoted[i] = prefix + n
	}
	return "did you mean " + strings.Join(quoted, " or ") + "?"
}
