package candump

import (
	"bytes"
	"encoding/binary"
	"io"
	"math"
	"runtime"
	"sync"
	"sync/atomic"

	"lull/decode"
)

const (
	// blockSize is how much text a worker takes at a time. It fits into the second-level
	// cache of a core, which blocks of megabytes do not.
	blockSize = 256 << 10
	// firstBlock is the size of the first block. It is small because it is read line by
	// line, to find out what the stamps mean; until that is known, the texts of all
	// blocks must be kept.
	firstBlock = 4 << 10
)

// block is a part of a log on its way from the input to the analysis.
type block struct {
	size  int    // of its text in bytes
	text  []byte // complete lines, except for the last one of the log; meaningless if items say everything
	items []item
	names []string
	lines uint32
	// long is the number of bytes of a line that is too long to be kept; whole reports
	// whether its end was seen.
	long  int64
	whole bool
	err   error // what ended the input after this block
	ready chan struct{}
}

// BlockReader reads the same frames as a Reader, with the same counts and remarks, but with
// several goroutines and only for the frames of a map: frames that the Filter does not want
// are reported only as runs, by Passed. It is meant for complete logs. A live stream is
// better read by a Reader, which does not wait until a block is full.
type BlockReader struct {
	*Reader
	passed decode.Passed

	in    *cutter
	lines *fastLines // for the caller of Scan
	order chan *block
	free  chan *block
	stop  chan struct{}
	once  sync.Once
	// settledPlain tells the workers that plain is true.
	settledPlain atomic.Bool

	current *block
	items   []item                  // of the current block, if plain
	next    int                     // index into items
	at      int                     // offset in current.text, if lines are read one by one
	plain   bool                    // the items of the workers are used
	base    int64                   // number of lines before the current block
	bus     int                     // of the previous item, as item.bus; -1 at the start of a block
	met     [math.MaxUint8 + 1]bool // which interfaces items of the current block had
	dirty   bool                    // the general path has written to the frame since
}

// NewBlockReader returns a BlockReader that reads from r in the goroutine that calls Scan
// and in the given number of additional workers, which may be 0. A nil filter wants every
// frame. Close ends the workers; it must be called unless Scan has returned false.
func NewBlockReader(r io.Reader, o Options, filter *decode.Filter, workers int) *BlockReader {
	return newBlockReader(r, o, filter, workers, blockSize)
}

func newBlockReader(r io.Reader, o Options, filter *decode.Filter, workers, size int) *BlockReader {
	b := &BlockReader{
		Reader: newReader(o),
		in:     &cutter{r: r, size: size, limit: size + mostLine + 1},
		lines:  newFastLines(filter),
		order:  make(chan *block, 8*workers+9),
		free:   make(chan *block, 8*workers+9),
		stop:   make(chan struct{}),
	}
	for range cap(b.free) {
		b.free <- &block{ready: make(chan struct{}, 1)}
	}
	for range workers {
		go b.work(filter)
	}
	return b
}

// Close ends the workers. It does not close the input, and the workers may read from it
// until they notice.
func (b *BlockReader) Close() { b.once.Do(func() { close(b.stop) }) }

// work reads and parses block after block.
func (b *BlockReader) work(filter *decode.Filter) {
	f := newFastLines(filter)
	for {
		select {
		case k := <-b.free:
			b.in.acquire()
			if !b.do(k, f) {
				return
			}
		case <-b.stop:
			return
		}
	}
}

// help does the work of a worker for one block, unless it would have to wait for it. It
// reports whether it did.
func (b *BlockReader) help() bool {
	select {
	case k := <-b.free:
		if !b.in.tryAcquire() {
			b.free <- k
			return false
		}
		return b.do(k, b.lines)
	default:
		return false
	}
}

// do reads a block from the input, which must be locked, unlocks the input and parses the
// block. It returns false if the input has ended.
func (b *BlockReader) do(k *block, f *fastLines) bool {
	if b.in.err != nil {
		b.in.Unlock()
		b.free <- k
		return false
	}
	// A worker keeps its buffer, which is in the cache of its core, unless the text is
	// still needed.
	k.text, f.buffer = f.buffer, k.text
	if k.text == nil {
		k.text = make([]byte, 0, b.in.limit+fastReach)
	}
	b.in.cut(k)
	b.order <- k // never blocks: there is room for every block
	b.in.Unlock()

	k.size = len(k.text)
	k.items, k.lines = f.parse(k.items[:0], k.text)
	if !f.odd && b.settledPlain.Load() {
		k.text, f.buffer = f.buffer, k.text
	}
	k.names = append(k.names[:0], f.names...)
	k.ready <- struct{}{}
	return true
}

// cutter cuts the input into blocks at line ends.
type cutter struct {
	sync.Mutex
	r     io.Reader
	size  int  // of a block, as long as it has a line end
	begun bool // the first block was cut
	// limit is longer than the longest line that is read, so a block of this size
	// without a line end is part of a line that is too long.
	limit int
	carry []byte // the beginning of the next block
	long  bool   // within a line that is too long
	err   error
}

// acquire locks the input. It spins for a while first, because sleeping and waking up takes
// longer than cutting a block, unless the input is slow.
func (c *cutter) acquire() {
	if !c.tryAcquire() {
		c.Lock()
	}
}

// tryAcquire locks the input unless it stays locked for much longer than it takes to cut a
// block.
func (c *cutter) tryAcquire() bool {
	for range 500 {
		if c.TryLock() {
			return true
		}
		runtime.Gosched()
	}
	return false
}

// cut reads the next block.
func (c *cutter) cut(k *block) {
	k.long, k.whole, k.err = 0, false, nil
	buffer := k.text[:c.limit]
	n := copy(buffer, c.carry)
	c.carry = c.carry[:0]
	size := c.size
	if !c.begun {
		c.begun, size = true, min(size, firstBlock)
	}
	end := 0 // offset after the last line end
	for {
		for n < size && c.err == nil {
			m, err := c.r.Read(buffer[n:size])
			n += m
			c.err = err
		}
		if end = bytes.LastIndexByte(buffer[:n], '\n') + 1; c.long || end > 0 || c.err != nil || n == c.limit {
			break
		}
		size = c.limit // the line goes on
	}
	if c.long || end == 0 && n > mostLine+1 {
		c.passLong(k, buffer, n)
		return
	}
	if c.err != nil {
		k.text, k.err = buffer[:n], c.err
		return
	}
	k.text = buffer[:end]
	c.carry = append(c.carry, buffer[end:n]...)
}

// passLong skips a part of a line that is too long.
func (c *cutter) passLong(k *block, buffer []byte, n int) {
	k.text = buffer[:0]
	c.long = true
	k.long = int64(n)
	if end := bytes.IndexByte(buffer[:n], '\n') + 1; end > 0 {
		c.long, k.whole, k.long = false, true, int64(end)
		// What follows may be longer than the usual carry, but not longer than a
		// block.
		c.carry = append(c.carry, buffer[end:n]...)
	}
	if c.err != nil && len(c.carry) > 0 {
		// The rest becomes a block of its own, and the error follows it.
		c.r, c.err = ended{c.err}, nil
	}
	k.err = c.err
}

// ended is an input that returns only the error that ended another.
type ended struct{ err error }

func (e ended) Read([]byte) (int, error) { return 0, e.err }

// Scan reads the next frame, or skips a run of frames. In the second case Frame returns nil
// and Passed returns the run. Frames skipped close before one that is read are counted in
// that frame's Skipped. Scan returns false at the end of the log or if reading fails; Err
// tells which.
func (b *BlockReader) Scan() bool {
	r := b.Reader
	if b.next < len(b.items) && b.items[b.next].kind == itemFrame {
		b.next++
		b.frame(&b.items[b.next-1])
		return true
	}
	for {
		if r.settled != decode.StampsUnknown && r.given < len(r.held) {
			r.current = &r.held[r.given].frame
			r.given++
			return true
		}
		r.current = nil
		if r.given > 0 {
			r.held, r.given = nil, 0
		}
		if b.current == nil {
			if r.err != nil {
				b.Close()
				return false
			}
			b.fetch()
		}
		if b.step() {
			return true
		}
		if b.current == nil && r.err != nil && r.settled == decode.StampsUnknown {
			r.settle()
		}
	}
}

// Passed returns the run of frames that Scan skipped. It is valid if Frame returns nil.
func (b *BlockReader) Passed() decode.Passed { return b.passed }

// fetch takes the next block. While that is not ready, it helps the workers.
func (b *BlockReader) fetch() {
	k := next(b, b.order)
	next(b, k.ready)
	b.current, b.next, b.at, b.bus = k, 0, 0, -1
	clear(b.met[:])
	b.base = b.info.Lines
	b.info.Bytes += int64(k.size) + k.long
	for i, name := range k.names {
		// Equal names share one string, even across blocks.
		if same, why := b.Reader.names.intern([]byte(name)); why == accepted {
			k.names[i] = same
		}
	}
	// The items can be used if their stamps need no judging.
	b.plain = b.settled == decode.StampsAbsolute &&
		(b.forced == decode.StampsUnknown || b.forced == decode.StampsAbsolute)
	if !b.plain {
		return
	}
	b.items = k.items
	if !b.settledPlain.Load() {
		b.settledPlain.Store(true)
	}
	if len(k.items) > 0 {
		b.info.StampDigits = max(b.info.StampDigits, 6)
	}
}

// next receives from a channel of the workers, and helps them until something arrives.
func next[T any](b *BlockReader, from <-chan T) T {
	for {
		select {
		case v := <-from:
			return v
		default:
		}
		if !b.help() {
			return <-from
		}
	}
}

// step takes one item or one line from the current block, or ends the block. It reports
// whether Scan is to return.
func (b *BlockReader) step() bool {
	k, r := b.current, b.Reader
	switch {
	case k.long > 0:
		return b.stepLong(k)
	case b.next < len(b.items):
		it := &b.items[b.next]
		b.next++
		switch it.kind {
		case itemFrame:
			b.frame(it)
			return true
		case itemPassed:
			b.pass(it)
			return true
		}
		r.info.Lines = b.base + int64(it.line)
		return b.line(int(it.data))
	case !b.plain && b.at < len(k.text):
		return b.line(b.at)
	}
	r.info.Lines = b.base + int64(k.lines)
	b.release()
	return false
}

// line hands the line that begins at this offset to the general path, or counts the empty
// lines that begin there.
func (b *BlockReader) line(at int) bool {
	text := b.current.text
	if n := lineEnds(text[at:]); n > 0 {
		b.at = at + n
		b.Reader.blank(n)
		return false
	}
	end := bytes.IndexByte(text[at:], '\n') + 1
	if end == 0 {
		end = len(text) - at
		b.err = b.current.err
	}
	b.at, b.dirty = at+end, true
	line := text[at : at+end]
	size := end
	if line[end-1] == '\n' {
		size--
	}
	b.Reader.frame.Skipped = 0
	if b.take(line, size > mostLine) {
		b.Reader.current = &b.Reader.frame
		return true
	}
	return false
}

// stepLong counts a line that is too long when its last part has come.
func (b *BlockReader) stepLong(k *block) bool {
	if k.whole || k.err != nil {
		last := []byte{'\n'}
		if !k.whole {
			last[0] = 0
		}
		b.take(last, true)
	}
	b.release()
	return false
}

// release returns the current block to the workers and notes the end of the input.
func (b *BlockReader) release() {
	k := b.current
	b.current, b.items = nil, nil
	if k.err != nil {
		b.err = k.err
	}
	b.free <- k
}

// frame makes the frame of an item the current one. It counts the frame and those skipped
// close before it like the general path.
func (b *BlockReader) frame(it *item) {
	r, f := b.Reader, &b.Reader.frame
	if int(it.bus) != b.bus || b.dirty {
		b.meet(it.bus)
	}
	if b.dirty {
		clear(f.Data[8:])
		b.dirty = false
	}
	r.afterError = false
	r.info.Accepted += 1 + int64(it.n)
	f.Time, f.Line, f.ID, f.Flags, f.Len, f.RawDLC, f.Skipped = it.time, b.base+int64(it.line)+1, it.id, decode.Flags(it.flag), it.len, 0, it.n
	binary.LittleEndian.PutUint64(f.Data[:8], it.data)
	r.current = f
}

// pass makes the run of an item the current one and counts its frames.
func (b *BlockReader) pass(it *item) {
	b.Reader.afterError = false
	b.meet(it.bus)
	b.info.Accepted += int64(it.n)
	b.passed = decode.Passed{Count: int64(it.n), First: it.time, Last: int64(it.data), Line: b.base + int64(it.line) + 1}
}

// meet sets the interface of the frame to that of an item.
func (b *BlockReader) meet(bus uint8) {
	b.bus = int(bus)
	r, name := b.Reader, b.current.names[bus]
	switch {
	case b.met[bus]: // in this block, as nearly always where two interfaces take turns
		r.lastBus = name
	case name != r.lastBus:
		r.meet(name)
	}
	b.met[bus] = true
	r.frame.Bus = name
}
