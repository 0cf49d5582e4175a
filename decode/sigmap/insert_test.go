package sigmap

import (
	"strings"
	"testing"

	"lull/decode"
)

// drafts is a text with an engine speed, a voltage in the same frame, and a brake elsewhere.
func drafts() *Text {
	return &Text{Frames: []FrameText{
		{Entry: decode.Entry{ID: 0x1A0, Source: -1, Address: -1}, Signals: []SignalText{
			{Signal: decode.Signal{Name: "engine_speed", Start: 16, Length: 16, Unit: "rpm", Role: decode.EngineSpeed}, Factor: "0.25", Comments: []string{"likely"}},
			{Signal: decode.Signal{Name: "voltage", Start: 32, Length: 8, Unit: "V", Role: decode.BatteryVoltage}, Factor: "0.1"},
		}},
		{Entry: decode.Entry{ID: 0x2F4, Source: -1, Address: -1}, Signals: []SignalText{
			{Signal: decode.Signal{Name: "brake", Start: 3, Length: 1}},
			{Signal: decode.Signal{Name: "guess", Start: 5, Length: 1}, Out: true},
		}},
	}}
}

func TestWhatAMapLacksIsAddedAndNothingElseChanges(t *testing.T) {
	for _, c := range []struct {
		name, text string
		added      int
		want       []string // names of the signals of the result
	}{
		{"has the engine speed under another name", "format: 1\nframes:\n  - id: 0x1A0\n    signals:\n      mine: {start: 16, length: 16, unit: rpm, role: engine_speed} # checked\n# the end\n", 2, []string{"mine", "voltage", "brake"}},
		{"lacks the engine speed", "format: 1\nframes:\n- id: 0x2F4\n  signals:\n    brake: {start: 3, length: 1}\n", 2, []string{"brake", "engine_speed", "voltage"}},
		{"keys behind the frames, line ends of Windows", "format: 1\r\nframes:\r\n    - id: 0x1A0\r\n      signals:\r\n        a: {start: 16, length: 16, unit: rpm, role: engine_speed}\r\n\r\n# of the times\r\nsettings:\r\n  min_standstill: 2s\r\n", 2, []string{"a", "voltage", "brake"}},
		{"bits that are taken", "format: 1\nframes:\n  - id: 0x1A0\n    signals:\n      a: {start: 16, length: 16, unit: rpm, role: engine_speed}\n      b: {start: 36, length: 2}\n  - id: 0x2F4\n    signals:\n      c: {start: 0, length: 8}\n", 0, []string{"a", "b", "c"}},
		{"no line end at the end", "format: 1\nframes:\n  - id: 0x1A0\n    signals:\n      a: {start: 16, length: 16, unit: rpm, role: engine_speed}", 2, []string{"a", "voltage", "brake"}},
	} {
		out, n, err := Insert("car.yaml", []byte(c.text), drafts())
		if err != nil || n != c.added {
			t.Errorf("%s: %d added, want %d; %v", c.name, n, c.added, err)
			continue
		}
		m, err := Parse("car.yaml", out)
		if err != nil {
			t.Errorf("%s: %v\n%s", c.name, err, out)
			continue
		}
		var names []string
		for i := range m.Signals {
			names = append(names, m.Signals[i].Name)
		}
		if strings.Join(names, " ") != strings.Join(c.want, " ") {
			t.Errorf("%s: signals %v, want %v", c.name, names, c.want)
		}
		rest := string(out)
		for _, line := range strings.SplitAfter(c.text, "\n") {
			at := strings.Index(rest, line)
			if at < 0 {
				t.Errorf("%s: the line %q is not there any more, or not in its order", c.name, line)
				break
			}
			rest = rest[at+len(line):]
		}
	}
}

func TestAMapWithMistakesIsNotAddedTo(t *testing.T) {
	for _, text := range []string{"format: 1\nframes:\n  - id: 0x1A0\n    signals:\n      a: {start: 600, length: 16}\n", "nothing: here\n", "", "format: 1\nframes: [{id: 0x1A0, signals: {a: {start: 16, length: 16, unit: rpm, role: engine_speed}}}]\n"} {
		if out, n, err := Insert("car.yaml", []byte(text), drafts()); err == nil {
			t.Errorf("%q: %d added:\n%s", text, n, out)
		}
	}
}
