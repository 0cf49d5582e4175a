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

// Option is an option of Open.
type Option func(*Reader)

// WithSHA256 makes the Reader hash the bytes that it reads, for Reader.SHA256.
func WithSHA256() Option { return func(r *Reader) { r.hash = sha256.New() } }

// Reader reads the bytes of one input and unpacks them if they are packed. Only one
// goroutine at a time may call Read and Peek; others may call Close and Position.
type Reader struct {
	path   string
	disk   io.Reader
	closer io.Closer
	hash   hash.Hash
	size   int64
	sized  bool
	read   atomic.Int64

	packing *packing // nil if the input is not packed
	plain   io.Reader
	head    []byte // unpacked but not read yet
	fault   error  // a fault of the disk, as opposed to damaged data
	err     error  // the error to return after head

	closing sync.Mutex // guards the fields below
	closed  bool
	release func() // ends unpacking; called by whoever reads from plain
	ahead   *ahead // set once Read has gone beyond head
}

// Open opens an input. For the path "-" it reads stdin, which it never closes. Open reads
// the first few bytes to find out whether and how the input is packed: by gzip, bzip2,
// zstd or xz, as one stream or as several in sequence. Errors are of type *Error.
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

// recognise looks at the first bytes and sets up reading, by unpacking or not.
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
		return &Error{Path: r.path, Why: refuse, Hint: "if a log is packed in it, unpack it first", Err: ErrPacking}
	case packing == nil:
		r.plain = whole
		return nil
	}
	r.packing = packing
	n = 0
	if r.plain, r.release, err = packing.open(whole); err == nil {
		// Data that cannot be unpacked at all is reported here; damage is reported
		// when it is read.
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

// Peek returns the next n unpacked bytes without advancing the Reader. If it returns
// fewer, it also returns the error that follows them. The bytes are valid until the next
// Read. Peek is meant for recognising an input by its first bytes, with a small n.
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

// Read reads unpacked bytes. An error other than io.EOF is of type *Error. If it wraps
// ErrDamaged, the packed data is damaged, and everything read up to then is valid. Of a
// damaged block nothing is returned; a block is 900 KB for bzip2, 128 KiB for zstd and at
// most 2 MiB for xz.
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

// next reads the bytes that follow head.
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

// running returns the goroutine that unpacks ahead of Read, starting it if necessary, or
// nil if the Reader is closed.
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

// endUnpacking releases the resources of unpacking.
func (r *Reader) endUnpacking() {
	r.closing.Lock()
	defer r.closing.Unlock()
	if r.release != nil {
		r.release()
		r.release = nil
	}
}

// unpacked ends unpacking and turns the error that ended it, if any, into an *Error. It
// reads a damaged input to its end, so that size and hash are those of the whole file.
func (r *Reader) unpacked(err error) error {
	r.endUnpacking()
	if err == nil || err == io.EOF {
		return err
	}
	if r.fault == nil {
		// A fault on the way is kept in r.fault and reported below.
		io.Copy(io.Discard, counter{r})
	}
	if r.fault != nil {
		return plain(r.path, r.fault)
	}
	why, hint, damaged := r.packing.objection(err)
	e := &Error{Path: r.path, Why: why, Hint: hint, Err: errors.Join(ErrDamaged, err)}
	if !damaged { // unsupported, but what came before it was read
		e.Err = errors.Join(ErrDamaged, ErrPacking, err)
	}
	return e
}

// Close closes the file. Later reads return an error that wraps fs.ErrClosed.
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

// Packing returns how the input is packed: "gzip", "bzip2", "zstd", "xz", or "" if it is
// not packed.
func (r *Reader) Packing() string {
	if r.packing == nil {
		return ""
	}
	return r.packing.name
}

// Size returns the size on disk in bytes at the time the file was opened, and false for
// an input without a size, such as a pipe.
func (r *Reader) Size() (int64, bool) { return r.size, r.sized }

// Position returns how many bytes have been read from disk so far, before unpacking.
func (r *Reader) Position() int64 { return r.read.Load() }

// Bytes returns the same as Position. At the end of an input it is the input's length on
// disk.
func (r *Reader) Bytes() int64 { return r.read.Load() }

// SHA256 returns the hash, in lower-case hexadecimal, of the bytes read from disk so far.
// At the end of the input, even of a damaged packed one, it is the hash of the file on
// disk. It is empty without WithSHA256. For a packed input, call it only after Read has
// returned an error, as unpacking runs ahead.
func (r *Reader) SHA256() string {
	if r.hash == nil {
		return ""
	}
	return hex.EncodeToString(r.hash.Sum(nil))
}

// counter reads from the disk for a Reader, and counts and hashes what it reads.
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
