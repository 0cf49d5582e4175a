package decode

import (
	"encoding/binary"
	"math"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// richMap has something of everything that a map can contain about the frames of an identifier.
func richMap() *Map {

	page := Selector{Signal: 0, Raws: []int64{1, 2}}
	return mapOf(
		testEntry{Entry{Kind: ByID, ID: 0x100}, []Signal{
			{Name: "page", Start: 0, Length: 3, Invalid: []int64{7}}, // 0
			{Name: "detail", Start: 3, Length: 5, When: []Selector{page}},
			{Name: "inner", Start: 15, Length: 12, BigEndian: true, Signed: true, When: []Selector{{Signal: 1, Raws: []int64{0, 3, 9}}}},
			{Name: "speed", Start: 32, Length: 16, Scale: scale("0.25", "")},
			{Name: "ranged", Start: 55, Length: 16, BigEndian: true, Signed: true, Scale: scale("0.1", "-40"), HasMin: true, Min: -1000, HasMax: true, Max: 1000},
		}},
		testEntry{Entry{Kind: ByID, ID: 0x100, Bus: "can1"}, []Signal{{Name: "whole", Start: 0, Length: 64}}},
		testEntry{Entry{Kind: ByID, ID: 0x7FF}, []Signal{
			{Name: "single", Start: 0, Length: 32, Float: true, Scale: scale("2", "1")},
			{Name: "single_big", Start: 7, Length: 32, BigEndian: true, Float: true},
			{Name: "double", Start: 64, Length: 64, Float: true},
		}},
		testEntry{Entry{Kind: ByID, ID: 0x200}, []Signal{
			{Name: "nine_little", Start: 445, Length: 64, Signed: true},
			{Name: "nine_big", Start: 346, Length: 61, BigEndian: true},
			{Name: "last", Start: 511, Length: 1, Signed: true},
			{Name: "last_big", Start: 511, Length: 8, BigEndian: true, Invalid: []int64{0}},
		}},
		testEntry{Entry{Kind: ByPGN, PGN: 61444, Source: -1}, []Signal{
			{Name: "two", Start: 0, Length: 2}, {Name: "four", Start: 4, Length: 4, Signed: true},
			{Name: "seven", Start: 8, Length: 7}, {Name: "sixteen", Start: 24, Length: 16, Scale: scale("0.125", "")},
			{Name: "eight", Start: 47, Length: 8, BigEndian: true, Signed: true},
		}},
		testEntry{Entry{Kind: ByID, ID: 0x0CF00400, Extended: true}, []Signal{{Name: "by_id", Start: 24, Length: 16}}},
		testEntry{Entry{Kind: ByPGN, PGN: 61444, Source: 0x17, Bus: "can1"}, []Signal{{Name: "from_17", Start: 0, Length: 32, Float: true}}},
		testEntry{Entry{Kind: ByPGN, PGN: 0xEA00, Source: -1}, []Signal{{Name: "asked", Start: 0, Length: 24}}},
	)
}

// richIDs are identifiers that the rich map distinguishes. Bit 31 marks those of 29 bits.
var richIDs = []uint32{0x100, 0x7FF, 0x200, 0x8CF00400, 0x8CF00417, 0x98F00417, 0x98EAFF00, 0x98EA0017, 0x80000100, 0x101, 0x8CF00500}

// richFrames returns a frame for each identifier and interface.
func richFrames() []Frame {
	var frames []Frame
	for i, id := range richIDs {
		for _, bus := range []string{"can0", "can1"} {
			f := Frame{Bus: bus, ID: id &^ (1 << 31), Len: MaxPayload}
			if id>>31 == 1 {
				f.Flags = Extended
			}
			for j := range f.Data {
				f.Data[j] = byte(1 + 37*i + 11*j)
			}
			f.Data[0] = 1
			frames = append(frames, f)
		}
	}
	return frames
}

// oracle decodes a frame by following the definition of the map, without regard to speed. Other
// tests check scaling against exact arithmetic.
func oracle(m *Map, f *Frame) (samples []Sample, matched []int) {
	if f.Flags.Has(Error) || f.Flags.Has(Remote) {
		return nil, nil
	}
	for i := range m.Entries {
		e := &m.Entries[i]
		extended := f.Flags.Has(Extended)
		hit := e.Kind == ByID && e.ID == f.ID && e.Extended == extended ||
			e.Kind == ByPGN && extended && e.PGN == PGN(f.ID) && (e.Source < 0 || uint32(e.Source) == f.ID&0xFF)
		if !hit || e.Bus != "" && e.Bus != f.Bus {
			continue
		}
		matched = append(matched, i)
		for _, index := range e.Signals {
			if s, present := oracleSignal(m, f, index); present {
				samples = append(samples, s)
			}
		}
	}
	return samples, matched
}

func oracleSignal(m *Map, f *Frame, index int) (Sample, bool) {
	s := &m.Signals[index]
	for _, w := range s.When {
		selector, present := oracleSignal(m, f, w.Signal)
		if !present || !selector.Valid || !slices.Contains(w.Raws, selector.Raw) {
			return Sample{}, false
		}
	}
	none := Sample{Time: f.Time, Signal: index}
	pattern, whole := patternOf(s, f.Data[:f.Len])
	if !whole {
		return none, true
	}
	if m.Entries[s.Entry].Kind == ByPGN {
		switch {
		case s.Length == 2 && pattern >= 0b10, s.Length == 4 && pattern >= 0b1110,
			s.Length >= 8 && pattern>>(s.Length-8) == 0xFE, s.Length >= 8 && pattern>>(s.Length-8) == 0xFF:
			return none, true
		}
	}
	raw := int64(pattern)
	if s.Signed && s.Length < 64 && pattern>>(s.Length-1) == 1 {
		raw -= 1 << s.Length
	}
	var value float64
	switch {
	case s.Float && s.Length == 32:
		value = s.Scale.Real(float64(math.Float32frombits(uint32(pattern))))
	case s.Float:
		value = s.Scale.Real(math.Float64frombits(pattern))
	default:
		value = s.Scale.Int(raw, !s.Signed)
	}
	if slices.Contains(s.Invalid, raw) || math.IsNaN(value) || math.IsInf(value, 0) ||
		s.HasMin && value < s.Min || s.HasMax && value > s.Max {
		return none, true
	}
	return Sample{Time: f.Time, Signal: index, Value: value, Raw: raw, Valid: true}, true
}

// FuzzDecode feeds several frames to one Decoder, to check that no frame affects the next. Each
// is encoded in the data as identifier (with bit 31 for 29 bits, or below 16 as an index into
// richIDs), flags, interface, length, and payload.
func FuzzDecode(f *testing.F) {
	m := richMap()
	var all []byte
	for _, frame := range richFrames() {
		id := frame.ID
		if frame.Flags.Has(Extended) {
			id |= 1 << 31
		}
		one := binary.LittleEndian.AppendUint32(nil, id)
		one = append(one, 0, frame.Bus[3], frame.Len)
		one = append(one, frame.Data[:]...)
		f.Add(one)
		all = append(all, one...)
	}
	f.Add(all)
	f.Add([]byte{0, 0, 0, 0, byte(Error), 0, 1, 5})
	f.Fuzz(func(t *testing.T, data []byte) {
		d := NewDecoder(m)
		for n := int64(0); len(data) >= 7; n++ {
			id := binary.LittleEndian.Uint32(data)
			if int(id) < len(richIDs) {
				id = richIDs[id]
			}
			frame := Frame{Time: n, ID: id & 0x1FFFFFFF, Flags: Flags(data[4]) &^ Extended, Bus: []string{"can0", "can1"}[data[5]&1]}
			if id>>31 == 1 {
				frame.Flags |= Extended
			}
			frame.Len = uint8(min(int(data[6]), MaxPayload, len(data)-7))
			copy(frame.Data[:frame.Len], data[7:])
			data = data[7+int(frame.Len):]

			samples, matched := oracle(m, &frame)
			got := append([]Sample(nil), d.Decode(&frame)...)
			if diff := cmp.Diff(samples, got); diff != "" {
				t.Fatalf("frame %d %+v: samples (-oracle +decoder):\n%s", n, frame, diff)
			}
			if diff := cmp.Diff(matched, append([]int(nil), d.Matched()...)); diff != "" {
				t.Fatalf("frame %d %+v: matched (-oracle +decoder):\n%s", n, frame, diff)
			}
		}
	})
}

func BenchmarkDecode(b *testing.B) {
	m := richMap()
	frames := richFrames()
	d := NewDecoder(m)
	b.ReportAllocs()
	for i := 0; b.Loop(); i++ {
		d.Decode(&frames[i%len(frames)])
	}
}

func BenchmarkDecodeOfUnmappedIdentifiers(b *testing.B) {
	for name, frame := range map[string]*Frame{"11-bit": dataFrame(0x321, 0, 1, 2, 3), "29-bit": dataFrame(0x321, Extended, 1, 2, 3)} {
		b.Run(name, func(b *testing.B) {
			d := NewDecoder(richMap())
			b.ReportAllocs()
			for b.Loop() {
				d.Decode(frame)
			}
		})
	}
}
