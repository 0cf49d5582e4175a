package main

import (
	"io"
	"io/fs"
	"sync"

	"lull/pkg/source"
)

// outlet is standard output. It remembers the fault that ended writing, as not all that
// writes there, such as help, can tell of one.
type outlet struct {
	w     io.Writer
	mutex sync.Mutex // what is recorded is shown by a goroutine of its own
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

// Stat tells what is written to, where that is a file.
func (o *outlet) Stat() (fs.FileInfo, error) { return source.Stat(o.w) }
