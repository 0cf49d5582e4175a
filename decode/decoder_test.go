package decode

import (
	"testing"

	"github.com/google/go-cmp/cmp"
)

// mapOf makes a map of entries and their signals, as the YAML reader would.
// Selectors name signals by their place in the whole map.
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

// dataFrame makes a data frame of the given payload.
func dataFrame(id uint32, flags Flags, payload ...byte) *Frame {
	f := &Frame{Time: 1_000_000_000, Bus: "can0", ID: id, Flags: flags, Len: uint8(len(payload))}
	copy(f.Data[:], payload)
	return f
}

// scale parses a factor and an offset that are known to be good.
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
