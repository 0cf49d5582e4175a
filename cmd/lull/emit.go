package main

import (
	"io"

	"lull/pkg/source"
)

// emit writes a result: to standard output, or to a file whole or not at all.
func emit(c *console, out string, write func(io.Writer) error) error {
	if out == "" || out == "-" {
		return write(c.out)
	}
	return source.WriteFile(out, write)
}
