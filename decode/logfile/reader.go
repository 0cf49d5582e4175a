// Package logfile reads a log in any format: text or capture, packed or not, from a file or
// from standard input. It chooses the reader by the first bytes of the log, and returns a
// failure.Failure if the log cannot be read. Start with Read.
package logfile

import (
	"errors"
	"io"
	"runtime"

	"lull/decode"
	"lull/decode/candump"
	"lull/decode/capture"
	"lull/pkg/failure"
	"lull/pkg/source"
)

// Reader reads the frames of a log. Each log format has its own implementation.
type Reader interface {
	Scan() bool
	// Frame returns the frame that Scan read, or nil if Scan skipped frames.
	Frame() *decode.Frame
	Err() error
	Info() decode.Info
}

// skipper is a Reader that can skip frames that the map does not name.
type skipper interface {
	Passed() decode.Passed
	Close()
}

// headSize is how many bytes of a log tell what it is.
const headSize = 64

// Open returns a reader for the log, chosen by its first bytes. The reader may skip frames
// that filter does not want; if filter is nil, every frame is wanted.
func Open(file *source.Reader, stamps decode.Stamps, filter *decode.Filter) (Reader, error) {
	// An error after the first bytes occurs again, with its place, when they are read.
	head, err := file.Peek(headSize)
	if err == io.EOF || len(head) > 0 {
		err = nil
	}
	switch {
	case err != nil:
		return nil, err
	case capture.Is(head):
		return capture.NewReader(file)
	case filter == nil:
		return candump.NewReader(file, candump.Options{Stamps: stamps}), nil
	}
	// The caller needs a processor, and so does unpacking. More workers than there are
	// processors left would only take turns.
	workers := runtime.GOMAXPROCS(0) - 1
	if file.Packing() != "" {
		workers--
	}
	return candump.NewBlockReader(file, candump.Options{Stamps: stamps}, filter, max(workers, 0)), nil
}

// at adds the name of the log to an error that does not have it.
func at(name string, err error) error {
	var refused *capture.Error
	if errors.As(err, &refused) {
		return &failure.Failure{Where: name, What: refused.Why, Hint: refused.Hint, Cause: err}
	}
	return err
}
