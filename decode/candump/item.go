package candump

import (
	"encoding/binary"

	"lull/decode"
)

// item is the result of the fast path for a line, or for several lines whose frames are
// skipped. Items travel between cores, so they are small.
type item struct {
	time int64 // of the frame; for itemPassed, of the first frame
	// data is the payload, its first byte lowest; for itemPassed the time of the last
	// frame; for itemOdd the offset of the line in the block.
	data uint64
	id   uint32
	line uint32 // in the block, from 0; for itemPassed, that of the first frame
	n    uint32 // skipped frames; for itemFrame, as decode.Frame.Skipped
	bus  uint8  // index into the block's names; for itemPassed, that of the first frame
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

// openRun is a run of skipped frames that the next line may extend, and the stamp of the
// previous line. The stamp is kept as it is written and converted when the run ends.
type openRun struct {
	n      uint32 // number of frames, or 0 if no run is open
	from   uint32 // line of the first frame
	bus    uint8  // interface of the first frame, as item.bus
	close  bool   // each frame is near the line before it, including the first
	first  int64  // time of the first frame
	second int64  // seconds of the previous line's stamp, in ns
	micro  uint64 // the rest of that stamp, first digit highest; 0 if there is none
}

// take notes the stamp of the line just read, which extends the run by n frames.
func (r *openRun) take(n uint32, second int64, micro uint64) {
	r.n, r.second, r.micro = r.n+n, second, micro
}

// begin begins a run with a line, without counting its frame yet.
func (r *openRun) begin(line uint32, bus int, close bool, second int64, micro uint64) {
	r.n, r.from, r.bus, r.close, r.first = 0, line, uint8(bus), close, second+nanoseconds(micro)
}

// end ends the run, if one is open, and appends its item.
func (r *openRun) end(items []item) []item {
	if r.n == 0 {
		return items
	}
	n := r.n
	r.n = 0
	return append(items, item{time: r.first, data: uint64(r.last()), line: r.from, n: n, bus: r.bus, kind: itemPassed})
}

func (r *openRun) last() int64 { return r.second + nanoseconds(r.micro) }

// near reports whether a line with this stamp lies in the same tenth of a second as the
// previous line, and not before it, so that the time between the two cannot matter.
func (r *openRun) near(second int64, micro uint64) bool {
	return second == r.second && micro >= r.micro && (micro^r.micro)>>56 == 0
}

// goesOn reports whether a frame with this stamp may extend the run.
func (r *openRun) goesOn(second int64, micro uint64) bool {
	step := second + nanoseconds(micro) - r.last()
	return step >= 0 && step < decode.PassedStep
}

// stampOf returns the stamp of the line at the start of text, from after its point.
func stampOf(text []byte) uint64 { return binary.BigEndian.Uint64(text[12:]) }
