package source

import (
	"io"
	"os"
)

const (
	// Unpacking may run ahead of reading by aheadPieces pieces of aheadPiece bytes.
	aheadPiece  = 512 << 10
	aheadPieces = 6
)

// ahead reads from a reader in a goroutine of its own, so that unpacking and processing
// the result can use two cores.
type ahead struct {
	full    chan piece
	free    chan []byte
	stop    chan struct{}
	current piece
	rest    []byte // of current
}

// piece is one buffer that was filled, and the error that followed it.
type piece struct {
	data []byte
	err  error
}

// newAhead starts reading. When reading has ended or was stopped, the goroutine calls
// done, which may replace the error.
func newAhead(r io.Reader, done func(error) error) *ahead {
	a := &ahead{full: make(chan piece, aheadPieces), free: make(chan []byte, aheadPieces), stop: make(chan struct{})}
	for range aheadPieces {
		a.free <- make([]byte, aheadPiece)
	}
	go func() {
		for {
			select {
			case <-a.stop:
				done(nil)
				return
			case buffer := <-a.free:
				n, err := readFull(r, buffer)
				if err != nil {
					err = done(err)
				}
				a.full <- piece{buffer[:n], err} // there is room for every piece
				if err != nil {
					return
				}
			}
		}
	}()
	return a
}

// readFull reads until the buffer is full. The fewer the pieces, the less often the two
// goroutines wait for each other. Unlike io.ReadFull, it keeps the reader's own error.
func readFull(r io.Reader, buffer []byte) (n int, err error) {
	for n < len(buffer) && err == nil {
		var more int
		more, err = r.Read(buffer[n:])
		n += more
	}
	return n, err
}

// Read returns bytes that were read ahead, or os.ErrClosed after close.
func (a *ahead) Read(p []byte) (int, error) {
	for len(a.rest) == 0 {
		if a.current.data != nil {
			if a.current.err != nil {
				return 0, a.current.err
			}
			a.free <- a.current.data[:aheadPiece]
		}
		select {
		case a.current = <-a.full:
		case <-a.stop:
			return 0, os.ErrClosed
		}
		a.rest = a.current.data
	}
	n := copy(p, a.rest)
	a.rest = a.rest[n:]
	return n, nil
}

// close makes the goroutine end as soon as its current Read returns.
func (a *ahead) close() { close(a.stop) }
