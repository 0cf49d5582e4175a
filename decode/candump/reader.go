package candump

import (
	"bufio"
	"bytes"
	"errors"
	"io"

	"lull/decode"
)

const (
	// mostLine is the length in bytes of the longest line that is read, without its line
	// end.
	mostLine = 64 << 10
	// bufferSize is larger, so that a line of that length fits.
	bufferSize = 256 << 10
	// lookahead is how many frames are held back at most until the meaning of their
	// stamps is clear.
	lookahead = 1000
)

// Options are the options of a Reader.
type Options struct {
	// Stamps is the meaning of stamps in seconds: StampsAbsolute, StampsZero or
	// StampsDelta. For StampsUnknown and all others the Reader decides: ten digits of
	// seconds are absolute; smaller stamps are delta if more than one in ten of the
	// first 1,000 is smaller than the one before it, else zero-based.
	Stamps decode.Stamps
}

// Reader reads frames from a text log. Frames with absolute and date stamps are returned at
// once. Frames with small stamps, and frames without a stamp before the first stamp, are
// held back until 1,000 of them show what the stamps mean.
//
// The first stamp decides what kind of stamps the log has. A small stamp decides only if
// other kinds do not outnumber the small ones while frames are held back; otherwise the
// small ones are damaged. Lines with stamps of another kind and lines without a stamp are
// rejected, since it is unknown when their frames were on the bus. In a log that begins
// with 1,000 frames without stamps, lines with stamps are rejected instead.
//
// In a delta log the stamps of rejected lines still add to the time, as far as they can be
// read.
type Reader struct {
	in     *bufio.Reader
	forced decode.Stamps
	names  names

	frame   decode.Frame // the frame that is being read or was returned
	current *decode.Frame
	err     error // what ended the input; io.EOF at its regular end

	settled decode.Stamps // StampsUnknown while frames are held back
	held    []heldFrame
	given   int             // how many of held have been returned, once settled
	clock   int64           // sum of the stamps of a delta log
	pending int64           // sum of the stamps of rejected lines since the last held frame
	fewer   int             // how many small stamps are smaller than the one before
	kinds   [stampKinds]int // number of frames held back, by kind
	last    int64           // the previous small stamp
	small   int64           // line of the first small stamp
	digits  uint8           // digits in the fraction of the first stamp

	afterError bool // the previous line was an error frame or belongs to one
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
	// before is the sum of the stamps of rejected lines between the previous frame and
	// this one, which counts in a delta log.
	before int64
}

// NewReader returns a Reader that reads from r. It buffers, so r may be a file.
func NewReader(r io.Reader, o Options) *Reader {
	reader := newReader(o)
	reader.in = bufio.NewReaderSize(r, bufferSize)
	return reader
}

// newReader returns a Reader without an input, for callers that pass lines to take.
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

// Scan reads the next frame. It returns false at the end of the log or if reading fails;
// Err tells which.
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

// Frame returns the frame that Scan read, or nil if Scan returned false. The next Scan
// overwrites it.
func (r *Reader) Frame() *decode.Frame { return r.current }

// Err returns the error that ended reading, or nil at the regular end of the log.
func (r *Reader) Err() error {
	if errors.Is(r.err, io.EOF) {
		return nil
	}
	return r.err
}

// readLine reads and counts one line, or a run of empty lines. It reports whether r.frame
// is a frame to be returned now.
func (r *Reader) readLine() bool {
	line, long := r.nextLine()
	if len(line) == 0 && !long {
		return false // the end
	}
	if line[0] == '\n' && !long {
		more, _ := r.in.Peek(r.in.Buffered()) // peeking at buffered bytes cannot fail
		n, _ := r.in.Discard(lineEnds(more))
		r.info.Bytes += int64(n)
		r.blank(1 + n)
		return false
	}
	return r.take(line, long)
}

// blank counts n empty lines at once, since a small packed file may contain gigabytes of
// them.
func (r *Reader) blank(n int) {
	r.info.Lines += int64(n)
	r.info.Blank += int64(n)
}

// lineEnds returns the number of line ends at the beginning of the text.
func lineEnds(text []byte) int { return len(text) - len(bytes.TrimLeft(text, "\n")) }

// take counts one line, which includes its line end if it has one, and reports whether
// r.frame is a frame to be returned now. If the line is too long, line may be any part of
// it.
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
		// Skip a byte order mark, which some editors write.
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

// nextLine returns the next line with its line end, if it has one. At the end of the input
// the line is empty. If the line is too long, nextLine returns only its last part.
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
				part = []byte{0} // the input ends right after a full buffer
			}
			return part, true
		}
		return part, false
	}
}

// isOther counts a line that is neither a frame nor bad: a blank line, a comment, a
// continuation line of an error frame, or a report of dropped frames. It returns false for
// any other line.
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

// checkDigits detects a stamp that has lost or gained a digit. candump writes six or nine
// digits; a log that begins with another number comes from another tool, which is expected
// to keep to that number.
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

// meet notes the name of an interface.
func (r *Reader) meet(bus string) {
	r.lastBus = bus
	if _, known := r.buses[bus]; !known && len(r.buses) < mostNames {
		r.buses[bus] = struct{}{}
		r.info.Interfaces = append(r.info.Interfaces, bus)
	}
}

// reject counts a bad line and keeps its place if it is among the first ten. Frames that
// were held back may be rejected after later lines.
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
