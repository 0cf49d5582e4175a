package draft

import (
	"math/bits"
	"slices"

	"lull/decode"
	"lull/decode/standard"
)

// mostFrames is how many frames are kept, at 16 bytes each, of all logs together: hours of
// a busy bus. What a car does in them is all that can be learned; more would only cost.
const mostFrames = 12 << 20

// pause is the time in s put between two logs, far longer than anything that is looked for.
const pause = 60

// Drafter gathers the frames of the logs of one car. Its zero value is not ready: use New.
type Drafter struct {
	streams map[streamKey]*stream
	order   []*stream // by first frame
	answers *polled

	frames  int64 // that were pushed, less error and remote frames
	left    int64 // those beyond mostFrames
	kept    int
	origin  int64   // the current log's first time, ns
	base    float64 // where the current log begins on the joint clock, s
	newest  float64 // the latest moment on the joint clock, s
	started bool    // the current log has frames
	untimed bool
}

// streamKey tells frames of one kind from others.
type streamKey struct {
	bus    string
	id     uint32 // with bit 31 for 29-bit identifiers
	window uint8  // of the payload: CAN FD frames are looked at in pieces
}

// New returns a Drafter that has not seen anything.
func New() *Drafter {
	return &Drafter{streams: map[streamKey]*stream{}, answers: newPolled()}
}

// NextLog says that the frames that follow are of another log. Its clock is its own.
func (d *Drafter) NextLog() {
	if d.started {
		d.base, d.started = d.newest+pause, false
	}
}

// Untimed says that the log has no time stamps, so that only what needs none can be drafted.
func (d *Drafter) Untimed() { d.untimed = true }

// windowStep is by how many bytes the pieces of a long payload lie apart. Pieces have
// eight, so fields of up to 24 bits lie within one.
const windowStep = 6

// Push takes the next frame.
func (d *Drafter) Push(f *decode.Frame) {
	if f.Flags&(decode.Error|decode.Remote) != 0 || f.Len == 0 {
		return
	}
	d.frames++
	if !d.started {
		d.origin, d.started = f.Time, true
	}
	at := d.base + float64(f.Time-d.origin)/1e9
	d.newest = max(d.newest, at)
	d.answers.push(f, at)
	if d.kept >= mostFrames {
		d.left++
		return
	}
	id := f.ID
	if f.Flags&decode.Extended != 0 {
		id |= 1 << 31
	}
	payload := f.Payload()
	for window := 0; ; window++ {
		from := window * windowStep
		d.keep(streamKey{f.Bus, id, uint8(window)}, from, at, payload[from:])
		if from+8 >= len(payload) {
			return
		}
	}
}

func (d *Drafter) keep(key streamKey, from int, at float64, piece []byte) {
	s := d.streams[key]
	if s == nil {
		s = &stream{bus: key.bus, id: key.id &^ (1 << 31), extended: key.id>>31 != 0, from: from, page: -1}
		d.streams[key] = s
		d.order = append(d.order, s)
	}
	size := min(len(piece), 8)
	var w uint64
	for i, b := range piece[:size] {
		w |= uint64(b) << (8 * i)
	}
	s.size = max(s.size, size)
	s.t = append(s.t, at)
	s.w = append(s.w, w)
	d.kept++
}

// stream is all frames of one identifier on one interface, or those of one page of it.
type stream struct {
	bus      string
	id       uint32
	extended bool
	from     int // the payload byte with which the words begin
	size     int // bytes of a word that the longest frame fills

	page      int // value of the field that selects the page, or -1
	pageStart int // its bits, in the payload
	pageBits  int

	t []float64 // s on the joint clock, ascending
	w []uint64  // payloads; the number of a bit is that of the map

	flip   [64]float64 // share of frames in which the bit differs from the frame before
	period float64     // median of the times between frames, s
	atOnce bool        // the frames come when something changes, and else rarely
	late   float64     // s by which a change may be told late
}

// prepare puts the frames in order and looks at each bit.
func (s *stream) prepare() {
	if !slices.IsSorted(s.t) {
		index := make([]int, len(s.t))
		for i := range index {
			index[i] = i
		}
		slices.SortStableFunc(index, func(a, b int) int {
			switch {
			case s.t[a] < s.t[b]:
				return -1
			case s.t[a] > s.t[b]:
				return 1
			}
			return 0
		})
		t, w := make([]float64, len(index)), make([]uint64, len(index))
		for to, from := range index {
			t[to], w[to] = s.t[from], s.w[from]
		}
		s.t, s.w = t, w
	}
	var count [64]int
	for i := 1; i < len(s.w); i++ {
		for x := s.w[i] ^ s.w[i-1]; x != 0; x &= x - 1 {
			count[bits.TrailingZeros64(x)]++
		}
	}
	s.flip = [64]float64{}
	if len(s.w) > 1 {
		for b, n := range count {
			s.flip[b] = float64(n) / float64(len(s.w)-1)
		}
		s.period = median(differences(s.t))
	} else {
		s.period = 1
	}
	s.late = s.period
	if s.atOnce = s.onChange(); s.atOnce {
		s.late = min(s.late, 0.05)
	}
}

// moves reports whether any bit ever changed.
func (s *stream) moves() bool {
	for _, f := range s.flip {
		if f > 0 {
			return true
		}
	}
	return false
}

// diagnostic reports whether the identifier is one of a scan tool's requests or of the
// answers to them.
func (s *stream) diagnostic() bool {
	_, is := standard.Diagnostic(s.id, s.extended)
	return is
}

// standardised reports whether the identifier is that of a group whose content SAE J1939
// says: all but those that are left to makers, and none of which are lamps.
func (s *stream) standardised() bool {
	pgn := decode.PGN(s.id)
	return s.extended && pgn < 0xFF00 && pgn != 0xEF00
}

// at returns the index of the newest frame at a moment, or of the first one.
func (s *stream) at(moment float64) int { return indexAt(s.t, moment) }
