package live

import (
	"bufio"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"strings"

	"lull/decode"
	"lull/decode/capture"
)

// The stream of a played log begins with streamMagic. Then come items, each with a head of
// headSize bytes. All numbers are little-endian:
//
//	byte 0      kind: itemFrame or itemEnd
//	byte 1      length of the interface's name
//	byte 2      direction: 1 received, 2 transmitted, 0 if the log does not tell
//	byte 3      0
//	bytes 4-11  time in ns, as decode.Frame.Time
//
// The head of a frame is followed by the interface's name and the 72 bytes of the kernel's
// CAN FD layout (struct canfd_frame of linux/can.h), even for classic frames. Nothing
// follows the end item. A connection that ends without one is broken.
const (
	streamMagic = "lull 1\r\n"
	headSize    = 12
	itemFrame   = 'F'
	itemEnd     = 'E'
	received    = 1
	transmitted = 2
	fdFlag      = 4 // CANFD_FDF of linux/can.h, in a record's sixth byte
)

// Writer writes frames into a stream. It buffers them; Flush sends what is buffered.
type Writer struct {
	out    *bufio.Writer
	record []byte
	begun  bool
}

// NewWriter returns a Writer. Nothing is written before the first call of a method.
func NewWriter(w io.Writer) *Writer { return &Writer{out: bufio.NewWriterSize(w, 64<<10)} }

// Frame writes one frame. It truncates an interface name of more than 255 bytes.
func (w *Writer) Frame(f *decode.Frame) error {
	w.begin()
	name := f.Bus[:min(len(f.Bus), 255)]
	var direction byte
	if f.Flags.Has(decode.Received) {
		direction |= received
	}
	if f.Flags.Has(decode.Transmitted) {
		direction |= transmitted
	}
	w.record = append(w.record[:0], itemFrame, byte(len(name)), direction, 0)
	w.record = binary.LittleEndian.AppendUint64(w.record, uint64(f.Time))
	w.record = append(w.record, name...)
	at := len(w.record)
	w.record = capture.AppendRecord(w.record, f)
	turn(w.record[at:], binary.LittleEndian)
	_, err := w.out.Write(w.record)
	return err
}

// End writes the end of the log and flushes.
func (w *Writer) End() error {
	w.begin()
	// Flush returns any error of this write.
	w.out.Write([]byte{itemEnd, 11: 0})
	return w.out.Flush()
}

// Flush sends what is buffered.
func (w *Writer) Flush() error {
	w.begin()
	return w.out.Flush()
}

func (w *Writer) begin() {
	if !w.begun {
		w.begun = true
		w.out.WriteString(streamMagic) // Flush returns any error
	}
}

// turn converts the identifier of a record between the given byte order and big-endian.
func turn(record []byte, order binary.ByteOrder) {
	binary.BigEndian.PutUint32(record, order.Uint32(record))
}

var (
	// errEnded reports the regular end of a stream.
	errEnded = errors.New("the log has ended")
	// errNoStream reports data that no Writer has written.
	errNoStream = errors.New("this is not the stream of a played log")
)

// stream reads frames written by a Writer.
type stream struct {
	in     *bufio.Reader
	closer io.Closer
	begun  bool
	names  map[string]string
}

func newStream(c io.ReadCloser) *stream {
	return &stream{in: bufio.NewReaderSize(c, 64<<10), closer: c, names: make(map[string]string)}
}

func (s *stream) close() error { return s.closer.Close() }

// read waits for a frame and also reads those that have arrived with it. An error follows
// the n frames.
func (s *stream) read(frames []decode.Frame) (n int, dropped uint32, err error) {
	if !s.begun {
		head := make([]byte, len(streamMagic))
		if _, err := io.ReadFull(s.in, head); err != nil {
			return 0, 0, err
		}
		if string(head) != streamMagic {
			return 0, 0, errNoStream
		}
		s.begun = true
	}
	const most = headSize + 255 + capture.FDRecord
	for n < len(frames) && (n == 0 || s.in.Buffered() >= most) {
		if err := s.item(&frames[n]); err != nil {
			return n, 0, err
		}
		n++
	}
	return n, 0, nil
}

// item reads one item. A frame that a log cannot contain is an error, since no Writer has
// written it.
func (s *stream) item(f *decode.Frame) error {
	var head [headSize]byte
	if _, err := io.ReadFull(s.in, head[:]); err != nil {
		return err
	}
	if head[0] == itemEnd {
		return errEnded
	}
	if head[0] != itemFrame {
		return fmt.Errorf("%w: an item of the unknown kind %q", errNoStream, head[0])
	}
	body := make([]byte, int(head[1])+capture.FDRecord)
	if _, err := io.ReadFull(s.in, body); err != nil {
		return err
	}
	name, record := body[:head[1]], body[head[1]:]
	turn(record, binary.LittleEndian)
	if record[5]&fdFlag == 0 {
		record = record[:capture.ClassicRecord]
	}
	if err := capture.ParseRecord(record, f); err != nil {
		return fmt.Errorf("%w: %w", errNoStream, err)
	}
	switch head[2] { // a frame has at most one direction
	case received:
		f.Flags |= decode.Received
	case transmitted:
		f.Flags |= decode.Transmitted
	}
	f.Time = max(0, int64(binary.LittleEndian.Uint64(head[4:])))
	f.Bus = s.name(name)
	return nil
}

// mostNames bounds the memory that a stream of garbage can take.
const mostNames = 1024

func (s *stream) name(b []byte) string {
	if known, ok := s.names[string(b)]; ok {
		return known
	}
	name := busName(string(b))
	if len(s.names) < mostNames {
		s.names[string(b)] = name
	}
	return name
}

// busName returns the name as a log can contain it, with other characters replaced, so that
// live frames give the same results as the log.
func busName(name string) string {
	const most = 64 // bytes, as in a log; Linux itself allows 15
	clean := []byte(strings.ToValidUTF8(name[:min(len(name), most)], "_"))
	for i, c := range clean {
		if c <= ' ' || c == 0x7F || c == '#' {
			clean[i] = '_'
		}
	}
	if len(clean) == 0 {
		return "_"
	}
	return string(clean)
}
