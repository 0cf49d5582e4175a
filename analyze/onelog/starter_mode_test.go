package onelog_test

import (
	"fmt"
	"testing"

	"github.com/google/go-cmp/cmp"

	"lull/analyze/onelog"
	"lull/decode"
	"lull/decode/sigmap"
)

// starterModes is a map for a truck: SAE J1939-71, engine speed (SPN 190) and
// starter mode (SPN 1675, byte 7, low nibble) in EEC1, vehicle speed (SPN 84) in
// CCVS1. Of the modes 9 to 11, which older editions reserve, 11 is left without a
// label.
const starterModes = `
format: 1
frames:
  - pgn: 61444
    signals:
      engine: {start: 24, length: 16, factor: 0.125, unit: rpm, role: engine_speed}
      starter_mode:
        start: 48
        length: 4
        role: inhibit_code
        clear: [0, 1, 2, 3]
        values:
          0: start not requested
          1: starter active, gear not engaged
          2: starter active, gear engaged
          3: start finished
          4: engine already running
          5: engine not ready, preheating
          6: driveline engaged
          7: active immobilizer
          8: starter too hot
          9: reserved
          10: reserved
          12: reason unknown
          13: error
  - pgn: 65265
    signals:
      wheels: {start: 8, length: 16, factor: 0.00390625, unit: km/h, role: vehicle_speed}
`

// Each of the sixteen modes at a standstill of its own: reasons by their label,
// the reserved ones shown as such, one without a label by its number; error and
// not available (14, 15) are no values, so that nothing can be told.
func TestStarterModesOfSAEJ1939AsReasons(t *testing.T) {
	m, err := sigmap.Parse("truck.yaml", []byte(starterModes))
	if err != nil {
		t.Fatal(err)
	}
	run := onelog.NewRun(m)
	const cycle = 12_000 // ms: 6 s moving, 6 s standing
	for ms := 0; ms < 16*cycle; ms += 20 {
		mode := byte(ms / cycle)
		// The published frame of 700 rpm, with the mode in the low nibble.
		eec1 := decode.Frame{Time: int64(ms) * 1e6, Bus: "can0", ID: 0x0CF00400, Flags: decode.Extended, Len: 8,
			Data: [decode.MaxPayload]byte{0xFF, 0x7D, 0x7D, 0xE0, 0x15, 0xFF, 0xF0 | mode, 0xFF}}
		run.Push(&eec1)
		if ms%100 == 0 {
			speed := byte(0)
			if ms%cycle < cycle/2 {
				speed = 60 // km/h, the high byte
			}
			ccvs := decode.Frame{Time: int64(ms) * 1e6, Bus: "can0", ID: 0x18FEF100, Flags: decode.Extended, Len: 8,
				Data: [decode.MaxPayload]byte{0xFF, 0, speed, 0xCF, 0xFF, 0xFF, 0xFF, 0xFF}}
			run.Push(&ccvs)
		}
	}
	r := run.Finish(decode.Info{Stamps: decode.StampsAbsolute})
	var got []string
	for i, s := range r.Standstills {
		text := fmt.Sprintf("%d: ", i)
		switch {
		case s.Reason != "":
			text += s.Reason
		case s.Unexplained:
			text += "unexplained"
		default:
			text += fmt.Sprint("cannot tell ", s.CannotTell)
		}
		got = append(got, text)
	}
	want := []string{
		"0: unexplained", "1: unexplained", "2: unexplained", "3: unexplained",
		"4: engine already running", "5: engine not ready, preheating", "6: driveline engaged", "7: active immobilizer",
		"8: starter too hot", "9: reserved", "10: reserved", "11: code 11", "12: reason unknown", "13: error",
		"14: cannot tell [starter_mode]", "15: cannot tell [starter_mode]",
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
}
