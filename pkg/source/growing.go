package source

import (
	"errors"
	"io"
	"io/fs"
	"os"
	"runtime"
	"strings"
	"sync"
	"time"

	"github.com/klauspost/compress/zstd"
)

const (
	// flushEvery is how often what was written goes to the disk itself.
	flushEvery = 500 * time.Millisecond
	// frameEvery is how often a frame of a zstd file is closed.
	frameEvery = 5 * time.Second
	// mostUnwritten is how much a disk may be behind before writing fails.
	mostUnwritten = 64 << 20
)

// Growing is a file that only grows: what was written stays, whatever happens
// afterwards. At least every second what came goes to the disk itself, so that a
// crash, a plug that is pulled or a full disk costs no more than the last second.
// Where the disk is full the file is cut back to what was written whole, unless
// somebody else wrote into it, too.
//
// Writing does not wait for the disk; its faults come with a later call.
type Growing struct {
	path string
	file target
	own  bool        // opened here
	at   string      // where the file lies, behind links; "" where it can lie nowhere else
	info fs.FileInfo // of the file that lies there
	made bool        // here: taken away again where nothing is written

	mutex   sync.Mutex // guards what follows
	pending []byte
	err     error

	written int64 // whole, on the disk
	pack    *zstd.Encoder
	packed  packedBytes
	framed  time.Time // when the open frame was begun
	stop    chan struct{}
	done    chan struct{}
}

// target is what Growing needs of a file.
type target interface {
	io.WriteSeeker
	Sync() error
	Truncate(size int64) error
	Close() error
}

// packedBytes gathers what the packing gives.
type packedBytes struct{ b []byte }

func (p *packedBytes) Write(b []byte) (int, error) {
	p.b = append(p.b, b...)
	return len(b), nil
}

// Create begins a new file, which is this process's alone until it is closed. Nothing
// is written over: a file that is there and not empty is an error, and so is one that
// another process records into. A name that ends in .zst is packed by zstd, in frames
// of a few seconds, so that a file that is cut off reads. Devices and pipes are written
// straight, and "-" is standard output. Errors are of type *Error.
func Create(path string) (*Growing, error) {
	if path == Stdin {
		return newGrowing(path, notRegular{os.Stdout}, false)
	}
	file, err := os.OpenFile(path, forLog, 0)
	if errors.Is(err, fs.ErrNotExist) {
		return CreateNew(path)
	}
	if err != nil {
		return nil, plain(path, err)
	}
	info, err := file.Stat()
	switch {
	case err != nil:
	case info.IsDir():
		err = &Error{Path: path, Why: "a folder, not a file", Hint: "name a file in it", Err: ErrFolder}
	case !info.Mode().IsRegular() || isDescriptor(path):
		return newGrowing(path, notRegular{file}, true)
	default:
		return begin(path, file, false)
	}
	file.Close()
	return nil, plain(path, err)
}

// CreateNew is Create for a name at which nothing may lie yet, not even an empty file:
// that is fs.ErrExist, or ErrLocked.
func CreateNew(path string) (*Growing, error) {
	at, err := behindLinks(path)
	if err != nil {
		return nil, plain(path, err)
	}
	file, err := os.OpenFile(at, forLog|os.O_CREATE|os.O_EXCL, 0o666)
	if err != nil {
		return nil, plain(path, err)
	}
	return begin(path, file, true)
}

// begin takes an open file to be recorded into, once it is sure that nobody else does.
// One that was made here is nobody else's also where files cannot be locked.
func begin(path string, file *os.File, made bool) (*Growing, error) {
	g, err := alone(path, file, made)
	if err != nil {
		file.Close()
		return nil, plain(path, err)
	}
	return g, nil
}

func alone(path string, file *os.File, made bool) (*Growing, error) {
	if err := Lock(file); err != nil && (!made || errors.Is(err, ErrLocked)) {
		return nil, err
	}
	at, err := behindLinks(path)
	if err != nil {
		return nil, err
	}
	info, err := file.Stat()
	switch {
	case err != nil:
		return nil, err
	case info.Size() > 0:
		return nil, fs.ErrExist
	case !liesAt(at, info): // whoever made it took it away before it was locked here
		return nil, &Error{Path: path, Why: "taken away while it was opened", Hint: "try again", Err: fs.ErrNotExist}
	}
	g, err := newGrowing(path, file, true)
	if err == nil {
		g.at, g.info, g.made = at, info, made
	}
	return g, err
}

// liesAt reports whether a file that is open is the one at a path.
func liesAt(path string, file fs.FileInfo) bool {
	there, err := os.Lstat(path)
	return err == nil && os.SameFile(there, file)
}

// notRegular is what cannot be cut back or made sure of.
type notRegular struct{ *os.File }

func (notRegular) Sync() error          { return nil }
func (notRegular) Truncate(int64) error { return nil }

func newGrowing(path string, file target, own bool) (*Growing, error) {
	g := &Growing{path: path, file: file, own: own, stop: make(chan struct{}), done: make(chan struct{})}
	if strings.HasSuffix(strings.ToLower(path), ".zst") {
		pack, err := zstd.NewWriter(&g.packed, zstd.WithEncoderConcurrency(1), zstd.WithWindowSize(1<<20))
		if err != nil {
			return nil, plain(path, err)
		}
		g.pack = pack
	}
	go g.keep()
	return g, nil
}

// Write takes bytes that belong together, such as whole lines. They are on the
// disk within a second.
func (g *Growing) Write(p []byte) (int, error) {
	g.mutex.Lock()
	defer g.mutex.Unlock()
	if g.err == nil && len(g.pending)+len(p) > mostUnwritten {
		g.err = &Error{Path: g.path, Why: "the disk is too slow", Hint: "choose another place", Err: os.ErrDeadlineExceeded}
	}
	if g.err != nil {
		return 0, g.err
	}
	g.pending = append(g.pending, p...)
	return len(p), nil
}

// Err returns the fault that ended writing, if there was one.
func (g *Growing) Err() error {
	g.mutex.Lock()
	defer g.mutex.Unlock()
	return g.err
}

// Close writes what is left and closes the file. A new file into which nothing was
// written is taken away. One that does not lie any more where it was opened is an
// error, as nobody would find what was recorded.
func (g *Growing) Close() error {
	close(g.stop)
	<-g.done
	if !g.own {
		return g.Err()
	}
	lost := g.at != "" && !liesAt(g.at, g.info)
	size, err := g.file.Seek(0, io.SeekEnd)
	empty := g.made && !lost && err == nil && size == 0
	closedFirst := runtime.GOOS == "windows" // which removes no open file
	if empty && !closedFirst {
		os.Remove(g.at) // while it is locked, so that nobody begins to record into it
	}
	err = plain(g.path, g.file.Close())
	if empty && closedFirst {
		os.Remove(g.at) // which fails where somebody opened it meanwhile
	}
	if lost {
		err = &Error{Path: g.path, Why: "removed or renamed while it was recorded", Hint: "look for it under another name", Err: fs.ErrNotExist}
	}
	if fault := g.Err(); fault != nil {
		return fault
	}
	return err
}

// keep writes what comes, until it is told to stop.
func (g *Growing) keep() {
	defer close(g.done)
	timer := time.NewTicker(flushEvery)
	defer timer.Stop()
	var chunk []byte
	for last := false; !last; {
		select {
		case <-timer.C:
		case <-g.stop:
			last = true
		}
		g.mutex.Lock()
		chunk, g.pending = g.pending, chunk[:0]
		failed := g.err != nil && !errors.Is(g.err, os.ErrDeadlineExceeded)
		g.mutex.Unlock()
		if failed {
			continue
		}
		if err := g.put(chunk, last); err != nil {
			g.mutex.Lock()
			g.err = plain(g.path, err)
			g.mutex.Unlock()
		}
	}
}

// put brings a chunk to the disk itself.
func (g *Growing) put(chunk []byte, last bool) error {
	if g.pack != nil {
		chunk = g.packedOf(chunk, last)
	}
	if len(chunk) == 0 {
		return nil
	}
	n, err := g.file.Write(chunk)
	if err == nil {
		err = g.file.Sync()
	}
	if err == nil {
		g.written += int64(n)
		return nil
	}
	// No half a line, and no half a block, stays: what comes after a full disk is
	// emptied must not hang on it. What somebody else wrote does. Where this fails too
	// there is nothing left to do.
	if size, seeking := g.file.Seek(0, io.SeekEnd); seeking == nil && size == g.written+int64(n) {
		_ = g.file.Truncate(g.written)
	}
	return err
}

// packedOf packs a chunk so that a reader can read up to its end.
func (g *Growing) packedOf(chunk []byte, last bool) []byte {
	g.packed.b = g.packed.b[:0]
	now := time.Now()
	if len(chunk) > 0 {
		if g.framed.IsZero() {
			g.framed = now
		}
		g.pack.Write(chunk) // memory does not fail
		g.pack.Flush()
	}
	if !g.framed.IsZero() && (last || now.Sub(g.framed) >= frameEvery) {
		g.pack.Close()
		g.pack.Reset(&g.packed)
		g.framed = time.Time{}
	}
	return g.packed.b
}
