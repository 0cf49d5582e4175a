// Package logfile reads one log of any form: text or capture, packed or not, a file or
// standard input. It chooses the reader by what the log begins with, and says in a
// failure.Failure why a log cannot be read.
//
// It knows no map but what a Filter wants, and keeps nothing. Start with Read.
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

// Reader is what every form of log is read by.
type Reader interface {
	Scan() bool
	// Frame gives the frame that Scan read; nil where it passed over frames.
	Frame() *decode.Frame
	Err() error
	Info() decode.Info
}

// passer is a Reader that passes over frames that the map does not name.
type passer interface {
	Passed() decode.Passed
	Close()
}

// Open chooses the reader by what the log begins with. filter allows to pass over
// frames that it does not want; nil: every frame is wanted.
func Open(file *source.Reader, stamps decode.Stamps, filter *decode.Filter) (Reader, error) {
	const enough = 64
	// An error in the first bytes comes again, with its place, when they are read.
	head, err := file.Peek(enough)
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
	// The caller has a processor, and unpacking another: more that run at once
	// than there are processors only take turns.
	workers := runtime.GOMAXPROCS(0) - 1
	if file.Packing() != "" {
		workers--
	}
	return candump.NewBlockReader(file, candump.Options{Stamps: stamps}, filter, max(workers, 0)), nil
}

// at says which log it is that cannot be read.
func at(name string, err error) error {
	var refused *capture.Error
	if errors.As(err, &refused) {
		return &failure.Failure{Where: name, What: refused.Why, Hint: refused.Hint, Cause: err}
	}
	return err
}
