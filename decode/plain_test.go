package decode_test

import (
	"encoding/binary"
	"testing"

	"lull/decode"
	"lull/decode/sigmap"
)

// Nearly all fields are plain and are read by a fast path. Fields with just one property that
// the fast path cannot handle are not.
func TestFieldsWithOneRuleOrALongNumberAreRead(t *testing.T) {
	for _, test := range []struct {
		field string
		raw   uint32
		want  float64
		none  bool
	}{
		{field: "min: 10", raw: 9, none: true},
		{field: "min: 10", raw: 10, want: 10},
		{field: "max: 10", raw: 11, none: true},
		{field: "max: 10", raw: 10, want: 10},
		{field: "invalid: [7]", raw: 7, none: true},
		{field: "factor: 0.1234567890123456789012345", raw: 2, want: 0.246913578024691357802469},
		{field: "offset: 0.1234567890123456789012345", raw: 1, want: 1.1234567890123456789012345},
		{field: "factor: 1000000000000", raw: 4294967295, want: 4294967295e12},
		{field: "factor: -1000000000000", raw: 4294967295, want: -4294967295e12},
	} {
		m, err := sigmap.Parse("car.yaml", []byte("format: 1\nframes:\n  - id: 0x100\n    signals:\n      rpm: {start: 32, length: 16, unit: rpm, role: engine_speed}\n      x: {start: 0, length: 32, "+test.field+"}\n"))
		if err != nil {
			t.Fatal(err)
		}
		f := decode.Frame{Bus: "can0", ID: 0x100, Len: 8}
		binary.LittleEndian.PutUint32(f.Data[:], test.raw)
		for _, s := range decode.NewDecoder(m).Decode(&f) {
			if m.Signals[s.Signal].Name == "x" && (s.Valid == test.none || s.Valid && s.Value != test.want) {
				t.Errorf("%s, raw %d: %v, valid %v; want %v, none %v", test.field, test.raw, s.Value, s.Valid, test.want, test.none)
			}
		}
	}
}
