package candump

import (
	"encoding/binary"

	"lull/decode"
)

// item is what the fast path makes of one line, and of the lines before it whose
// frames are passed over.
type item struct {
	time int64  // of the frame
	data uint64 // the payload, its first byte lowest
	id   uint32
	line uint32 // in the block, from 0
	at   uint32 // itemOdd: where the line begins in the block
	bus  uint16 // index into the block's names
	flag decode.Flags
	len  uint8
	kind itemKind
	passedRun
}

// passedRun is a run of frames that are passed over.
type passedRun struct {
	n           uint32 // frames
	from        uint32 // line of the first one
	on          uint16 // its interface, as item.bus
	first, last int64  // times
}

type itemKind uint8

const (
	itemFrame  itemKind = iota // a frame that the filter wants, and the run before it
	itemPassed                 // a run that no such frame follows
	itemOdd                    // a line that the general path must read
)

// openRun is a run of frames passed over that the next line may lengthen; its
// item is the last one so far. The stamp of its last frame is kept as it is
// written, and worked out when the run ends.
type openRun struct {
	n      uint32 // frames, 0 where no run is open
	second int64  // of the last one, in ns
	micro  uint64 // the rest of its stamp, first digit highest
}

// add lengthens the run by n frames, of which the last one is the line at the
// start of text.
func (r *openRun) add(n uint32, second int64, text []byte) {
	if n > 0 {
		*r = openRun{r.n + n, second, binary.BigEndian.Uint64(text[12:])}
	}
}

// end writes the run into its item, unless it is none.
func (r *openRun) end(it *item) {
	if r.n > 0 {
		it.last, it.n = r.last(), r.n
		*r = openRun{}
	}
}

func (r *openRun) last() int64 { return r.second + nanoseconds(r.micro) }

// goesOn tells whether a frame of this time may lengthen the run.
func (r *openRun) goesOn(second int64, micro uint64) bool {
	step := second + nanoseconds(micro) - r.last()
	return step >= 0 && step < decode.PassedStep
}
