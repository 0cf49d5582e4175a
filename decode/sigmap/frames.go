package sigmap

import (
	"fmt"
	"strings"
	"time"

	"lull/decode"
)

// entryState is what the compiler knows of an entry beyond the Entry itself.
type entryState struct {
	node *node
	// same is equal for entries that read the same frames. It is empty if the frames are
	// unknown because of a mistake.
	same    string
	maxBits int // payload bits that a field may use
}

const (
	maxStandardID = 0x7FF
	maxExtendedID = 0x1FFFFFFF
	maxPGN        = 0x3FFFF
	maxBits       = 8 * decode.MaxPayload
)

var finders = []string{"id", "pgn", "obd", "did"}

// frames reads the list of entries: first all entries with the fields of their signals, then
// the references between signals.
func (k *compiler) frames(n *node) {
	if n.shape == broken || n.shape == scalar || n.shape == mapping {
		k.roleLost, k.signalsLost = true, true
	}
	for _, item := range k.items(n, "frames") {
		k.entry(item)
	}
	if n.shape == scalar && n.text == "" || n.shape == list && len(n.items) == 0 {
		k.roleLost = true
		k.at(n, ErrMissing, "frames is empty", "list at least the frame that carries the engine speed")
	}
	for i := range k.m.Signals {
		k.references(i)
	}
	k.circles()
	k.overlaps()
}

func (k *compiler) entry(n *node) {
	f := k.fields(n, "a frame", "id", "extended", "pgn", "source", "obd", "did", "address", "bus", "period", "sent", "module", "signals")
	if f == nil {
		k.roleLost, k.signalsLost = true, true
		return
	}
	index := len(k.m.Entries)
	k.m.Entries = append(k.m.Entries, decode.Entry{Line: n.line, Source: -1, Address: -1})
	k.entries = append(k.entries, entryState{node: n, maxBits: maxBits})
	e, state := &k.m.Entries[index], &k.entries[index]

	found, alone := k.finder(f)
	ok := false
	switch found {
	case "id":
		ok = k.byID(e, f)
	case "pgn":
		ok = k.byPGN(e, f)
	case "obd":
		ok = k.byOBD(e, f, state)
	case "did":
		ok = k.byDID(e, f)
	}
	if found != "" {
		k.belongs(f, "extended", found, "id")
		k.belongs(f, "source", found, "pgn")
		k.belongs(f, "address", found, "obd", "did")
	}
	if v := f.get("bus"); v != nil {
		e.Bus, _ = k.name(v, "bus")
	}
	if v := f.get("module"); v != nil {
		e.Module, _ = k.name(v, "module")
	}
	if v := f.get("period"); v != nil {
		e.Period, _ = k.duration(v, "period", time.Microsecond)
	}
	if v := f.get("sent"); v != nil {
		e.OnChange = k.choice(v, "sent", "cyclic", "on_change") == "on_change"
	}
	if ok && alone {
		state.same = fmt.Sprintf("%d/%d/%v/%d/%d/%d/%d/%d/%d/%v/%d/%q", e.Kind, e.ID, e.Extended, e.PGN, e.Source,
			e.Mode, e.PID, e.DID, e.Response, e.ResponseExtended, e.Address, e.Bus)
	}
	switch v := f.get("signals"); {
	case v == nil: // a frame without signals is watched for silences alone
	case v.shape == scalar && v.text == "" && !v.quoted:
	default:
		k.signalList(index, v)
	}
}

// finder returns the first of the four keys by which an entry finds its frames, and whether it
// is the only one. It reports entries with no such key or with several.
func (k *compiler) finder(f *fields) (found string, alone bool) {
	alone = true
	for _, key := range finders {
		switch {
		case f.get(key) == nil:
		case found == "":
			found = key
		default:
			alone = false
			k.at(f.keys[key], ErrConflict, fmt.Sprintf("a frame may have %s or %s, but not both", found, key), "split it into two frames")
		}
	}
	if found == "" {
		k.at(f.node, ErrMissing, "the frame does not say how to find it", "give it one of id, pgn, obd, did")
	}
	return found, alone
}

// belongs reports a key that only some kinds of entry have.
func (k *compiler) belongs(f *fields, key, found string, owners ...string) {
	if at := f.keys[key]; at != nil && !contains(owners, found) {
		k.at(at, ErrConflict, fmt.Sprintf("%s goes with %s, not with %s", key, strings.Join(owners, " and "), found), "leave it out")
	}
}

// choice reads one of a few words.
func (c *collector) choice(n *node, what string, words ...string) string {
	text, ok := c.str(n, what)
	if !ok || contains(words, text) {
		return text
	}
	hint := "write " + strings.Join(words, " or ")
	near := nearest(text, words)
	for _, w := range words {
		if near == "" && strings.HasPrefix(strings.ToLower(text), w) {
			near = w
		}
	}
	if near != "" {
		hint = "did you mean " + near + "?"
	}
	c.at(n, ErrType, fmt.Sprintf("%s cannot be %s", what, n.shown()), hint)
	return ""
}

func (k *compiler) byID(e *decode.Entry, f *fields) bool {
	n := f.get("id")
	id, ok := k.wholeNumber(n, "id", 0, maxExtendedID, "0x%X")
	e.ID, e.Extended = uint32(id), id > maxStandardID
	if v := f.get("extended"); v != nil {
		extended, read := k.boolean(v, "extended")
		switch {
		case !read:
			return false
		case ok && !extended && e.Extended:
			k.at(v, ErrConflict, fmt.Sprintf("the id %s needs 29 bits, but extended is false", n.text), "an 11-bit id is at most 0x7FF")
			return false
		}
		e.Extended = extended
	}
	return ok
}

func (k *compiler) byPGN(e *decode.Entry, f *fields) bool {
	e.Kind = decode.ByPGN
	n := f.get("pgn")
	pgn, ok := k.wholeNumber(n, "pgn", 0, maxPGN, "%d")
	e.PGN = uint32(pgn)
	// SAE J1939-21: below PDU format 0xF0 the low byte of the identifier field is
	// the destination address, so such a group's number ends in 00.
	if ok && pgn>>8&0xFF < 0xF0 && pgn&0xFF != 0 {
		k.at(n, ErrRange, fmt.Sprintf("the pgn %s includes a destination address", n.text),
			fmt.Sprintf("below PDU format 0xF0 the low byte is an address, which is 0 in the group's number: write 0x%05X (%d)", pgn&^0xFF, pgn&^0xFF))
		ok = false
	}
	if v := f.get("source"); v != nil {
		source, read := k.wholeNumber(v, "source", 0, 255, "%d")
		e.Source = int(source)
		ok = ok && read
	}
	return ok
}

func (k *compiler) byOBD(e *decode.Entry, f *fields, state *entryState) bool {
	e.Kind = decode.ByOBD
	g := k.fields(f.get("obd"), "obd", "mode", "pid", "response", "address")
	if g == nil {
		return false
	}
	ok := true
	// A request's service has bit 6 clear; its answer has it set (ISO 14229-1).
	if n := g.require("mode", "obd", "such as 0x01, which reads current values"); n != nil {
		v, read := k.wholeNumber(n, "mode", 1, 0x3E, "0x%02X")
		e.Mode, ok = uint8(v), ok && read
	} else {
		ok = false
	}
	if n := g.require("pid", "obd", "such as 0x0C, the engine speed"); n != nil {
		v, read := k.wholeNumber(n, "pid", 0, 0xFF, "0x%02X")
		e.PID, ok = uint8(v), ok && read
	} else {
		ok = false
	}
	if bytes := decode.PIDBytes(e.Mode, e.PID); ok && bytes > 0 {
		state.maxBits = 8 * bytes
	}
	return k.answer(e, f, g, "obd") && ok
}

func (k *compiler) byDID(e *decode.Entry, f *fields) bool {
	e.Kind = decode.ByDID
	g := k.fields(f.get("did"), "did", "id", "response", "address")
	if g == nil {
		return false
	}
	ok := false
	if n := g.require("id", "did", "such as 0xF40D"); n != nil {
		v, read := k.wholeNumber(n, "id", 0, 0xFFFF, "0x%04X")
		e.DID, ok = uint16(v), read
	}
	return k.answer(e, f, g, "did") && ok
}

// answer reads the keys that polled entries share: the identifier of the answers, and the
// address byte, which may be given inside or beside `obd` and `did`.
func (k *compiler) answer(e *decode.Entry, f, g *fields, what string) bool {
	ok := false
	if n := g.require("response", what, "give the id of the answers, such as 0x7E8 (ISO 15765-4)"); n != nil {
		v, read := k.wholeNumber(n, "response", 0, maxExtendedID, "0x%X")
		e.Response, e.ResponseExtended, ok = uint32(v), v > maxStandardID, read
	}
	inside, beside := g.get("address"), f.get("address")
	if inside != nil && beside != nil {
		k.at(f.keys["address"], ErrConflict, fmt.Sprintf("address is already given in %s", what), "keep one of the two")
		return false
	}
	if inside == nil {
		inside = beside
	}
	if inside != nil {
		v, read := k.wholeNumber(inside, "address", 0, 255, "0x%02X")
		e.Address, ok = int(v), ok && read
	}
	return ok
}
