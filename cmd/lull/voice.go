package main

import (
	"errors"
	"fmt"
	"io"
	"strings"

	"lull/cmd/lull/internal/measuring"
	"lull/cmd/lull/internal/words"
	"lull/decode/sigmap"
)

// Everything that lull says besides its results is printed here, as words.Failure and
// words.Misuse word it. The rules: one line per error, "lull: where: what; what to do";
// lower case, no full stop, no exclamation mark; what was found before what was expected;
// never blame the user, never print a Go type. Text that came from a file or an argument is
// made harmless first. Results go to standard output, everything else to standard error.

// Exit statuses.
const (
	statusDone   = 0
	statusFailed = 1 // could not be done
	statusUsage  = 2 // wrong use
	statusBroken = 3 // --check found a limit broken, or a log that cannot be used
)

// printError prints an error and returns its exit status.
func printError(w io.Writer, err error) int {
	var usage *words.Misuse
	var mistakes sigmap.Errors
	var unusable *measuring.ErrUnusable
	switch {
	case err == nil:
		return statusDone
	case errors.Is(err, words.ErrTold):
		return statusFailed
	case errors.Is(err, measuring.ErrBroken):
		return statusBroken
	case errors.As(err, &unusable):
		say(w, err.Error())
		return statusBroken
	case errors.As(err, &usage):
		say(w, err.Error())
		return statusUsage
	case errors.As(err, &mistakes):
		_ = listMistakes(w, mistakes) // there is nowhere left to report it
		return statusFailed
	}
	if several, ok := err.(interface{ Unwrap() []error }); ok {
		for _, e := range several.Unwrap() {
			printError(w, e)
		}
		return statusFailed
	}
	say(w, err.Error())
	return statusFailed
}

// say prints one line on standard error.
func say(w io.Writer, text string) {
	fmt.Fprintln(w, words.Aside(text))
}

// suggestion returns the hint for an unknown name: the known names near it, else the
// fallback.
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
