package source

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"hash"
	"io"
	"math"
	"os"
	"sync"
	"sync/atomic"
)

// Option is a choice of Open.
type Option func(*Reader)

// WithSHA256 has the Reader hash the bytes on their way, for SHA256.
func WithSHA256() Option { return func(r *Reader) { r.hash = sha256.New() } }

// Reader gives the bytes of one input, unpacked where they are packed. Read and
// Peek are for one goroutine at a time; Close and Position may come from others.
type Reader struct {
	path   string
	disk   io.Reader
	closer io.Closer
	hash   hash.Hash
	size   int64
	sized  bool
	read   atomic.Int64

	packing *packing // nil where the bytes are as they are
	plain   io.Reader
	head    []byte // unpacked, not read yet
	fault   error  // a fault of the disk, which is no damage of the packing
	err     error  // what comes behind head

	closing sync.Mutex // guards what follows
	closed  bool
	release func() // ends unpacking; called by whoever reads from plain
	ahead   *ahead // once Read went beyond head
}

// Open opens an input; stdin is read for the path "-" and is never closed. It
// reads the first few bytes to see whether, and how, the input is packed: by
// gzip, bzip2, zstd or xz, one packing or several one after the other. Errors are
// of type *Error.
func Open(in Input, stdin io.Reader, options ...Option) (*Reader, error) {
	r := &Reader{path: in.Path}
	for _, o := range options {
		o(r)
	}
	if in.Path == Stdin {
		r.path = "standard input"
	}
	switch {
	case in.Kept != nil:
		info, err := in.Kept.Stat()
		if err != nil {
			return nil, plain(r.path, err)
		}
		r.disk = io.NewSectionReader(in.Kept, 0, math.MaxInt64)
		r.size, r.sized = info.Size(), true
	case in.Path == Stdin:
		if stdin == nil {
			return nil, &Error{Path: r.path, Why: "there is none", Hint: "name a file", Err: os.ErrInvalid}
		}
		r.disk = stdin
	default:
		file, err := os.Open(in.Path)
		if err != nil {
			return nil, plain(in.Path, err)
		}
		info, err := file.Stat()
		if err == nil && info.IsDir() {
			err = &Error{Path: in.Path, Why: "a folder, not a file", Hint: "name the file", Err: ErrFolder}
		}
		if err != nil {
			file.Close()
			return nil, plain(in.Path, err)
		}
		r.disk, r.closer = file, file
		r.size, r.sized = info.Size(), info.Mode().IsRegular()
	}
	if err := r.recognise(); err != nil {
		r.Close()
		return nil, err
	}
	return r, nil
}

// recognise looks at the first bytes and decides how to read on.
func (r *Reader) recognise() error {
	head := make([]byte, longestMagic)
	n, err := io.ReadFull(counter{r}, head)
	if err != nil && !errors.Is(err, io.EOF) && !errors.Is(err, io.ErrUnexpectedEOF) {
		return plain(r.path, err)
	}
	whole := io.MultiReader(bytes.NewReader(head[:n]), counter{r})
	packing, refuse := recognise(head[:n])
	switch {
	case refuse != "":
		return &Error{Path: r.path, Why: refuse, Hint: "unpack it first", Err: ErrPacking}
	case packing == nil:
		r.plain = whole
		return nil
	}
	r.packing = packing
	n = 0
	if r.plain, r.release, err = packing.open(whole); err == nil {
		// What cannot be unpacked at all is told here, damage when it is read.
		first := make([]byte, firstUnpacked)
		n, err = r.plain.Read(first)
		r.head = first[:n]
	}
	if n == 0 && err != nil && r.fault == nil {
		if why, hint, damaged := packing.objection(err); !damaged {
			return &Error{Path: r.path, Why: why, Hint: hint, Err: errors.Join(ErrPacking, err)}
		}
	}
	if err != nil {
		r.err = r.unpacked(err)
	}
	return nil
}

// firstUnpacked is how much is unpacked on opening.
const firstUnpacked = 4096

// Peek returns the next n unpacked bytes without reading them, or fewer and the
// error that comes behind them. They are valid until the next Read. It is for
// telling by its first bytes what the input is; n is small.
func (r *Reader) Peek(n int) ([]byte, error) {
	for len(r.head) < n && r.err == nil {
		more := make([]byte, max(n, firstUnpacked))
		k, err := r.next(more)
		r.head = append(r.head, more[:k]...)
		r.err = err
	}
	if len(r.head) < n {
		return r.head, r.err
	}
	return r.head[:n], nil
}

// Read reads unpacked bytes. An error other than io.EOF is of type *Error; one
// that unwraps to ErrDamaged is about the packing: what was read till then holds.
// Of a damaged block nothing is given: 900 KB by bzip2, 128 KiB by zstd, at most
// 2 MiB by xz.
func (r *Reader) Read(p []byte) (int, error) {
	if r.isClosed() {
		return 0, plain(r.path, os.ErrClosed)
	}
	if len(r.head) > 0 {
		n := copy(p, r.head)
		r.head = r.head[n:]
		return n, nil
	}
	if r.err != nil {
		return 0, r.err
	}
	n, err := r.next(p)
	r.err = err
	return n, err
}

// next reads behind head.
func (r *Reader) next(p []byte) (int, error) {
	if r.packing == nil {
		n, err := r.plain.Read(p)
		if r.fault != nil {
			err = plain(r.path, r.fault)
		}
		return n, err
	}
	a := r.running()
	if a == nil {
		return 0, plain(r.path, os.ErrClosed)
	}
	n, err := a.Read(p)
	if err == os.ErrClosed {
		err = plain(r.path, err)
	}
	return n, err
}

// running begins to unpack ahead of Read; nil where the Reader is closed.
func (r *Reader) running() *ahead {
	r.closing.Lock()
	defer r.closing.Unlock()
	if r.closed {
		return nil
	}
	if r.ahead == nil {
		r.ahead = newAhead(r.plain, r.unpacked)
	}
	return r.ahead
}

// endUnpacking lets go of what unpacking holds.
func (r *Reader) endUnpacking() {
	r.closing.Lock()
	defer r.closing.Unlock()
	if r.release != nil {
		r.release()
		r.release = nil
	}
}

// unpacked ends unpacking and words the error that ended it, if any did. What is
// left of a damaged input is read over, so that the figures of the file are
// those of the whole of it.
func (r *Reader) unpacked(err error) error {
	r.endUnpacking()
	if err == nil || err == io.EOF {
		return err
	}
	if r.fault == nil {
		// A fault on the way is the disk's, and is told.
		io.Copy(io.Discard, counter{r})
	}
	if r.fault != nil {
		return plain(r.path, r.fault)
	}
	why, hint, damaged := r.packing.objection(err)
	e := &Error{Path: r.path, Why: why, Hint: hint, Err: errors.Join(ErrDamaged, err)}
	if !damaged { // but what came before it was read
		e.Err = errors.Join(ErrDamaged, ErrPacking, err)
	}
	return e
}

// Close closes the file. Reading on gives fs.ErrClosed.
func (r *Reader) Close() error {
	r.closing.Lock()
	if r.closed {
		r.closing.Unlock()
		return nil
	}
	r.closed = true
	a := r.ahead
	r.closing.Unlock()
	if a != nil {
		a.close() // which ends unpacking
	} else {
		r.endUnpacking()
	}
	if r.closer == nil {
		return nil
	}
	return plain(r.path, r.closer.Close())
}

// isClosed reports whether Close was called.
func (r *Reader) isClosed() bool {
	r.closing.Lock()
	defer r.closing.Unlock()
	return r.closed
}

// Packing names how the input is packed: "gzip", "bzip2", "zstd", "xz", or "".
func (r *Reader) Packing() string {
	if r.packing == nil {
		return ""
	}
	return r.packing.name
}

// Size returns the size on disk in bytes when the file was opened; false for what
// has none, such as a pipe.
func (r *Reader) Size() (int64, bool) { return r.size, r.sized }

// Position returns how many bytes were read from disk so far, packed as they are
// there.
func (r *Reader) Position() int64 { return r.read.Load() }

// Bytes is Position by its name in reports: at the end of an input it is its
// length on disk.
func (r *Reader) Bytes() int64 { return r.read.Load() }

// SHA256 returns the hash, in lower-case hexadecimal, of the bytes read from disk
// so far: at the end, also where the packing is damaged, that of the file as it
// lies there. It is empty without WithSHA256. Of a packed input it is to be asked
// only after Read gave an error, as unpacking runs ahead.
func (r *Reader) SHA256() string {
	if r.hash == nil {
		return ""
	}
	return hex.EncodeToString(r.hash.Sum(nil))
}

// counter reads from the disk on a Reader's behalf and keeps its books.
type counter struct{ r *Reader }

func (c counter) Read(p []byte) (int, error) {
	n, err := c.r.disk.Read(p)
	c.r.read.Add(int64(n))
	if c.r.hash != nil {
		c.r.hash.Write(p[:n])
	}
	if err != nil && err != io.EOF {
		c.r.fault = err
	}
	return n, err
}
