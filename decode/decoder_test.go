package decode

import (
	"testing"

	"github.com/google/go-cmp/cmp"
)

// mapOf returns a map of entries and their signals, like the YAML reader. Selectors refer to
// signals by their index in the whole map.
func mapOf(entries ...testEntry) *Map {
	m := &Map{Settings: DefaultSettings()}
	for r := range m.Role {
		m.Role[r] = -1
	}
	for i, te := range entries {
		e := te.entry
		for _, s := range te.signals {
			s.Entry = i
			if s.Scale == (Scale{}) {
				s.Scale = Identity
			}
			e.Signals = append(e.Signals, len(m.Signals))
			m.Signals = append(m.Signals, s)
		}
		m.Entries = append(m.Entries, e)
	}
	return m
}

type testEntry struct {
	entry   Entry
	signals []Signal
}

// dataFrame returns a data frame with the given payload.
func dataFrame(id uint32, flags Flags, payload ...byte) *Frame {
	f := &Frame{Time: 1_000_000_000, Bus: "can0", ID: id, Flags: flags, Len: uint8(len(payload))}
	copy(f.Data[:], payload)
	return f
}

// scale parses a factor and an offset that are known to be valid.
func scale(factor, offset string) Scale {
	s, err := ParseScale(factor, offset)
	if err != nil {
		panic(err)
	}
	return s
}

func TestDecodeReadsTheFieldsOfAFrame(t *testing.T) {
	m := mapOf(testEntry{Entry{Kind: ByID, ID: 0x1A0}, []Signal{
		{Name: "engine_speed", Start: 16, Length: 16, Scale: scale("0.25", "")},
		{Name: "oil", Start: 40, Length: 8, Scale: scale("", "-40"), Invalid: []int64{0xFE, 0xFF}},
	}})
	d := NewDecoder(m)
	got := d.Decode(dataFrame(0x1A0, 0, 0, 0, 0xE0, 0x15, 0, 0xFF, 0, 0))
	want := []Sample{
		{Time: 1_000_000_000, Signal: 0, Value: 1400, Raw: 5600, Valid: true},
		{Time: 1_000_000_000, Signal: 1},
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("samples (-want +got):\n%s", diff)
	}
	if diff := cmp.Diff([]int{0}, d.Matched()); diff != "" {
		t.Errorf("matched entries (-want +got):\n%s", diff)
	}
}

func TestFramesMatchTheEntriesOfTheirIdentifierInterfaceAndSender(t *testing.T) {
	one := []Signal{{Length: 8}}
	m := mapOf(
		testEntry{Entry{Kind: ByID, ID: 0x123}, one},                                          // 0
		testEntry{Entry{Kind: ByID, ID: 0x123, Extended: true}, one},                          // 1
		testEntry{Entry{Kind: ByID, ID: 0x123, Bus: "can1"}, one},                             // 2
		testEntry{Entry{Kind: ByPGN, PGN: 61444, Source: -1}, one},                            // 3
		testEntry{Entry{Kind: ByID, ID: 0x0CF00400, Extended: true}, one},                     // 4
		testEntry{Entry{Kind: ByPGN, PGN: 61444, Source: 0}, one},                             // 5
		testEntry{Entry{Kind: ByID, ID: 0x0CF00400, Extended: true, Bus: "can1"}, one},        // 6
		testEntry{Entry{Kind: ByPGN, PGN: 61444, Source: 0x17, Bus: "can1"}, one},             // 7
		testEntry{Entry{Kind: ByPGN, PGN: 0xEA00, Source: -1}, one},                           // 8
		testEntry{Entry{Kind: ByID, ID: 0x7FF}, one},                                          // 9
		testEntry{Entry{Kind: ByID, ID: 0x1FFFFFFF, Extended: true}, one},                     // 10
		testEntry{Entry{Kind: ByID, ID: 0}, one},                                              // 11
		testEntry{Entry{Kind: ByID, ID: 0x800}, one},                                          // 12: no 11-bit identifier
		testEntry{Entry{Kind: ByID, ID: 0x124}, []Signal{{Start: 8, Length: 8}, {Length: 8}}}, // 13
	)
	tests := []struct {
		name  string
		id    uint32
		flags Flags
		bus   string
		want  []int
	}{
		{"11-bit", 0x123, 0, "can0", []int{0}},
		{"11-bit on the named interface", 0x123, 0, "can1", []int{0, 2}},
		{"29-bit of the same number", 0x123, Extended, "can1", []int{1}},
		{"CAN FD decodes alike", 0x123, FD | BitRateSwitch, "can0", []int{0}},
		{"id and group in map order", 0x0CF00400, Extended, "can0", []int{3, 4, 5}},
		{"id and group on the named interface", 0x0CF00400, Extended, "can1", []int{3, 4, 5, 6}},
		{"other sender", 0x0CF00417, Extended, "can0", []int{3}},
		{"other sender on its interface", 0x0CF00417, Extended, "can1", []int{3, 7}},
		{"other priority", 0x18F00400, Extended, "can0", []int{3, 5}},
		{"other data page", 0x0DF00400, Extended, "can0", nil},
		{"to any destination", 0x18EAFF00, Extended, "can0", []int{8}},
		{"to one destination", 0x18EA17F9, Extended, "can0", []int{8}},
		{"11-bit number of a group", 0x0CF00400, 0, "can0", nil},
		{"last 11-bit", 0x7FF, 0, "can0", []int{9}},
		{"last 29-bit", 0x1FFFFFFF, Extended, "can0", []int{10}},
		{"first", 0, 0, "can0", []int{11}},
		{"beyond 11 bits", 0x800, 0, "can0", nil},
		{"not in the map", 0x321, 0, "can0", nil},
		{"29-bit not in the map", 0x321, Extended, "can0", nil},
		{"payload too short for all fields", 0x124, 0, "can0", []int{13}},
		{"error frame", 0x123, Error, "can0", nil},
		{"remote frame", 0x123, Remote, "can0", nil},
	}
	d := NewDecoder(m)
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			f := dataFrame(tt.id, tt.flags)
			f.Bus = tt.bus
			var want []Sample
			for _, entry := range tt.want {
				for _, signal := range m.Entries[entry].Signals {
					want = append(want, Sample{Time: f.Time, Signal: signal})
				}
			}
			if diff := cmp.Diff(want, append([]Sample(nil), d.Decode(f)...)); diff != "" {
				t.Errorf("samples (-want +got):\n%s", diff)
			}
			if diff := cmp.Diff(tt.want, append([]int(nil), d.Matched()...)); diff != "" {
				t.Errorf("matched (-want +got):\n%s", diff)
			}
		})
	}
}

func TestErrorAndRemoteFramesGiveNil(t *testing.T) {
	d := NewDecoder(mapOf(testEntry{Entry{Kind: ByID, ID: 0x123}, []Signal{{Length: 8}}}))
	d.Decode(dataFrame(0x123, 0, 1))
	for _, flags := range []Flags{Error, Remote} {
		if got := d.Decode(dataFrame(0x123, flags, 1)); got != nil {
			t.Errorf("flags %b: samples %+v, want nil", flags, got)
		}
		if got := d.Matched(); len(got) > 0 {
			t.Errorf("flags %b: matched %v, want none", flags, got)
		}
	}
}

func TestSignalsWhoseSelectorsDoNotHoldAreNotInTheFrame(t *testing.T) {
	m := mapOf(testEntry{Entry{Kind: ByID, ID: 0x200}, []Signal{
		{Name: "inner", Start: 16, Length: 8, When: []Selector{{Signal: 3, Raws: []int64{0, 1, 2}}}}, // before its selector
		{Name: "page", Start: 0, Length: 4, Invalid: []int64{15}},
		{Name: "always", Start: 24, Length: 8},
		{Name: "sub", Start: 4, Length: 4, HasMax: true, Max: 9, When: []Selector{{Signal: 1, Raws: []int64{2}}}},
		{Name: "either", Start: 8, Length: 8, When: []Selector{{Signal: 1, Raws: []int64{3, 4}}}},
		{Name: "both", Start: 16, Length: 8, When: []Selector{{Signal: 1, Raws: []int64{4}}, {Signal: 2, Raws: []int64{7}}}},
		{Name: "far", Start: 56, Length: 8, When: []Selector{{Signal: 1, Raws: []int64{15, 5}}}},
	}})
	tests := []struct {
		name    string
		payload []byte
		want    string
	}{
		{"none holds", []byte{0x10, 0xAA, 0xBB, 7}, "page=0 always=7"},
		{"nested holds", []byte{0x12, 0xAA, 0xBB, 7}, "inner=187 page=2 always=7 sub=1"},
		{"the frame before selected it, this one does not", []byte{0x10, 0xAA, 0xBB, 7}, "page=0 always=7"},
		{"second raw of the nested one", []byte{0x22, 0xAA, 0xBB, 7}, "inner=187 page=2 always=7 sub=2"},
		{"inner does not hold", []byte{0x32, 0xAA, 0xBB, 7}, "page=2 always=7 sub=3"},
		{"inner's selector is out of its range", []byte{0xA2, 0xAA, 0xBB, 7}, "page=2 always=7 sub=none"},
		{"inner's selector is not in the frame", []byte{0x13, 0xAA, 0xBB, 7}, "page=3 always=7 either=170"},
		{"one of two does not hold", []byte{0x04, 0xAA, 0xBB, 6}, "page=4 always=6 either=170"},
		{"both hold", []byte{0x04, 0xAA, 0xBB, 7}, "page=4 always=7 either=170 both=187"},
		{"selector is none", []byte{0x0F, 0xAA, 0xBB, 7, 0, 0, 0, 1}, "page=none always=7"},
		{"selected but too short", []byte{0x05, 0xAA, 0xBB, 7}, "page=5 always=7 far=none"},
		{"selected and long enough", []byte{0x05, 0xAA, 0xBB, 7, 0, 0, 0, 1}, "page=5 always=7 far=1"},
		{"no payload", nil, "page=none always=none"},
	}
	d := NewDecoder(m)
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if diff := cmp.Diff(tt.want, words(m, d.Decode(dataFrame(0x200, 0, tt.payload...)))); diff != "" {
				t.Errorf("samples (-want +got):\n%s", diff)
			}
		})
	}
}

// A checked map has no such selectors, but a Decoder must cope with them nevertheless.
func TestSelectorsThatCanNeverHoldLeaveTheirSignalsOut(t *testing.T) {
	m := mapOf(
		testEntry{Entry{Kind: ByID, ID: 0x200}, []Signal{
			{Name: "chicken", Length: 8, When: []Selector{{Signal: 1, Raws: []int64{0}}}},
			{Name: "egg", Length: 8, When: []Selector{{Signal: 0, Raws: []int64{0}}}},
			{Name: "itself", Length: 8, When: []Selector{{Signal: 2, Raws: []int64{0}}}},
			{Name: "stranger", Length: 8, When: []Selector{{Signal: 5, Raws: []int64{0}}}},
			{Name: "plain", Length: 8},
		}},
		testEntry{Entry{Kind: ByID, ID: 0x201}, []Signal{{Name: "other", Length: 8}}},
	)
	d := NewDecoder(m)
	if diff := cmp.Diff("plain=0", words(m, d.Decode(dataFrame(0x200, 0, 0)))); diff != "" {
		t.Errorf("samples (-want +got):\n%s", diff)
	}
}

func TestManyIdentifiersAreAllFound(t *testing.T) {
	var entries []testEntry
	for i := uint32(0); i < 3000; i++ {
		entries = append(entries, testEntry{Entry{Kind: ByID, ID: 0x10000 * i, Extended: true}, nil})
	}
	d := NewDecoder(mapOf(entries...))
	for i := range entries {
		d.Decode(dataFrame(0x10000*uint32(i), Extended))
		if diff := cmp.Diff([]int{i}, d.Matched()); diff != "" {
			t.Fatalf("identifier %X (-want +got):\n%s", 0x10000*i, diff)
		}
		if d.Decode(dataFrame(0x10000*uint32(i)+1, Extended)); len(d.Matched()) > 0 {
			t.Fatalf("identifier %X matches %v", 0x10000*i+1, d.Matched())
		}
	}
}

func TestDecodeAllocatesNothing(t *testing.T) {
	m := richMap()
	d := NewDecoder(m)
	frames := richFrames()
	samples := 0
	allocs := testing.AllocsPerRun(100, func() {
		for i := range frames {
			samples += len(d.Decode(&frames[i]))
		}
	})
	if allocs != 0 || samples == 0 {
		t.Errorf("%v allocations for %d frames with %d samples, want none", allocs, len(frames), samples)
	}
}
