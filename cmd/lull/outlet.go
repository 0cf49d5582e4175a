package main

import (
	"io"
	"io/fs"
	"sync"

	"lull/pkg/source"
)

// outlet is standard output. It remembers the error that ended writing, since not every
// writer, such as help, reports it.
type outlet struct {
	w     io.Writer
	mutex sync.Mutex // a recording is shown by its own goroutine
	fault error
}

func (o *outlet) Write(p []byte) (int, error) {
	n, err := o.w.Write(p)
	if err != nil {
		o.mutex.Lock()
		defer o.mutex.Unlock()
		o.fault = err
	}
	return n, err
}

func (o *outlet) failed() error {
	o.mutex.Lock()
	defer o.mutex.Unlock()
	return o.fault
}

// Stat describes the file written to, if it is one.
func (o *outlet) Stat() (fs.FileInfo, error) { return source.Stat(o.w) }
