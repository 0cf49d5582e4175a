package candump

import (
	"encoding/binary"

	"lull/decode"
)

// item is what the fast path makes of a line, or of several lines whose frames are
// passed over. Items go from one core to another, so they are small.
type item struct {
	time int64  // of the frame; itemPassed: of the first one
	data uint64 // the payload, its first byte lowest; itemPassed: the time of the last
	// frame; itemOdd: where the line begins in the block
	id   uint32
	line uint32 // in the block, from 0; itemPassed: the first one's
	n    uint32 // frames passed over; itemFrame: as decode.Frame.Skipped
	bus  uint8  // index into the block's names; itemPassed: the first frame's
	flag uint8  // decode.Flags
	len  uint8
	kind itemKind
}

type itemKind uint8

const (
	itemFrame  itemKind = iota // a frame that the filter wants
	itemPassed                 // a run of frames that it does not want
	itemOdd                    // a line that the general path must read
)

// openRun is a run of frames passed over that the next line may lengthen, and the
// stamp of the line before it. The stamp is kept as it is written, and worked out
// when the run ends.
type openRun struct {
	n      uint32 // frames, 0 where no run is open
	from   uint32 // the first one's line
	bus    uint8  // its interface, as item.bus
	close  bool   // each lies near the line before it, the first one too
	first  int64  // its time
	second int64  // of the line before, in ns
	micro  uint64 // the rest of its stamp, first digit highest; 0 where there is none
}

// take notes that the line before was read, and that it lengthens the run by n.
func (r *openRun) take(n uint32, second int64, micro uint64) {
	r.n, r.second, r.micro = r.n+n, second, micro
}

// begin begins a run with a line.
func (r *openRun) begin(line uint32, bus int, close bool, second int64, micro uint64) {
	r.n, r.from, r.bus, r.close, r.first = 0, line, uint8(bus), close, second+nanoseconds(micro)
}

// end ends the run, if one is open, with an item of its own.
func (r *openRun) end(items []item) []item {
	if r.n == 0 {
		return items
	}
	n := r.n
	r.n = 0
	return append(items, item{time: r.first, data: uint64(r.last()), line: r.from, n: n, bus: r.bus, kind: itemPassed})
}

func (r *openRun) last() int64 { return r.second + nanoseconds(r.micro) }

// near reports whether a line of this stamp lies in the same tenth of a second as
// the one before it, and not before it: nothing can come of the time between.
func (r *openRun) near(second int64, micro uint64) bool {
	return second == r.second && micro >= r.micro && (micro^r.micro)>>56 == 0
}

// goesOn reports whether a frame of this stamp may lengthen the run.
func (r *openRun) goesOn(second int64, micro uint64) bool {
	step := second + nanoseconds(micro) - r.last()
	return step >= 0 && step < decode.PassedStep
}

// stampOf returns the stamp of the line at the start of text from its point on.
func stampOf(text []byte) uint64 { return binary.BigEndian.Uint64(text[12:]) }
