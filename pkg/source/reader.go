package source

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"hash"
	"io"
	"os"
	"sync/atomic"
)

// Option is a choice of Open.
type Option func(*Reader)

// WithSHA256 has the Reader hash the bytes on their way, for SHA256.
func WithSHA256() Option { return func(r *Reader) { r.hash = sha256.New() } }

// Reader gives the bytes of one input, unpacked where they are packed. Read and
// Close are for one goroutine; Position may be asked by another.
type Reader struct {
	path   string
	disk   io.Reader
	closer io.Closer
	hash   hash.Hash
	size   int64
	sized  bool
	read   atomic.Int64

	packing string // "" where the bytes are as they are
	start   func() (io.Reader, func(), error)
	plain   io.Reader // what Read reads; nil until the first
	release func()
	fault   error // a fault of the disk, which is no damage of the packing
	err     error
}

// Open opens an input; stdin is read for the path "-" and is never closed. It
// reads the first few bytes to see whether, and how, the input is packed: by
// gzip, bzip2 or zstd. Errors are of type *Error.
func Open(in Input, stdin io.Reader, options ...Option) (*Reader, error) {
	r := &Reader{path: in.Path}
	for _, o := range options {
		o(r)
	}
	if in.Path == Stdin {
		r.path = "standard input"
		if stdin == nil {
			return nil, &Error{Path: r.path, Why: "there is none", Hint: "name a file", Err: os.ErrInvalid}
		}
		r.disk = stdin
	} else {
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
	default:
		r.packing = packing.name
		r.start = func() (io.Reader, func(), error) { return packing.open(whole) }
	}
	return nil
}

// Read reads unpacked bytes. An error other than io.EOF is of type *Error; one
// that unwraps to ErrDamaged is about the packing: what was read till then holds.
func (r *Reader) Read(p []byte) (int, error) {
	if r.err != nil {
		return 0, r.err
	}
	if r.plain == nil {
		var err error
		if r.plain, r.release, err = r.start(); err != nil {
			r.err = r.explain(err)
			return 0, r.err
		}
	}
	n, err := r.plain.Read(p)
	if err != nil {
		r.err = r.explain(err)
	}
	return n, r.err
}

func (r *Reader) explain(err error) error {
	switch {
	case r.fault != nil:
		return plain(r.path, r.fault)
	case r.packing == "":
		return err // io.EOF
	case err == io.EOF:
		return err
	}
	return &Error{Path: r.path, Why: "the " + r.packing + " packing is damaged or cut off", Hint: "copy the file anew from where it was recorded", Err: errors.Join(ErrDamaged, err)}
}

// Close closes the file. Reading on gives fs.ErrClosed.
func (r *Reader) Close() error {
	r.err = plain(r.path, os.ErrClosed)
	if r.release != nil {
		r.release()
		r.release = nil
	}
	if r.closer == nil {
		return nil
	}
	err := r.closer.Close()
	r.closer = nil
	return plain(r.path, err)
}

// Packing names how the input is packed: "gzip", "bzip2", "zstd", or "".
func (r *Reader) Packing() string { return r.packing }

// Size gives the size on disk in bytes when the file was opened; false for what
// has none, such as a pipe.
func (r *Reader) Size() (int64, bool) { return r.size, r.sized }

// Position gives how many bytes were read from disk so far, packed as they are
// there.
func (r *Reader) Position() int64 { return r.read.Load() }

// Bytes is Position by its name in reports: at the end of an input it is its
// length on disk.
func (r *Reader) Bytes() int64 { return r.read.Load() }

// SHA256 gives the hash, in lower-case hexadecimal, of the bytes read from disk
// so far: at the end that of the file as it lies there. It is empty without
// WithSHA256.
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
