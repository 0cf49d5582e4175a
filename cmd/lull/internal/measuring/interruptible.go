package measuring

import (
	"context"
	"io"
	"io/fs"

	"lull/pkg/source"
)

// interruptible is a reader whose Read returns when the context ends, even while it waits
// for a terminal or pipe that sends nothing. The pending read is then abandoned.
type interruptible struct {
	ctx   context.Context
	r     io.Reader
	wants chan int
	comes chan readResult
}

// Stat describes the file that is read, if it is one.
func (i *interruptible) Stat() (fs.FileInfo, error) { return source.Stat(i.r) }

// Interruptible returns a reader of r that ends with the context.
func Interruptible(ctx context.Context, r io.Reader) io.Reader { return &interruptible{ctx: ctx, r: r} }

type readResult struct {
	data []byte
	err  error
}

func (i *interruptible) Read(p []byte) (int, error) {
	if i.wants == nil {
		i.wants, i.comes = make(chan int, 1), make(chan readResult, 1)
		go i.serve()
	}
	if err := i.ctx.Err(); err != nil {
		return 0, err
	}
	if len(p) == 0 {
		return 0, nil
	}
	i.wants <- len(p)
	select {
	case <-i.ctx.Done():
		return 0, i.ctx.Err()
	case got := <-i.comes:
		return copy(p, got.data), got.err
	}
}

// serve reads on behalf of Read into its own memory.
func (i *interruptible) serve() {
	var buffer []byte
	for {
		select {
		case <-i.ctx.Done():
			return
		case n := <-i.wants:
			if cap(buffer) < n {
				buffer = make([]byte, n)
			}
			n, err := i.r.Read(buffer[:n])
			i.comes <- readResult{buffer[:n], err}
		}
	}
}
