// Package census counts what is on a bus without a signal map: which identifiers
// come, how often and how regularly, which of their bits change and how, when they
// fall silent, what modules answered to a scan tool, and what the interface
// reported as errors. It needs no signal map. Its memory is bounded whatever the
// log's length. Differ tells what differs between logs. Start with New.
package census

import (
	"encoding/binary"
	"math/bits"
	"strings"

	"lull/decode"
	"lull/decode/buserror"
	"lull/decode/standard"
	"lull/decode/wire"
)

const (
	// leastAbsence is the shortest silence and the shortest gap, in ns.
	leastAbsence = int64(100e6)
	// jumpBack is how far time may run back before what comes after it is another
	// part of the log, in ns.
	jumpBack = int64(100e6)

	mostIDs    = 65536
	mostBuses  = 1024
	mostErrors = 256
	mostGaps   = 1024
	// mostSilences is how many absences of one identifier are kept.
	mostSilences = 64
	// The first fineIDs identifiers have fineCells for the distribution of their
	// gaps, the others, which only a damaged log has, coarseCells.
	fineIDs, fineCells, coarseCells = 1024, 1024, 64
)

// Options say what is counted.
type Options struct {
	// Bus restricts the count to one interface; "" counts all. Times, gaps and the
	// span are the log's own all the same.
	Bus string
	// Bits asks for the bits on the wire.
	Bits bool
	// Values asks for what was seen in each byte of the payloads.
	Values bool
}

// Counter takes the frames of one log in order. It is not safe for use by several
// goroutines.
type Counter struct {
	options Options

	started bool
	zero    int64 // time of the first frame
	newest  int64 // of the frame before, ns from the first
	latest  int64 // the latest time of this part
	end     int64 // the latest time of all
	part    int
	gaps    longest
	quiet   absence // the last one of all frames
	back    decode.Remark
	jumps   decode.Remark

	frames, errorFrames, remoteFrames int64

	buses  []bus
	busAt  map[string]int
	bus    int // the one of the frame before
	rows   []row
	rowAt  map[key]int
	errors map[errorKey]int64
	order  []errorKey // of their first appearance

	answers answers
	columns int   // that may still be made
	dull    int64 // frames of which no values are kept for want of columns

	unnamed     int64 // frames of interfaces beyond mostBuses
	uncounted   int64 // frames of identifiers beyond mostIDs
	unexplained int64 // error frames beyond mostErrors kinds
}

type bus struct {
	name         string
	frames, bits int64
}

type key struct {
	bus      int32
	id       uint32
	extended bool
}

type errorKey struct {
	bus  int
	kind buserror.Kind
}

// row is what is known of one identifier on one interface.
type row struct {
	key           key
	fd            bool
	seen          bool // in this part
	part          int
	last          int64
	count, remote int64
	lengths       [2]uint64 // a bit for each number of bytes seen
	ones, zeros   [8]uint64 // bits ever seen so, byte 0 in the lowest byte of the first
	gaps          sketch
	away          longest
	answers       bool    // it is what modules answer by
	values        *values // nil: not asked for
}

// New starts a count.
func New(o Options) *Counter {
	c := &Counter{
		options: o,
		gaps:    longest{most: mostGaps},
		busAt:   make(map[string]int),
		rowAt:   make(map[key]int),
		errors:  make(map[errorKey]int64),
		columns: mostColumns,
	}
	c.back.Code, c.jumps.Code = decode.RemarkTimeBackwards, decode.RemarkTimeJump
	return c
}

// Add takes the next frame. It does not keep it, and allocates only where it sees
// something for the first time.
func (c *Counter) Add(f *decode.Frame) {
	now := c.clock(f)
	if c.options.Bus != "" && f.Bus != c.options.Bus {
		return
	}
	c.frames++
	at := c.findBus(f.Bus)
	if at >= 0 {
		b := &c.buses[at]
		b.frames++
		if c.options.Bits {
			b.bits += int64(wire.Bits(f))
		}
	}
	switch {
	case f.Flags.Has(decode.Error):
		c.errorFrames++
		c.bad(at, f)
		return
	case f.Flags.Has(decode.Remote):
		c.remoteFrames++
	}
	if at < 0 {
		c.unnamed++
		return
	}
	if i := c.find(at, f); i < 0 {
		c.uncounted++
	} else if r := &c.rows[i]; f.Flags.Has(decode.Remote) {
		r.remote++
	} else {
		c.data(r, f, now)
		if r.answers {
			c.answers.take(i, f)
		}
		if r.values != nil {
			c.see(r, f)
		}
	}
}

// see takes the values of a payload.
func (c *Counter) see(r *row, f *decode.Frame) {
	length := min(int(f.Len), decode.MaxPayload)
	r.values.add(f.Data[:length], &c.columns)
	if len(r.values.columns) < length {
		c.dull++
	}
}

// clock takes the time of a frame of any kind and gives it counted from the first.
func (c *Counter) clock(f *decode.Frame) int64 {
	if !c.started {
		c.started, c.zero = true, f.Time
	}
	now := f.Time - c.zero
	if now < c.newest {
		note(&c.back, f.Line, now)
	}
	c.newest = now
	switch away := now - c.latest; {
	case away < -jumpBack:
		note(&c.jumps, f.Line, now)
		c.part++
		c.latest = now
	case away >= leastAbsence:
		c.quiet = absence{c.latest, now, c.part, away}
		c.gaps.add(c.quiet)
		c.latest = now
	case away > 0:
		c.latest = now
	}
	c.end = max(c.end, now)
	return now
}

func note(remark *decode.Remark, line, now int64) {
	remark.Count++
	if remark.Count == 1 {
		remark.Line, remark.Time, remark.HasTime = line, now, true
	}
	if len(remark.Places) < decode.MaxPlaces {
		remark.Places = append(remark.Places, decode.Place{Line: line})
	}
}

// findBus returns the index of an interface, made where it is new; -1 if there
// are too many.
func (c *Counter) findBus(name string) int {
	if c.bus < len(c.buses) && c.buses[c.bus].name == name {
		return c.bus
	}
	at, ok := c.busAt[name]
	if !ok {
		if len(c.buses) == mostBuses {
			return -1
		}
		at = len(c.buses)
		name = strings.Clone(name)
		c.buses = append(c.buses, bus{name: name})
		c.busAt[name] = at
	}
	c.bus = at
	return at
}

// find returns the index of the row of a frame, made where it is new; -1 where
// there are too many.
func (c *Counter) find(bus int, f *decode.Frame) int {
	k := key{bus: int32(bus), id: f.ID, extended: f.Flags.Has(decode.Extended)}
	if at, ok := c.rowAt[k]; ok {
		return at
	}
	at := len(c.rows)
	if at == mostIDs {
		return -1
	}
	cells := fineCells
	if at >= fineIDs {
		cells = coarseCells
	}
	r := row{key: k, gaps: newSketch(cells), away: longest{most: mostSilences}}
	if x, ok := standard.Diagnostic(k.id, k.extended); ok {
		r.answers = x.Role == standard.Response
	}
	if c.options.Values {
		r.values = new(values)
	}
	c.rows = append(c.rows, r)
	c.rowAt[k] = at
	return at
}

func (c *Counter) data(r *row, f *decode.Frame, now int64) {
	if r.seen && r.part == c.part {
		// A time that runs back a little counts as that of the frame before.
		away := max(now-r.last, 0)
		r.gaps.add(away)
		if away >= leastAbsence {
			alone := away
			if c.quiet.part == c.part && c.quiet.start >= r.last {
				alone -= c.quiet.length()
			}
			r.away.add(absence{r.last, now, c.part, alone})
		}
		r.last += away
	} else {
		r.seen, r.part, r.last = true, c.part, now
	}
	r.count++
	r.fd = r.fd || f.Flags.Has(decode.FD)
	length := min(int(f.Len), decode.MaxPayload)
	r.lengths[length>>6] |= 1 << (length & 63)
	for i := 0; 8*i < length; i++ {
		word := binary.LittleEndian.Uint64(f.Data[8*i:])
		there := ^uint64(0)
		if rest := length - 8*i; rest < 8 {
			there = 1<<(8*rest) - 1
		}
		r.ones[i] |= word & there
		r.zeros[i] |= ^word & there
	}
}

// bad counts an error frame by what it reports.
func (c *Counter) bad(bus int, f *decode.Frame) {
	k := errorKey{bus, buserror.Of(f)}
	if _, ok := c.errors[k]; !ok {
		if len(c.errors) == mostErrors || bus < 0 {
			c.unexplained++
			return
		}
		c.order = append(c.order, k)
	}
	c.errors[k]++
}

// lengthsSeen lists the numbers of bytes, ascending.
func (r *row) lengthsSeen() []int {
	var list []int
	for i, word := range r.lengths {
		for ; word != 0; word &= word - 1 {
			list = append(list, 64*i+bits.TrailingZeros64(word))
		}
	}
	return list
}

// changing lists the bits that were seen in both states, as 8 x byte + bit.
func (r *row) changing() []int {
	var list []int
	for i := range r.ones {
		for word := r.ones[i] & r.zeros[i]; word != 0; word &= word - 1 {
			list = append(list, 64*i+bits.TrailingZeros64(word))
		}
	}
	return list
}
