package decode_test

import (
	"testing"

	"lull/decode"
	"lull/decode/sigmap"
)

// A source address has eight bits: 0x17 and 0x97 are two senders.
func TestTheWholeSourceAddressIdentifiesTheSender(t *testing.T) {
	for _, source := range []string{"0x17", "0x97"} {
		m, err := sigmap.Parse("truck.yaml", []byte("format: 1\nframes:\n  - pgn: 61444\n    source: "+source+"\n    signals: {rpm: {start: 24, length: 16, factor: 0.125, unit: rpm, role: engine_speed}}\n"))
		if err != nil {
			t.Fatal(err)
		}
		d := decode.NewDecoder(m)
		for id, sender := range map[uint32]string{0x0CF00417: "0x17", 0x0CF00497: "0x97"} {
			f := decode.Frame{Bus: "can0", ID: id, Flags: decode.Extended, Len: 8}
			if got := len(d.Decode(&f)) > 0; got != (sender == source) {
				t.Errorf("a map of source %s reads a frame of %s: %v", source, sender, got)
			}
		}
	}
}
