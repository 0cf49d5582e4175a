package standard

import (
	"slices"
	"testing"

	"lull/decode"
)

// Identifiers of ISO 15765-4, as public sources have them.
func TestDiagnosticIdentifiers(t *testing.T) {
	for _, test := range []struct {
		id       uint32
		extended bool
		want     string
	}{
		{0x7DF, false, "request to all modules (ISO 15765-4)"},
		{0x7E0, false, "request to module 1 (ISO 15765-4)"},
		{0x7E7, false, "request to module 8 (ISO 15765-4)"},
		{0x7E8, false, "answer of module 1 (ISO 15765-4)"},
		{0x7EF, false, "answer of module 8 (ISO 15765-4)"},
		{0x18DB33F1, true, "request to all modules (ISO 15765-4)"},
		{0x18DA10F1, true, "request to module 10 (ISO 15765-4)"},
		{0x18DAF110, true, "answer of module 10 (ISO 15765-4)"},
		{0x7DE, false, ""}, {0x7F0, false, ""}, {0x7E8, true, ""}, {0x1CDAF110, true, ""},
	} {
		x, ok := Diagnostic(test.id, test.extended)
		if ok != (test.want != "") || ok && x.String() != test.want {
			t.Errorf("%X: %q, want %q", test.id, x, test.want)
		}
	}
}

// Answers of public sources: packet libraries' tests and handbooks (decode has them frame
// by frame).
func TestValuesOfAnswers(t *testing.T) {
	for _, test := range []struct {
		pid  uint8
		data []byte
		want float64
		unit string
	}{
		{0x0C, []byte{0x0A, 0x6B}, 666.75, "rpm"},
		{0x0C, []byte{0x0E, 0x70}, 924, "rpm"},
		{0x05, []byte{0x6E}, 70, "°C"},
		{0x42, []byte{0x30, 0xD4}, 12.5, "V"},
		{0x2F, []byte{0x1A}, 26 * 100. / 255, "%"},
		{0x31, []byte{0x1D, 0xE6}, 7654, "km"},
	} {
		p, ok := FindPID(test.pid)
		raw, whole := p.Raw(test.data)
		if v := p.Value(raw); !ok || !whole || v != test.want || p.Unit != test.unit || PIDName(test.pid) != p.Name {
			t.Errorf("%02X: %v %s, want %v %s", test.pid, v, p.Unit, test.want, test.unit)
		}
	}
	p, _ := FindPID(0x0C)
	if _, whole := p.Raw([]byte{1}); whole {
		t.Error("an answer that was cut off has a value")
	}
}

// What is told of a PID is no longer than what decode takes of an answer.
func TestPIDsAreAsLongAsDecodeReadsThem(t *testing.T) {
	for pid, p := range pids {
		if n := decode.PIDBytes(1, pid); n != p.Bytes {
			t.Errorf("%02X: %d bytes, %d in decode", pid, p.Bytes, n)
		}
		if p.Name == "" || p.Source == "" {
			t.Errorf("%02X has no name or source", pid)
		}
	}
}

// Frames of published examples carry the values that their sources state.
func TestParametersOfPublishedFrames(t *testing.T) {
	for _, test := range []struct {
		pgn  uint32
		spn  int
		data [8]byte
		want float64
	}{
		{61444, 190, [8]byte{0xFF, 0x7D, 0x7D, 0xE0, 0x15, 0xFF, 0xF0, 0xFF}, 700}, // manual of a controller
		{61444, 513, [8]byte{0xFF, 0x7D, 0x7D, 0xE0, 0x15, 0xFF, 0xF0, 0xFF}, 0},
		{61444, 1675, [8]byte{0xF3, 0x91, 0x91, 0xAA, 0x18, 0x00, 0xF3, 0xFF}, 3}, // tests of a public library
		{65262, 110, [8]byte{0x82}, 90},
		{65265, 84, [8]byte{0xFF, 0x00, 0x3C, 0xCF, 0xFF, 0xFF, 0xFF, 0xFF}, 60},
		{65265, 597, [8]byte{3: 0xDF}, 1},
		{65271, 168, [8]byte{0xFF, 0xFF, 0xFF, 0xFF, 0xF8, 0x00, 0xC0, 0x00}, 12.4},
		{65271, 158, [8]byte{0xFF, 0xFF, 0xFF, 0xFF, 0xF8, 0x00, 0xC0, 0x00}, 9.6},
	} {
		g, _ := FindGroup(test.pgn)
		at := slices.IndexFunc(g.Parameters, func(p Parameter) bool { return p.SPN == test.spn })
		if at < 0 {
			t.Errorf("%d has no parameter %d", test.pgn, test.spn)
			continue
		}
		p, raw := g.Parameters[at], uint64(0)
		for i := range p.Bits {
			bit := p.Start + i
			raw |= uint64(test.data[bit/8]>>(bit%8)&1) << i
		}
		if got := float64(raw)*p.Factor + p.Offset; got < test.want-1e-9 || got > test.want+1e-9 {
			t.Errorf("parameter %d: %v, want %v", test.spn, got, test.want)
		}
	}
}

func TestGroupsAreInOrderAndComplete(t *testing.T) {
	for i, g := range groups {
		if i > 0 && g.PGN <= groups[i-1].PGN {
			t.Errorf("%d is not in order", g.PGN)
		}
		if g.Says == "" || g.Source == "" {
			t.Errorf("%d has no words or no source", g.PGN)
		}
		for _, p := range g.Parameters {
			if p.Name == "" || p.Source == "" || p.Bits < 1 || p.Start+p.Bits > 64 || p.Factor <= 0 {
				t.Errorf("%d: %+v", g.PGN, p)
			}
		}
	}
	if g, ok := FindGroup(0xFF30); !ok || g.Core {
		t.Error("a maker's own group proves something")
	}
	if _, ok := FindGroup(0xFE00); ok {
		t.Error("a group without a name has one")
	}
}

func TestThreeCoreGroupsMakeABusOfJ1939(t *testing.T) {
	for _, test := range []struct {
		name string
		ids  []uint32 // above 7FF they have 29 bits
		want bool
	}{
		{"a truck", []uint32{0x0CF00400, 0x18FEF100, 0x18FEF700, 0x18FEEE00}, true},
		{"with a scan tool", []uint32{0x0CF00400, 0x18FEF100, 0x18FEF700, 0x7DF, 0x7E8, 0x7E9, 0x7EA}, true},
		{"one look-alike among a car's own", []uint32{0x0CF00400, 0x19FF2040, 0x1A002040}, false},
		{"three senders of one group", []uint32{0x0CF00400, 0x0CF00401, 0x0CF00402}, false},
		{"mostly 11 bits", []uint32{0x0CF00400, 0x18FEF100, 0x18FEF700, 1, 2, 3}, false},
		{"none", nil, false},
	} {
		var j J1939
		for _, id := range test.ids {
			j.Add(id, id > 0x7FF, 8)
		}
		if j.Follows() != test.want {
			t.Errorf("%s: %v", test.name, !test.want)
		}
	}
	var short J1939
	for _, id := range []uint32{0x0CF00400, 0x18FEF100, 0x18FEF700} {
		short.Add(id, true, 4)
	}
	if short.Follows() {
		t.Error("groups of 4 bytes are those of J1939")
	}
}
