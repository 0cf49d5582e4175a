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
	// flushEvery is how often written data is synced to the disk.
	flushEvery = 500 * time.Millisecond
	// frameEvery is how often a frame of a zstd file is closed.
	frameEvery = 5 * time.Second
	// mostUnwritten is by how many bytes the disk may lag behind before writing fails.
	mostUnwritten = 64 << 20
)

// Growing is a file that only grows: what was written stays, whatever happens
// afterwards. New data is synced to the disk at least once a second, so that a crash, a
// power failure or a full disk costs no more than the last second. If the disk is full,
// the file is cut back to the last complete write, unless somebody else has written into
// it, too.
//
// Write does not wait for the disk. Errors of the disk are returned by a later call.
type Growing struct {
	path string
	file target
	own  bool        // opened here, so Close closes it
	at   string      // path of the file, links resolved; "" for devices and pipes
	info fs.FileInfo // of the file when it was opened
	made bool        // created here, so Close removes it if it is empty

	mutex   sync.Mutex // guards pending and err
	pending []byte
	err     error

	written int64 // bytes of complete writes on the disk
	pack    *zstd.Encoder
	packed  packedBytes
	framed  time.Time // when the open zstd frame was begun
	soon    chan struct{}
	stop    chan struct{}
	done    chan struct{}
}

// target is the part of a file's methods that Growing needs.
type target interface {
	io.WriteSeeker
	Sync() error
	Truncate(size int64) error
	Close() error
}

// packedBytes collects the output of the zstd encoder.
type packedBytes struct{ b []byte }

func (p *packedBytes) Write(b []byte) (int, error) {
	p.b = append(p.b, b...)
	return len(b), nil
}

// Create begins a new file, which belongs to this process alone until it is closed. It
// never overwrites anything: an existing file that is not empty is an error, and so is
// one that another process records into. A file whose name ends in .zst is packed by
// zstd, in frames of a few seconds, so that it can be read even if it is cut off. Devices
// and pipes are written directly, and "-" is standard output. Errors are of type *Error.
func Create(path string) (*Growing, error) {
	if path == Stdin {
		return newGrowing(path, notRegular{os.Stdout}, false)
	}
	file, err := os.OpenFile(path, recordFlags, 0)
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

// CreateNew is like Create, but the file must not exist yet, not even as an empty file.
// If it does, the error wraps fs.ErrExist or ErrLocked.
func CreateNew(path string) (*Growing, error) {
	at, err := behindLinks(path)
	if err != nil {
		return nil, plain(path, err)
	}
	file, err := os.OpenFile(at, recordFlags|os.O_CREATE|os.O_EXCL, 0o666)
	if err != nil {
		return nil, plain(path, err)
	}
	return begin(path, file, true)
}

// begin returns a Growing for an open file, or closes the file if somebody else records
// into it.
func begin(path string, file *os.File, made bool) (*Growing, error) {
	g, err := claim(path, file, made)
	if err != nil {
		file.Close()
		return nil, plain(path, err)
	}
	return g, nil
}

// claim returns a Growing for an open file once it is certain that nobody else records
// into it. A file that was created here belongs to nobody else, even where files cannot
// be locked.
func claim(path string, file *os.File, made bool) (*Growing, error) {
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
	case !liesAt(at, info): // its creator removed it before it was locked here
		return nil, &Error{Path: path, Why: "removed while it was being opened", Hint: "try again", Err: fs.ErrNotExist}
	}
	g, err := newGrowing(path, file, true)
	if err == nil {
		g.at, g.info, g.made = at, info, made
	}
	return g, err
}

// liesAt reports whether an open file is the one at path.
func liesAt(path string, file fs.FileInfo) bool {
	there, err := os.Lstat(path)
	return err == nil && os.SameFile(there, file)
}

// notRegular is a device or a pipe, which can be neither synced nor truncated.
type notRegular struct{ *os.File }

func (notRegular) Sync() error          { return nil }
func (notRegular) Truncate(int64) error { return nil }

func newGrowing(path string, file target, own bool) (*Growing, error) {
	g := &Growing{path: path, file: file, own: own, soon: make(chan struct{}, 1), stop: make(chan struct{}), done: make(chan struct{})}
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

// Write takes bytes that belong together, such as complete lines. They are on the disk
// within a second.
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

// Hurry has what was written go to the disk at once instead of within a second. It does
// not wait for that.
func (g *Growing) Hurry() {
	select {
	case g.soon <- struct{}{}:
	default:
	}
}

// Err returns the error that ended writing, or nil.
func (g *Growing) Err() error {
	g.mutex.Lock()
	defer g.mutex.Unlock()
	return g.err
}

// Close writes the remaining data and closes the file. It removes a file that was created
// here and is empty. If the file is no longer where it was opened, Close returns an
// error, as nobody would find the recording.
func (g *Growing) Close() error {
	close(g.stop)
	<-g.done
	if !g.own {
		return g.Err()
	}
	lost := g.at != "" && !liesAt(g.at, g.info)
	size, err := g.file.Seek(0, io.SeekEnd)
	empty := g.made && !lost && err == nil && size == 0
	closedFirst := runtime.GOOS == "windows" // where an open file cannot be removed
	if empty && !closedFirst {
		os.Remove(g.at) // while it is still locked, so that nobody begins to record into it
	}
	err = plain(g.path, g.file.Close())
	if empty && closedFirst {
		os.Remove(g.at) // fails if somebody has opened it meanwhile
	}
	if lost {
		err = &Error{Path: g.path, Why: "removed or renamed while it was being recorded", Hint: "look for it under another name", Err: fs.ErrNotExist}
	}
	if fault := g.Err(); fault != nil {
		return fault
	}
	return err
}

// keep writes pending data at intervals until it is told to stop.
func (g *Growing) keep() {
	defer close(g.done)
	timer := time.NewTicker(flushEvery)
	defer timer.Stop()
	var chunk []byte
	for last := false; !last; {
		select {
		case <-timer.C:
		case <-g.soon:
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

// put writes a chunk and syncs it to the disk.
func (g *Growing) put(chunk []byte, last bool) error {
	if g.pack != nil {
		chunk = g.compress(chunk, last)
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
	// Do not leave half a line or half a block: what is written after somebody has made
	// room must not be appended to it. But keep what somebody else wrote. If truncating
	// fails, too, there is nothing left to do.
	if size, seeking := g.file.Seek(0, io.SeekEnd); seeking == nil && size == g.written+int64(n) {
		_ = g.file.Truncate(g.written)
	}
	return err
}

// compress packs a chunk and flushes it, so that a reader can read up to its end.
func (g *Growing) compress(chunk []byte, last bool) []byte {
	g.packed.b = g.packed.b[:0]
	now := time.Now()
	if len(chunk) > 0 {
		if g.framed.IsZero() {
			g.framed = now
		}
		g.pack.Write(chunk) // writing to memory does not fail
		g.pack.Flush()
	}
	if !g.framed.IsZero() && (last || now.Sub(g.framed) >= frameEvery) {
		g.pack.Close()
		g.pack.Reset(&g.packed)
		g.framed = time.Time{}
	}
	return g.packed.b
}
