package decode

import (
	"fmt"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

// byteEntry returns a polled entry with one signal, its first data byte.
func byteEntry(e Entry) testEntry {
	return testEntry{e, []Signal{{Start: 7, Length: 8, BigEndian: true}}}
}

func obd(mode, pid uint8, signals ...Signal) testEntry {
	return testEntry{Entry{Kind: ByOBD, Mode: mode, PID: pid, Response: 0x7E8, Address: -1}, signals}
}

func did(id uint16, signals ...Signal) testEntry {
	return testEntry{Entry{Kind: ByDID, DID: id, Response: 0x7E8, Address: -1}, signals}
}

func bigWord(factor string) Signal {
	return Signal{Start: 7, Length: 16, BigEndian: true, Scale: scale(factor, "")}
}

func bigByte(factor, offset string) Signal {
	return Signal{Start: 7, Length: 8, BigEndian: true, Scale: scale(factor, offset)}
}

// reading is the result of decoding a frame.
type reading struct {
	Matched []int
	Values  []float64 // of valid samples
}

// decodeAll decodes frames 10 ms apart and returns the result of the last one. The others must
// give nothing.
func decodeAll(t *testing.T, d *Decoder, frames ...*Frame) reading {
	t.Helper()
	for i, f := range frames {
		f.Time, f.Line = int64(i)*10e6, int64(i)+1
		samples := d.Decode(f)
		if i < len(frames)-1 {
			if len(samples) > 0 || len(d.Matched()) > 0 {
				t.Fatalf("frame %d of %d gave %+v by entries %v, want nothing", i+1, len(frames), samples, d.Matched())
			}
			continue
		}
		r := reading{Matched: append([]int(nil), d.Matched()...)}
		for _, s := range samples {
			if s.Time != f.Time {
				t.Errorf("sample at %d, want the time of its last frame, %d", s.Time, f.Time)
			}
			if s.Valid {
				r.Values = append(r.Values, s.Value)
			}
		}
		return r
	}
	return reading{}
}

// framesOf returns frames with the given payloads in hexadecimal.
func framesOf(t *testing.T, id uint32, flags Flags, payloads ...string) []*Frame {
	t.Helper()
	var frames []*Frame
	for _, text := range payloads {
		var payload []byte
		if _, err := fmt.Sscanf(text, "%x", &payload); err != nil {
			t.Fatal(err)
		}
		frames = append(frames, dataFrame(id, flags, payload...))
	}
	return frames
}

func TestPublishedAnswersDecodeFromTheirFrames(t *testing.T) {
	percent := bigByte("0.3921568627450980392", "")
	tests := []struct {
		source string
		id     uint32
		m      *Map
		frames []string
		want   reading
	}{
		{
			"scapy, test/contrib/automotive/obd/obd.uts: four PIDs; segmented by ISO 15765-2", 0x7E8,
			mapOf(obd(1, 0x0C, bigWord("0.25")), obd(1, 0x05, bigByte("", "-40")),
				obd(1, 0x15, bigByte("0.005", ""), Signal{Start: 15, Length: 8, BigEndian: true, Scale: scale("0.78125", "-100")}),
				obd(1, 0x03, bigByte("", ""), Signal{Start: 15, Length: 8, BigEndian: true}), obd(1, 0x0D, bigByte("", "")), obd(2, 0x0C, bigWord(""))),
			[]string{"1011" + "41056E018333", "21" + "FF6315A0780C0A", "22" + "6B0302000000"},
			reading{[]int{0, 1, 2, 3}, []float64{666.75, 70, 0.8, -6.25, 2, 0}},
		},
		{
			"the same file: service 02, after each PID the number of the frame", 0x7E8,
			mapOf(obd(2, 0x0C, Signal{Start: 15, Length: 16, BigEndian: true, Scale: scale("0.25", "")}),
				obd(2, 0x04, Signal{Start: 15, Length: 8, BigEndian: true, Scale: scale("0.3921568627450980392", "")}),
				obd(2, 0x05, Signal{Start: 15, Length: 8, BigEndian: true, Scale: scale("", "-40")})),
			[]string{"100B" + "420C00208004", "21" + "00800500285555"},
			reading{[]int{0, 1, 2}, []float64{2080, 12800.0 / 255, 0}},
		},
		{"scapy: fuel level", 0x7E8, mapOf(obd(1, 0x2F, percent)), []string{"03412F1A"}, reading{[]int{0}, []float64{2600.0 / 255}}},
		{"racket-lang obd2 documentation: engine speed", 0x7E8, mapOf(obd(1, 0x0C, bigWord("0.25"))), []string{"04410C0E70AAAAAA"}, reading{[]int{0}, []float64{924}}},
		{"common example, no source: engine speed", 0x7E8, mapOf(obd(1, 0x0C, bigWord("0.25"))), []string{"04410C1AF8"}, reading{[]int{0}, []float64{1726}}},
		{
			"racket-lang obd2 documentation: PIDs supported", 0x7E8,
			mapOf(obd(1, 0, Signal{Start: 7, Length: 32, BigEndian: true})), []string{"064100BE1FA81300"}, reading{[]int{0}, []float64{0xBE1FA813}},
		},
		{
			"CSDN Touxon 116644169: two PIDs in a single frame, padded with 55", 0x7E8,
			mapOf(obd(1, 0x31, bigWord("")), obd(1, 0x51, bigByte("", ""))), []string{"0641311DE6510155"}, reading{[]int{0, 1}, []float64{7654, 1}},
		},
		{
			"the same, a request for six PIDs; the frame after the first, of which it tells nothing, is made up", 0x7E8,
			mapOf(obd(1, 0x0B, bigByte("", "")), obd(1, 0x0C, bigWord("0.25")), obd(1, 0x10, bigWord("0.01"))),
			[]string{"100F" + "410B210C0C38", "30000A5555555555", "21" + "0D000E800F4610", "22" + "012C555555"}, reading{[]int{0, 1, 2}, []float64{33, 782, 3}},
		},
		{"derived from J1979: control module voltage", 0x7E8, mapOf(obd(1, 0x42, bigWord("0.001"))), []string{"04414230D4CCCCCC"}, reading{[]int{0}, []float64{12.5}}},
		{"derived from J1979: control module voltage, low", 0x7E8, mapOf(obd(1, 0x42, bigWord("0.001"))), []string{"0441422580000000"}, reading{[]int{0}, []float64{9.6}}},
		{
			"derived from J1979 service 09: identification number, first and last letter", 0x7E8,
			mapOf(obd(9, 2, Signal{Start: 15, Length: 8, BigEndian: true}, Signal{Start: 8*17 + 7, Length: 8, BigEndian: true})),
			[]string{"1014490201314D38", "2147444D3941584B", "2250303432373838"}, reading{[]int{0}, []float64{'1', '8'}},
		},
		{
			"derived from ISO 14229-1: speed by identifier", 0x7E8,
			mapOf(did(0xF40D, bigByte("", ""))), []string{"0462F40D32AAAAAA"}, reading{[]int{0}, []float64{50}},
		},
		{
			"derived from ISO 14229-1: identifiers that stand for PIDs part at the standard's lengths", 0x7E8,
			mapOf(did(0xF40D, bigByte("", "")), did(0x1234, bigByte("", "")), did(0xF40C, bigWord("0.25"))),
			[]string{"100B" + "62F40C1AF8F4", "21" + "0D321234070000"}, reading{[]int{0, 1, 2}, []float64{50, 7, 1726}},
		},
		{
			"an identifier that stands for a PID has all the bytes of an answer of its own", 0x7E8,
			mapOf(did(0xF40C, Signal{Start: 8*2 + 7, Length: 8, BigEndian: true})),
			[]string{"0762F40C11223344"}, reading{[]int{0}, []float64{51}},
		},
		{
			"one that the map asks for ends the data of the one before it", 0x7E8,
			mapOf(did(0xF40D, Signal{Start: 7, Length: 8, BigEndian: true}), did(0x1234, bigByte("", ""))),
			[]string{"0762F40D32123407"}, reading{[]int{0, 1}, []float64{50, 7}},
		},
		{
			"what follows another identifier is its data", 0x7E8,
			mapOf(did(0x1234, Signal{Start: 8*2 + 7, Length: 8, BigEndian: true}), did(0xF40D, bigByte("", ""))),
			[]string{"07621234F4F40D32"}, reading{[]int{0}, []float64{0x0D}},
		},
		{
			"J1979: what follows a PID of unknown length is its data", 0x7E8,
			mapOf(obd(1, 0x0D, bigByte("", "")), obd(1, 0xF1, bigWord("")), obd(1, 0x0C, bigWord(""))),
			[]string{"07410D20F1010C05"}, reading{[]int{0, 1}, []float64{0x20, 0x010C}},
		},
		{
			"J1979: fuel trims of one byte", 0x7E8, mapOf(obd(1, 0x06, bigByte("", "")), obd(1, 0x0D, bigByte("", ""))),
			[]string{"0741068007810D20"}, reading{[]int{0, 1}, []float64{0x80, 0x20}},
		},
		{
			"J1979: fuel trims of two bytes", 0x7E8, mapOf(obd(1, 0x06, bigByte("", "")), obd(1, 0x0D, bigByte("", ""))),
			[]string{"064106807F0D2055"}, reading{[]int{0, 1}, []float64{0x80, 0x20}},
		},
		{"the same PID twice: the first counts", 0x7E8, mapOf(obd(1, 0x0D, bigByte("", ""))), []string{"05410D200D21"}, reading{[]int{0}, []float64{0x20}}},
		{"answer cut short", 0x7E8, mapOf(obd(1, 0x0C, bigWord(""))), []string{"03410C1A"}, reading{[]int{0}, nil}},
		{"answer of another service", 0x7E8, mapOf(obd(1, 0x0C, bigWord(""))), []string{"05420C001AF8"}, reading{}},
		{"negative answer", 0x7E8, mapOf(obd(1, 0x0C, bigWord("")), did(0xF40D, bigByte("", ""))), []string{"037F0112"}, reading{}},
		{"other identifier", 0x7E9, mapOf(obd(1, 0x0C, bigWord(""))), []string{"04410C1AF8"}, reading{}},
		{"no values at all", 0x7E8, mapOf(obd(1, 0x0C, bigWord("")), did(0xF40D, bigByte("", ""))), []string{"0162"}, reading{}},
		{"identifier cut short", 0x7E8, mapOf(did(0xF40D, bigByte("", ""))), []string{"0262F4"}, reading{}},
	}
	for _, tt := range tests {
		t.Run(tt.source, func(t *testing.T) {
			if diff := cmp.Diff(tt.want, decodeAll(t, NewDecoder(tt.m), framesOf(t, tt.id, 0, tt.frames...)...)); diff != "" {
				t.Errorf("reading (-want +got):\n%s", diff)
			}
		})
	}
}

func TestAnswersAreOfTheirIdentifierInterfaceAndAddress(t *testing.T) {
	m := mapOf(
		byteEntry(Entry{Kind: ByOBD, Mode: 1, PID: 0x0D, Response: 0x7E8, Address: 0xF1}),                               // 0
		byteEntry(Entry{Kind: ByOBD, Mode: 1, PID: 0x0D, Response: 0x7E8, Address: -1}),                                 // 1
		byteEntry(Entry{Kind: ByOBD, Mode: 1, PID: 0x0D, Response: 0x7E8, Address: 0x10, Bus: "can1"}),                  // 2
		byteEntry(Entry{Kind: ByDID, DID: 0xF40D, Response: 0x18DAF110, ResponseExtended: true, Address: -1}),           // 3
		byteEntry(Entry{Kind: ByDID, DID: 0xF40D, Response: 0x7E8, ResponseExtended: true, Address: -1, Bus: "can1"}),   // 4
		testEntry{Entry{Kind: ByID, ID: 0x7E8}, []Signal{{Start: 7, Length: 8, BigEndian: true}}},                       // 5
		byteEntry(Entry{Kind: ByOBD, Mode: 1, PID: 0x0D, Response: 0x7E8, Address: -1, Bus: "can1"}),                    // 6
		testEntry{Entry{Kind: ByPGN, PGN: 0xDA00, Source: 0x10}, []Signal{{Start: 15, Length: 8, BigEndian: true}}},     // 7
		byteEntry(Entry{Kind: ByOBD, Mode: 1, PID: 0x05, Response: 0x18DAF110, ResponseExtended: true, Address: 0x0F}),  // 8
		testEntry{Entry{Kind: ByID, ID: 0x18DAF110, Extended: true}, []Signal{{Start: 15, Length: 8, BigEndian: true}}}, // 9
	)
	tests := []struct {
		name    string
		id      uint32
		flags   Flags
		bus     string
		payload []byte
		want    reading
	}{
		{"normal addressing", 0x7E8, 0, "can0", []byte{3, 0x41, 0x0D, 0x20}, reading{[]int{1, 5}, []float64{0x20, 3}}},
		{"an address, before entries by id", 0x7E8, 0, "can0", []byte{0xF1, 3, 0x41, 0x0D, 0x21}, reading{[]int{0, 5}, []float64{0x21, 0xF1}}},
		{"an address of the other interface", 0x7E8, 0, "can0", []byte{0x10, 3, 0x41, 0x0D, 0x21}, reading{[]int{5}, []float64{0x10}}},
		{"an address of this interface", 0x7E8, 0, "can1", []byte{0x10, 3, 0x41, 0x0D, 0x21}, reading{[]int{2, 5}, []float64{0x21, 0x10}}},
		{"both interfaces' entries", 0x7E8, 0, "can1", []byte{3, 0x41, 0x0D, 0x22}, reading{[]int{1, 5, 6}, []float64{0x22, 3, 0x22}}},
		{"29 bits", 0x18DAF110, Extended, "can0", []byte{4, 0x62, 0xF4, 0x0D, 0x23}, reading{[]int{3, 7, 9}, []float64{0x23, 0x62, 0x62}}},
		{"a small identifier of 29 bits", 0x7E8, Extended, "can1", []byte{4, 0x62, 0xF4, 0x0D, 0x23}, reading{[]int{4}, []float64{0x23}}},
		{"the same on the other interface", 0x7E8, Extended, "can0", []byte{4, 0x62, 0xF4, 0x0D, 0x23}, reading{}},
		{"address with 29 bits", 0x18DAF110, Extended, "can0", []byte{0x0F, 3, 0x41, 0x05, 0x24}, reading{[]int{7, 8, 9}, []float64{3, 0x24, 3}}},
		{"error frame", 0x7E8, Error, "can0", []byte{3, 0x41, 0x0D, 0x20}, reading{}},
		{"no payload", 0x7E8, 0, "can0", nil, reading{[]int{5}, nil}},
	}
	d := NewDecoder(m)
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			f := dataFrame(tt.id, tt.flags, tt.payload...)
			f.Bus = tt.bus
			if diff := cmp.Diff(tt.want, decodeAll(t, d, f)); diff != "" {
				t.Errorf("reading (-want +got):\n%s", diff)
			}
		})
	}
}

func TestIncompleteAnswersAreCountedWithTheirPlaces(t *testing.T) {
	d := NewDecoder(mapOf(obd(1, 0x0D, bigByte("", ""))))
	if count, line, time := d.Incomplete(); count != 0 || line != 0 || time != 0 || len(d.IncompletePlaces()) > 0 {
		t.Errorf("before the first frame: %d, line %d, time %d", count, line, time)
	}
	for i, f := range framesOf(t, 0x7E8, 0, "03410D20", "1009410D20050C1A", "03410D20", "03410D20", "1009410D20050C1A") {
		f.Time, f.Line = 1000+int64(i), 11+int64(i)
		d.Decode(f)
	}
	count, line, time := d.Incomplete()
	if count != 2 || line != 12 || time != 1001 {
		t.Errorf("Incomplete() = %d, line %d, time %d; want 2, 12, 1001", count, line, time)
	}
	want := []Place{{Line: 12, Why: "a single frame came before its end"}, {Line: 15, Why: "the log ends before it is complete"}}
	if diff := cmp.Diff(want, d.IncompletePlaces()); diff != "" {
		t.Errorf("places (-want +got):\n%s", diff)
	}
}

// Up to six PIDs can be requested at once (SAE J1979). Whatever they are, each one of known
// length gets its own bytes.
func TestAnswersToSeveralPIDsAreSplitByTheStandardsLengths(t *testing.T) {
	var known []int
	for pid := range 256 {
		if PIDBytes(1, uint8(pid)) > 0 && !isFuelTrim(uint8(pid)) {
			known = append(known, pid)
		}
	}
	var entries []testEntry
	for _, pid := range known {
		entries = append(entries, obd(1, uint8(pid), Signal{Start: 7, Length: 8 * PIDBytes(1, uint8(pid)), BigEndian: true}))
	}
	m := mapOf(entries...)
	rapid.Check(t, func(t *rapid.T) {
		pids := rapid.SliceOfNDistinct(rapid.SampledFrom(known), 1, 6, rapid.ID[int]).Draw(t, "pids")
		message := []byte{0x41}
		want := map[int]uint64{}
		for _, pid := range pids {
			data := rapid.SliceOfN(rapid.Byte(), PIDBytes(1, uint8(pid)), PIDBytes(1, uint8(pid))).Draw(t, "data")
			message = append(append(message, byte(pid)), data...)
			v := uint64(0)
			for _, b := range data {
				v = v<<8 | uint64(b)
			}
			want[slices.Index(known, pid)] = v
		}
		f := dataFrame(0x7E8, FD, append([]byte{0, byte(len(message))}, message...)...)
		if len(message) <= 7 {
			f = dataFrame(0x7E8, 0, append([]byte{byte(len(message))}, message...)...)
		}
		got := map[int]uint64{}
		for _, s := range NewDecoder(m).Decode(f) {
			got[s.Signal] = uint64(s.Raw)
		}
		if diff := cmp.Diff(want, got); diff != "" {
			t.Errorf("raws by signal (-want +got):\n%s", diff)
		}
	})
}

func TestAnswersOfSeveralFramesAllocateNothing(t *testing.T) {
	d := NewDecoder(mapOf(obd(1, 0x0C, bigWord("0.25")), obd(1, 0x05, bigByte("", "-40")), did(0xF40D, bigByte("", ""))))
	frames := framesOf(t, 0x7E8, 0, "101141056E018333", "30000A", "21FF6315A0780C0A", "226B0302000000", "0462F40D32", "2512345678", "1009410D20050C1A")
	valid := 0
	got := testing.AllocsPerRun(100, func() {
		for _, f := range frames {
			for _, s := range d.Decode(f) {
				if s.Valid {
					valid++
				}
			}
		}
	})
	if got != 0 || valid != 101*3 {
		t.Errorf("%v allocations, %d values; want 0, %d", got, valid, 101*3)
	}
}

func TestLengthsOfPIDs(t *testing.T) {
	for _, tt := range []struct {
		mode, pid uint8
		want      int
		source    string
	}{
		{1, 0x00, 4, "racket-lang obd2 documentation"},
		{1, 0x05, 1, "scapy, obd.uts"}, {1, 0x0C, 2, "scapy, obd.uts"}, {1, 0x15, 2, "scapy, obd.uts"}, {1, 0x03, 2, "scapy, obd.uts"},
		{1, 0x10, 2, "SAE J1979 service 01"}, {1, 0x42, 2, "scapy, pids_40_5F.py"}, {1, 0x4E, 2, "scapy, pids_40_5F.py"},
		{1, 0x5C, 1, "scapy, pids_40_5F.py"}, {1, 0x5E, 2, "scapy, pids_40_5F.py"},
		{1, 0x24, 4, "from memory"}, {1, 0x67, 3, "from memory"}, {1, 0xC0, 4, "from memory"},
		{1, 0x68, 0, "not known here"}, {1, 0xFF, 0, "not known here"}, {2, 0x0C, 0, "another service"}, {9, 0x02, 0, "another service"},
	} {
		if got := PIDBytes(tt.mode, tt.pid); got != tt.want {
			t.Errorf("service %02X PID %02X: %d bytes, want %d (%s)", tt.mode, tt.pid, got, tt.want, tt.source)
		}
	}
}
