package decode

import (
	"cmp"
	"encoding/binary"
	"slices"

	"lull/decode/transport"
)

// answers finds the answers to polled requests and splits them into values.
type answers struct {
	// ids finds the entries by the identifier of their answers, sorted by their
	// addresses and then in the order of the map. Bit 29 of a key marks 29-bit
	// identifiers.
	ids       idTable
	transport transport.Reassembler
	hits      []hit
}

// hit is an entry and the data that the newest frame brought for it.
type hit struct {
	entry int
	data  []byte
}

// readDataByIdentifier is the service byte of the answers that did entries read (ISO
// 14229-1: the service of the request plus 0x40).
const readDataByIdentifier = 0x62

func answerKey(id uint32, extended bool) uint32 {
	if extended {
		id |= 1 << 29
	}
	return id
}

func newAnswers(m *Map, keep func([]int) span) answers {
	lists := map[uint32][]int{}
	for i := range m.Entries {
		if e := &m.Entries[i]; e.Polled() {
			key := answerKey(e.Response, e.ResponseExtended)
			lists[key] = append(lists[key], i)
		}
	}
	for _, list := range lists {
		slices.SortStableFunc(list, func(a, b int) int { return cmp.Compare(m.Entries[a].Address, m.Entries[b].Address) })
	}
	return answers{ids: newIDTable(lists, keep)}
}

// Incomplete returns how many answers were lost so far because frames were missing or out
// of order, including those still unfinished, and where and when the first of them began,
// or zeros if there are none.
func (d *Decoder) Incomplete() (count, firstLine, firstTime int64) {
	count, first := d.answers.transport.Losses()
	if len(first) > 0 {
		firstLine, firstTime = first[0].Line, first[0].Time
	}
	return count, firstLine, firstTime
}

// IncompletePlaces returns the places of the first answers counted by Incomplete.
func (d *Decoder) IncompletePlaces() []Place {
	_, first := d.answers.transport.Losses()
	places := make([]Place, len(first))
	for i, l := range first {
		places[i] = Place{Line: l.Line, Why: l.Why}
	}
	return places
}

// polled takes a frame as part of an answer. It is called after plain. If the frame
// completes the answer, the entries whose value it contains match.
func (d *Decoder) polled(f *Frame) {
	entries := d.list(d.answers.ids.find(answerKey(f.ID, f.Flags&Extended != 0)))
	if len(entries) == 0 {
		return
	}
	d.answers.hits = d.answers.hits[:0]
	for len(entries) > 0 {
		address, asked, n := d.m.Entries[entries[0]].Address, false, 0
		for n < len(entries) && d.m.Entries[entries[n]].Address == address {
			asked = asked || d.onBus[entries[n]]
			n++
		}
		same := entries[:n]
		entries = entries[n:]
		payload := f.Payload()
		if address >= 0 {
			if len(payload) == 0 || int(payload[0]) != address {
				continue
			}
			payload = payload[1:]
		}
		if !asked {
			continue
		}
		from := transport.Sender{Bus: f.Bus, ID: f.ID, Extended: f.Flags&Extended != 0, Address: address}
		if message, whole := d.answers.transport.Push(from, payload, transport.Stamp{Time: f.Time, Line: f.Line}); whole {
			d.take(message, same)
		}
	}
	d.decodeHits(f)
}

// take looks in an answer for the values that the entries name. A negative answer begins
// with 0x7F, which is not the service byte of any entry's answer, so it has no values.
func (d *Decoder) take(message []byte, entries []int) {
	service, rest := message[0], message[1:]
	values := newValues(service, rest)
	for id, data, ok := values.next(); ok; id, data, ok = values.next() {
		for _, i := range entries {
			if e := &d.m.Entries[i]; e.Kind == ByOBD && e.Mode+0x40 == service && int(e.PID) == id {
				d.hit(i, data)
			}
		}
	}
	if service != readDataByIdentifier {
		return
	}
	values = newIdentifiedValues(rest, d.m, entries)
	for id, data, ok := values.next(); ok; id, data, ok = values.next() {
		for _, i := range entries {
			if d.m.Entries[i].named(id) {
				d.hit(i, data)
			}
		}
	}
}

// hit notes a value of an entry, in the order of the map. If an answer contains the same
// value twice, the first one counts.
func (d *Decoder) hit(entry int, data []byte) {
	if !d.onBus[entry] {
		return
	}
	at, found := slices.BinarySearchFunc(d.answers.hits, entry, func(h hit, entry int) int { return cmp.Compare(h.entry, entry) })
	if !found {
		d.answers.hits = slices.Insert(d.answers.hits, at, hit{entry, data})
	}
}

// decodeHits decodes the values found. If the frame also matched entries by its
// identifier, it decodes these again, so that all are in the order of the map.
func (d *Decoder) decodeHits(f *Frame) {
	if len(d.answers.hits) == 0 {
		return
	}
	for _, entry := range d.matched {
		d.hit(entry, f.Payload())
	}
	d.samples, d.matched = d.samples[:0], d.matched[:0]
	for _, h := range d.answers.hits {
		d.matched = append(d.matched, h.entry)
		d.decodePayload(h.data, f.Time, h.entry)
	}
}

// values splits an answer into its values, each an identifier with data. Nothing in an
// answer says how long its values are: for PIDs the standard does, and for other
// identifiers the length is unknown.
type values struct {
	rest  []byte
	kind  valueKind
	trims int // data bytes of the fuel trims
	// For byIdentifier, the map and those of its entries that may name a value.
	m       *Map
	entries []int
}

type valueKind uint8

const (
	oneValue     valueKind = iota // a byte that identifies the value, then its data to the end
	presentData                   // service 01: PIDs
	frozenData                    // service 02: PIDs, with a frame number before the data
	byIdentifier                  // service 22: identifiers of two bytes
)

// newValues splits an answer of a service of SAE J1979.
func newValues(service byte, rest []byte) values {
	v := values{rest: rest}
	switch service {
	case 0x41:
		v.kind = presentData
	case 0x42:
		v.kind = frozenData
	}
	v.chooseTrims()
	return v
}

// newIdentifiedValues splits an answer to read-data-by-identifier. Only the identifiers
// F400 to F4FF, which stand for the PIDs (ISO 14229-1; that their data are those of
// service 01 is from memory), have known lengths. These count only if another identifier
// follows, F4xx or one that an entry names, since some makers send more bytes. After any
// other identifier, all the rest is its data.
func newIdentifiedValues(rest []byte, m *Map, entries []int) values {
	v := values{rest: rest, kind: byIdentifier, m: m, entries: entries}
	v.chooseTrims()
	return v
}

// chooseTrims assumes that fuel trims have one byte, unless the answer ends with a
// complete value only if they have two.
func (v *values) chooseTrims() {
	v.trims = 1
	if !v.fits() {
		v.trims = 2
		if !v.fits() {
			v.trims = 1
		}
	}
}

// fits reports whether all lengths are known and the answer ends with the last value.
func (v values) fits() bool {
	for len(v.rest) > 0 {
		_, body, bytes, ok := v.head()
		if !ok || bytes == 0 || bytes > len(body) {
			return false
		}
		v.rest = body[bytes:]
	}
	return true
}

// next returns the next value. A value of unknown length is the last one, and its data is
// the rest of the answer.
func (v *values) next() (id int, data []byte, ok bool) {
	id, body, bytes, ok := v.head()
	if bytes == 0 || bytes > len(body) {
		v.rest = nil
		return id, body, ok
	}
	v.rest = body[bytes:]
	return id, body[:bytes], ok
}

// head returns the next identifier, the bytes after it, and how many of these are its
// data, or 0 if that is unknown.
func (v *values) head() (id int, body []byte, bytes int, ok bool) {
	if v.kind == byIdentifier {
		if len(v.rest) < 2 {
			return 0, nil, 0, false
		}
		id = int(binary.BigEndian.Uint16(v.rest))
		body = v.rest[2:]
		if id>>8 == 0xF4 {
			bytes = v.pidBytes(byte(id))
		}
		if bytes > 0 && bytes < len(body) && !v.identifies(body[bytes:]) {
			bytes = 0
		}
		return id, body, bytes, true
	}
	if len(v.rest) == 0 {
		return 0, nil, 0, false
	}
	id, body = int(v.rest[0]), v.rest[1:]
	if v.kind != oneValue {
		bytes = v.pidBytes(byte(id))
	}
	if v.kind == frozenData && bytes > 0 {
		bytes++
	}
	return id, body, bytes, true
}

// identifies reports whether rest begins with the identifier of another value.
func (v *values) identifies(rest []byte) bool {
	return len(rest) > 2 && (rest[0] == 0xF4 ||
		slices.ContainsFunc(v.entries, func(i int) bool { return v.m.Entries[i].named(int(binary.BigEndian.Uint16(rest))) }))
}

// named reports whether the entry reads answers to read-data-by-identifier with the given
// identifier.
func (e *Entry) named(id int) bool { return e.Kind == ByDID && int(e.DID) == id }

func (v *values) pidBytes(pid byte) int {
	if isFuelTrim(pid) {
		return v.trims
	}
	return PIDBytes(1, pid)
}
