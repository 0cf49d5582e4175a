//go:build !linux

package live

import (
	"errors"
	"runtime"
)

func openInterface(name string) (conn, error) {
	return nil, &Error{Source: name, Why: "reading a CAN interface needs Linux; this is " + runtime.GOOS,
		Hint: "record there and copy the log, or read a stream from unix:PATH or tcp:HOST:PORT", Err: errors.ErrUnsupported, Lasting: true}
}

// Links returns nil: only Linux has CAN interfaces of this kind.
func Links() ([]Link, error) { return nil, nil }
