package candump

import (
	"bytes"
	"encoding/binary"
	"io"
	"sync"

	"lull/decode"
)

const (
	// blockSize is how much text one worker takes at a time. It fits a core's
	// second-level cache, which blocks of megabytes do not.
	blockSize = 128 << 10
)

// block is a piece of a log on its way from the input to the analysis.
type block struct {
	text  []byte // whole lines, but for the log's last one
	items []item
	names []string
	lines uint32
	// long is the number of bytes of a line that is too long and of which nothing
	// is held; whole tells whether its end was seen.
	long  int64
	whole bool
	err   error // what ended the input behind this block
	ready chan struct{}
}

// BlockReader reads the same frames as a Reader, and counts and remarks the same,
// with several goroutines and for a map's frames alone: frames that the Filter
// does not want are told only in runs. It is for logs that lie somewhere whole; a
// live stream is better read by a Reader, which waits for no block to fill.
type BlockReader struct {
	*Reader
	passed decode.Passed

	order chan *block
	free  chan *block
	stop  chan struct{}
	once  sync.Once

	current *block
	next    int  // of current.items
	at      int  // in current.text, where the lines are read one by one
	plain   bool // current's items are used
	base    int64
	dirty   bool // frame may hold payload bytes beyond the eighth
}

// NewBlockReader reads from r with so many workers, at least one. A nil filter
// wants every frame. Close ends the workers; it must be called unless Scan gave
// false.
func NewBlockReader(r io.Reader, o Options, filter *decode.Filter, workers int) *BlockReader {
	return newBlockReader(r, o, filter, workers, blockSize)
}

func newBlockReader(r io.Reader, o Options, filter *decode.Filter, workers, size int) *BlockReader {
	workers = max(workers, 1)
	b := &BlockReader{
		Reader: newReader(o),
		order:  make(chan *block, 2*workers+1),
		free:   make(chan *block, 2*workers+1),
		stop:   make(chan struct{}),
	}
	for range cap(b.free) {
		b.free <- &block{text: make([]byte, 0, size+mostLine+1+fastReach), ready: make(chan struct{}, 1)}
	}
	in := &cutter{r: r, size: size, limit: size + mostLine + 1}
	for range workers {
		go b.work(in, filter)
	}
	return b
}

// Close ends the workers. It does not close the input, which may still be read
// from until they notice.
func (b *BlockReader) Close() { b.once.Do(func() { close(b.stop) }) }

// work takes block after block off the input and parses it.
func (b *BlockReader) work(in *cutter, filter *decode.Filter) {
	f := fastLines{filter: filter}
	for {
		var k *block
		select {
		case k = <-b.free:
		case <-b.stop:
			return
		}
		in.Lock()
		if in.err != nil {
			in.Unlock()
			return
		}
		in.cut(k)
		last := in.err != nil
		b.order <- k // never blocks: there is room for every block
		in.Unlock()

		k.items, k.lines = f.parse(k.items[:0], k.text)
		k.names = k.names[:0]
		for i := range f.names {
			k.names = append(k.names, f.names[i].text)
		}
		k.ready <- struct{}{}
		if last {
			return
		}
	}
}

// cutter cuts the input into blocks at line ends.
type cutter struct {
	sync.Mutex
	r     io.Reader
	size  int // of a block, as long as it has a line end
	limit int // more than the longest line that is read: a block of this size
	// without a line end is a line that is too long
	carry []byte // the beginning of the next block
	long  bool   // within a line that is too long
	err   error
}

// cut reads the next block.
func (c *cutter) cut(k *block) {
	k.long, k.whole, k.err = 0, false, nil
	buffer := k.text[:c.limit]
	n := copy(buffer, c.carry)
	c.carry = c.carry[:0]
	size := c.size
	end := 0 // behind the last line end
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

// passLong passes over a part of a line that is too long.
func (c *cutter) passLong(k *block, buffer []byte, n int) {
	k.text = buffer[:0]
	c.long = true
	k.long = int64(n)
	if end := bytes.IndexByte(buffer[:n], '\n') + 1; end > 0 {
		c.long, k.whole, k.long = false, true, int64(end)
		// What follows may be longer than a carry is meant to be, and no longer
		// than a block.
		c.carry = append(c.carry, buffer[end:n]...)
	}
	if c.err != nil && len(c.carry) > 0 {
		// The rest is a block of its own: the end is told behind it.
		c.r, c.err = ended{c.err}, nil
	}
	k.err = c.err
}

// ended is an input that gives nothing but the error that ended another.
type ended struct{ err error }

func (e ended) Read([]byte) (int, error) { return 0, e.err }

// Scan reads up to the next frame, or the next run of frames passed over. It
// gives false at the end of the log or when reading fails; Err tells which.
func (b *BlockReader) Scan() bool {
	r := b.Reader
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

// Passed gives the run of frames that Scan passed over, where Frame is nil.
func (b *BlockReader) Passed() decode.Passed { return b.passed }

// fetch waits for the next block.
func (b *BlockReader) fetch() {
	k := <-b.order
	<-k.ready
	b.current, b.next, b.at = k, 0, 0
	b.base = b.info.Lines
	b.info.Bytes += int64(len(k.text)) + k.long
	for i, name := range k.names {
		// Equal names share one string, over blocks too.
		if same, why := b.Reader.names.intern([]byte(name)); why == accepted {
			k.names[i] = same
		}
	}
	// The items are good where their stamps need no judging.
	b.plain = b.settled == decode.StampsAbsolute &&
		(b.forced == decode.StampsUnknown || b.forced == decode.StampsAbsolute)
	if b.plain && len(k.items) > 0 {
		b.info.StampDigits = max(b.info.StampDigits, 6)
	}
}

// step takes one item, or one line, off the current block, or ends it.
func (b *BlockReader) step() bool {
	k, r := b.current, b.Reader
	switch {
	case k.long > 0:
		return b.stepLong(k)
	case b.plain && b.next < len(k.items):
		it := &k.items[b.next]
		b.next++
		if it.kind == itemOdd {
			r.info.Lines = b.base + int64(it.line)
			return b.line(int(it.at))
		}
		b.account(it)
		return true
	case !b.plain && b.at < len(k.text):
		return b.line(b.at)
	}
	r.info.Lines = b.base + int64(k.lines)
	b.release()
	return false
}

// line hands the line that begins at this place to the general path.
func (b *BlockReader) line(at int) bool {
	text := b.current.text
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
	if b.take(line, size > mostLine) {
		b.Reader.current = &b.Reader.frame
		return true
	}
	return false
}

// stepLong counts a line that is too long when its last part comes.
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

// release gives the current block back and takes note of the input's end.
func (b *BlockReader) release() {
	k := b.current
	b.current = nil
	if k.err != nil {
		b.err = k.err
	}
	b.free <- k
}

// account counts an item as the general path would, and makes it the current
// frame or run.
func (b *BlockReader) account(it *item) {
	r, f := b.Reader, &b.Reader.frame
	r.afterError = false
	if bus := b.current.names[it.bus]; bus != r.lastBus {
		r.meet(bus)
	}
	line := b.base + int64(it.line) + 1
	if it.kind == itemPassed {
		r.info.Accepted += int64(it.n)
		b.passed = decode.Passed{Count: int64(it.n), First: it.time, Last: it.last, Line: line}
		return
	}
	r.info.Accepted++
	if f.Bus != r.lastBus {
		f.Bus = r.lastBus
	}
	f.Time, f.Line, f.ID, f.Flags, f.Len, f.RawDLC = it.time, line, it.id, it.flag, it.len, 0
	binary.LittleEndian.PutUint64(f.Data[:8], it.data)
	if b.dirty {
		clear(f.Data[8:])
		b.dirty = false
	}
	if r.current == nil {
		r.current = f
	}
}
