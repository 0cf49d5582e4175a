package decode_test

import (
	"fmt"

	"lull/decode"
)

func ExampleDecoder() {
	quarter, err := decode.ParseScale("0.25", "0")
	if err != nil {
		fmt.Println(err)
		return
	}
	m := &decode.Map{
		Entries: []decode.Entry{{ID: 0x1A0, Signals: []int{0, 1}}},
		Signals: []decode.Signal{
			{Name: "engine_speed", Start: 16, Length: 16, Scale: quarter, Unit: "rpm"},
			{Name: "gear", Start: 8, Length: 4, Scale: decode.Identity, Invalid: []int64{15}},
		},
	}
	frame := decode.Frame{ID: 0x1A0, Len: 8, Data: [decode.MaxPayload]byte{0, 0x0F, 0x80, 0x0C}}

	decoder := decode.NewDecoder(m)
	for _, s := range decoder.Decode(&frame) {
		signal := &m.Signals[s.Signal]
		if !s.Valid {
			fmt.Println(signal.Name, "has no value")
			continue
		}
		fmt.Println(signal.Name, s.Value, signal.Unit)
	}
	// Output:
	// engine_speed 800 rpm
	// gear has no value
}
