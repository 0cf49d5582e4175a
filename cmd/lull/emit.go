package main

import (
	"errors"
	"io"
	"io/fs"

	"lull/cmd/lull/internal/words"
	"lull/pkg/source"
)

// emit writes a result: to standard output, or to a file whole or not at all.
func emit(c *console, out string, write func(io.Writer) error) error {
	if out == "" || out == "-" {
		err := write(c.out)
		var system *fs.PathError
		if errors.As(err, &system) && !brokenPipe(err) {
			return &words.Failure{Where: "standard output", What: words.PlainError(err), Hint: "what was written there is not whole", Cause: err}
		}
		return err
	}
	return source.WriteFile(out, write)
}
