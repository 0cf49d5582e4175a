package decode

import (
	"encoding/binary"
	"math/bits"
)

// Column reads one signal from many payloads, of at most eight bytes each, that are taken
// as words: see Frame.Word. It gives what a Decoder gives of them.
type Column struct {
	Signal int // index into Map.Signals

	mask, signBit uint64
	at            uint // how far its bits lie from the right end of the word in its byte order
	bigEndian     bool
	plain         bool // as of field, with mul, add and pow
	mul, add      int64
	pow           float64
	spec          *Signal
	noneFrom      int64 // as of field; math.MaxInt64 if it has no such codes
}

// widestColumn is the length in bits of the longest signal that a Column reads.
const widestColumn = 32

// Word returns the first eight bytes of Data as one little-endian number.
func (f *Frame) Word() uint64 { return binary.LittleEndian.Uint64(f.Data[:]) }

// Columns returns a Column for each signal of an entry of which the Decoder gives samples.
// ok is false if the entry cannot be read so: if it is polled, if its signals select each
// other or lie beyond eight bytes, or if one is a float or very long.
func (d *Decoder) Columns(entry int) (list []Column, ok bool) {
	l := &d.entries[entry]
	if d.m.Entries[entry].Polled() || l.order != nil {
		return nil, false
	}
	for i := range l.fields {
		f := &l.fields[i]
		if f.last >= shortPayload || f.spec.Float || f.spec.Length > widestColumn || f.hasNone && f.spec.Signed {
			return nil, false
		}
		none := int64(1) << widestColumn
		if f.hasNone {
			none = int64(f.noneFrom)
		}
		list = append(list, Column{
			Signal: f.signal, mask: f.mask, signBit: f.signBit, at: f.rightOf(0), bigEndian: f.bigEndian,
			plain: f.plain, mul: f.mul, add: f.add, pow: f.pow, spec: f.spec, noneFrom: none,
		})
	}
	return list, true
}

// Bits returns which bits of a word are the signal's.
func (c *Column) Bits() uint64 {
	if c.bigEndian {
		return bits.ReverseBytes64(c.mask << c.at)
	}
	return c.mask << c.at
}

// Raw returns the signal's raw value in a word.
func (c *Column) Raw(word uint64) int64 {
	if c.bigEndian {
		word = bits.ReverseBytes64(word)
	}
	return int64((word>>(c.at&63)&c.mask ^ c.signBit) - c.signBit)
}

// Value returns the physical value that a raw one stands for.
func (c *Column) Value(raw int64) float64 {
	if c.plain {
		return float64(raw*c.mul+c.add) / c.pow
	}
	return c.spec.Scale.Int(raw, !c.spec.Signed)
}

// Range returns the least and the greatest raw value that the signal's bits can hold.
func (c *Column) Range() (least, most int64) {
	if c.signBit != 0 {
		return -int64(c.signBit), int64(c.signBit) - 1
	}
	return 0, int64(c.mask)
}

// Codes returns the raw values that are valid or not by themselves, whatever lies beside
// them: those that the map lists as invalid, and the first of the codes of a parameter
// group.
func (c *Column) Codes() []int64 {
	if c.noneFrom>>widestColumn > 0 {
		return c.spec.Invalid
	}
	return append([]int64{c.noneFrom}, c.spec.Invalid...)
}
