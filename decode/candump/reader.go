package candump

import (
	"bufio"
	"bytes"
	"errors"
	"io"

	"lull/decode"
)

const (
	// mostLine is the longest line that is read, in bytes without its line end.
	mostLine = 64 << 10
	// bufferSize is more, so that a line of just that length still fits.
	bufferSize = 256 << 10
	// lookahead is how many frames are held back while it is not yet clear what
	// their stamps mean.
	lookahead = 1000
)

// Options decide how a log is read.
type Options struct {
	// Stamps says what stamps in seconds mean: StampsAbsolute, StampsZero or
	// StampsDelta. StampsUnknown, and any other, leaves it to the log: ten
	// digits of seconds are absolute; smaller ones are delta where among the
	// first 1,000 more than one in ten is smaller than the one before it, else
	// zero-based.
	Stamps decode.Stamps
}

// Reader reads frames from a text log. Absolute and date stamps are given out
// at once. Frames with small stamps, and frames without one that come before
// any stamp, are held back until 1,000 of them show how the log is to be read.
//
// The first stamp settles what the log's stamps are; a small one only where it
// is not outnumbered while frames are held back, as it is damaged then. Lines with stamps of
// another kind, and lines without one, are rejected: there is no telling when
// their frames were on the bus. In a log that began with 1,000 frames without
// stamps it is the stamped lines that are rejected.
//
// In a delta log the stamps of rejected lines still add to the time, as far as
// they can be read.
type Reader struct {
	in     *bufio.Reader
	forced decode.Stamps
	names  names

	frame   decode.Frame // scratch, and the frame given out
	current *decode.Frame
	err     error // what ended the input; io.EOF at its clean end

	settled decode.Stamps // StampsUnknown while frames are held back
	held    []heldFrame
	given   int             // of held, once settled
	clock   int64           // delta: running sum
	pending int64           // delta, while frames are held: of rejected lines since the last held one
	fewer   int             // small stamps held that are smaller than the one before
	kinds   [stampKinds]int // of the frames held back
	last    int64           // the small stamp before
	small   int64           // line of the first small stamp
	digits  uint8           // of the first stamp's fraction

	afterError bool // the line before was an error frame or belongs to one
	lastBus    string
	buses      map[string]struct{}

	info     decode.Info
	reasons  [reasonCount]int64
	places   []decode.Place
	dropped  int64
	dropLine int64
	cutLine  int64
}

type heldFrame struct {
	frame decode.Frame
	stamp stamp
	// before is what rejected lines since the frame before add in a delta log.
	before int64
}

// NewReader reads from r. It buffers, so r may be a file.
func NewReader(r io.Reader, o Options) *Reader {
	reader := newReader(o)
	reader.in = bufio.NewReaderSize(r, bufferSize)
	return reader
}

// newReader makes one that is given its lines.
func newReader(o Options) *Reader {
	switch o.Stamps {
	case decode.StampsAbsolute, decode.StampsZero, decode.StampsDelta:
	default:
		o.Stamps = decode.StampsUnknown
	}
	return &Reader{
		forced: o.Stamps,
		buses:  make(map[string]struct{}),
	}
}

// Scan reads up to the next frame. It gives false at the end of the log or when
// reading fails; Err tells which.
func (r *Reader) Scan() bool {
	for {
		if r.settled != decode.StampsUnknown && r.given < len(r.held) {
			r.current = &r.held[r.given].frame
			r.given++
			return true
		}
		r.current = nil
		if r.err != nil {
			return false
		}
		if r.given > 0 {
			r.held, r.given = nil, 0
		}
		if r.readLine() {
			r.current = &r.frame
			return true
		}
		if r.err != nil && r.settled == decode.StampsUnknown {
			r.settle()
		}
	}
}

// Frame returns the frame that Scan read. The reader owns it until the next Scan;
// it is nil where Scan gave false.
func (r *Reader) Frame() *decode.Frame { return r.current }

// Err returns the fault that ended reading, nil at the log's own end.
func (r *Reader) Err() error {
	if errors.Is(r.err, io.EOF) {
		return nil
	}
	return r.err
}

// readLine reads and counts one line; it tells whether r.frame is a frame to be
// given out now.
func (r *Reader) readLine() bool {
	line, long := r.nextLine()
	if len(line) == 0 && !long {
		return false // the end
	}
	if line[0] == '\n' && !long {
		more, _ := r.in.Peek(r.in.Buffered()) // what is there cannot fail
		n, _ := r.in.Discard(lineEnds(more))
		r.info.Bytes += int64(n)
		r.blank(1 + n)
		return false
	}
	return r.take(line, long)
}

// blank counts so many empty lines at once: a small packed file may have gigabytes of
// them.
func (r *Reader) blank(n int) {
	r.info.Lines += int64(n)
	r.info.Blank += int64(n)
}

// lineEnds returns how many line ends the text begins with.
func lineEnds(text []byte) int { return len(text) - len(bytes.TrimLeft(text, "\n")) }

// take counts one line, with its line end if it has one; it tells whether r.frame
// is a frame to be given out now. Of a line that is too long it may be any
// part.
func (r *Reader) take(line []byte, long bool) bool {
	r.info.Lines++
	whole := line[len(line)-1] == '\n'
	if long {
		r.afterError = false
		r.reject(r.info.Lines, mostLine+1, tooLong)
		if !whole {
			r.cutLine = r.info.Lines
		}
		return false
	}
	if whole {
		line = line[:len(line)-1]
	}
	skipped := 0
	if r.info.Lines == 1 {
		// A byte order mark, as Windows editors leave it.
		if rest, ok := bytes.CutPrefix(line, []byte("\xEF\xBB\xBF")); ok {
			line, skipped = rest, 3
		}
	}
	if !whole && r.Err() != nil {
		r.reject(r.info.Lines, skipped+len(line)+1, cutByFault)
		r.cutLine = r.info.Lines
		return false
	}

	s, why, column := parseLine(line, &r.frame, &r.names)
	if why != accepted {
		if blankColours(line) {
			s, why, column = parseLine(line, &r.frame, &r.names)
		}
		if why != accepted {
			if r.isOther(line, skipped) {
				return false
			}
			r.afterError = false
			if at := noTextAt(line); at >= 0 {
				why, column = notText, at+1
			}
			r.reject(r.info.Lines, skipped+column, why)
			r.passTime(s)
			if !whole {
				r.cutLine = r.info.Lines
			}
			return false
		}
	}
	r.afterError = r.frame.Flags.Has(decode.Error)
	r.frame.Line = r.info.Lines
	if why = r.checkDigits(s); why != accepted {
		r.reject(r.info.Lines, skipped+bytes.IndexByte(line, '.')+2, why)
		return false
	}
	return r.judge(s)
}

// nextLine returns the next line with its line end, if it has one. It is empty
// at the end. Of a line that is too long only some last part is returned.
func (r *Reader) nextLine() (line []byte, long bool) {
	for {
		part, err := r.in.ReadSlice('\n')
		r.info.Bytes += int64(len(part))
		if errors.Is(err, bufio.ErrBufferFull) {
			long = true
			continue
		}
		if err != nil {
			r.err = err
		}
		end := len(part)
		if err == nil {
			end--
		}
		if long || end > mostLine {
			if len(part) == 0 {
				part = []byte{0} // the end follows right behind a full buffer
			}
			return part, true
		}
		return part, false
	}
}

// isOther counts lines that are neither frames nor bad: blank ones, comments,
// continuation lines of an error frame, reports of dropped frames.
func (r *Reader) isOther(line []byte, skipped int) bool {
	start := skipBlanks(line, 0)
	text := bytes.TrimRight(line[start:], " \t\r\f\v")
	switch {
	case len(text) == 0:
		r.info.Blank++
	case text[0] == '#':
		r.info.Comments++
	case r.afterError && isContinuation(line[:start], text):
		r.info.Comments++
	case bytes.HasPrefix(text, []byte("DROPCOUNT")):
		r.afterError = false
		n, at := dropCount(text)
		if at >= 0 {
			r.reject(r.info.Lines, skipped+start+at+1, dropNumber)
			if r.err != nil {
				r.cutLine = r.info.Lines
			}
			return true
		}
		r.info.Remarked++
		if r.dropLine == 0 {
			r.dropLine = r.info.Lines
		}
		if r.dropped += n; r.dropped < 0 {
			r.dropped = 1<<63 - 1
		}
	default:
		return false
	}
	return true
}

// checkDigits notices a stamp that lost or gained a digit. candump writes six or
// nine; a log that begins with another number comes from another tool and keeps
// to it.
func (r *Reader) checkDigits(s stamp) reason {
	if s.kind == stampNone || s.digits == 6 || s.digits == 9 || s.digits == r.digits {
		return accepted
	}
	if r.digits != 0 {
		return stampDigits
	}
	return accepted
}

// accept counts the frame.
func (r *Reader) accept(f *decode.Frame, s stamp) {
	r.info.Accepted++
	switch {
	case f.Flags.Has(decode.Error):
		r.info.ErrorFrames++
	case f.Flags.Has(decode.Remote):
		r.info.RemoteFrames++
	}
	r.info.StampDigits = max(r.info.StampDigits, int(s.digits))
	if f.Bus != r.lastBus {
		r.meet(f.Bus)
	}
}

// meet takes note of an interface.
func (r *Reader) meet(bus string) {
	r.lastBus = bus
	if _, known := r.buses[bus]; !known && len(r.buses) < mostNames {
		r.buses[bus] = struct{}{}
		r.info.Interfaces = append(r.info.Interfaces, bus)
	}
}

// reject counts a bad line and keeps its place if it is among the first ten.
// Frames that were held back may turn out bad after later lines did.
func (r *Reader) reject(line int64, column int, why reason) {
	r.info.Rejected++
	r.reasons[why]++
	at := len(r.places)
	for at > 0 && r.places[at-1].Line > line {
		at--
	}
	if at == decode.MaxPlaces {
		return
	}
	if len(r.places) == decode.MaxPlaces {
		r.places = r.places[:decode.MaxPlaces-1]
	}
	r.places = append(r.places, decode.Place{})
	copy(r.places[at+1:], r.places[at:])
	r.places[at] = decode.Place{Line: line, Column: int64(column), Why: why.String()}
}
