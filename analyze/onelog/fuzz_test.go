package onelog_test

import (
	"encoding/binary"
	"encoding/json"
	"fmt"
	"math"
	"reflect"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"lull/analyze"
	"lull/analyze/measure"
	"lull/analyze/onelog"
	"lull/decode"
	"lull/decode/sigmap"
	"lull/pkg/bounds"
)

// checkResult holds a result against what must be true of any.
func checkResult(t failer, m *decode.Map, res *analyze.Result) {
	t.Helper()
	checkNumbers(t, "result", reflect.ValueOf(*res))
	if _, err := json.Marshal(res); err != nil {
		t.Errorf("no JSON: %v", err)
	}
	for i := range res.Episodes {
		e := &res.Episodes[i]
		if e.N != i+1 || !slices.Contains(analyze.Outcomes, e.Outcome) {
			t.Errorf("episode %d has number %d and outcome %q", i+1, e.N, e.Outcome)
		}
		if len(e.Metrics) != len(measure.Metrics) || e.Cranks == nil || len(e.AtStop) != len(m.Circumstances) {
			t.Errorf("episode %d: %d metrics, cranks %v, %d readings", e.N, len(e.Metrics), e.Cranks, len(e.AtStop))
		}
		for k, v := range e.Metrics {
			if v.Key != measure.Metrics[k].Key || v.Unit != measure.Metrics[k].Unit {
				t.Errorf("episode %d: %q in %q in the place of %s", e.N, v.Key, v.Unit, measure.Metrics[k].Key)
			}
		}
		ran := e.Outcome == analyze.Restarted || e.Outcome == analyze.ChangeOfMind || e.Outcome == analyze.Stalled
		if ran != (e.Running != nil) && e.Outcome != analyze.InGap {
			t.Errorf("episode %d: %s, running %v", e.N, e.Outcome, e.Running)
		}
		if e.Request != nil && e.Decision == nil {
			t.Errorf("episode %d has a request and no decision", e.N)
		}
	}
	for i := range res.Standstills {
		s := &res.Standstills[i]
		if s.N != i+1 || s.Stopped != (s.Episode > 0) || s.Stopped != (s.StopDelay != nil) || len(s.Inhibits) != len(m.Inhibits) {
			t.Errorf("standstill %d: %+v", i+1, *s)
		}
		if s.Covered < 0 || s.Covered > 1 || s.Unexplained && (s.Stopped || !s.Opportunity || len(s.CannotTell) > 0) || (s.Reason != "") != (s.Covered >= 0.5) {
			t.Errorf("standstill %d: %+v", i+1, *s)
		}
		for _, h := range s.Inhibits {
			if h.Share < 0 || h.Share > 1 || h.Share > s.Covered+1e-9 {
				t.Errorf("standstill %d, covered %v: %+v", s.N, s.Covered, h)
			}
			for _, v := range h.Intervals {
				if v[0] >= v[1] {
					t.Errorf("standstill %d: interval %v", s.N, v)
				}
			}
		}
	}
	for i, s := range res.Starts {
		if s.N != i+1 || s.Episode > len(res.Episodes) || (s.Kind == analyze.RestartStart) && s.Episode == 0 || s.Kind == analyze.KeyStart && s.Episode != 0 {
			t.Errorf("start %d: %+v", i+1, s)
		}
	}
	cranks := 0
	for _, e := range res.Episodes {
		cranks += len(e.Cranks)
	}
	for _, s := range res.Starts {
		if s.Episode != 0 {
			cranks--
		}
	}
	if cranks != 0 {
		t.Errorf("%d cranks of episodes that are no starts, or the other way round", cranks)
	}
	for _, s := range res.Silences {
		if s.Duration <= 0 || s.Period <= 0 || s.Episode > len(res.Episodes) {
			t.Errorf("silence %+v", s)
		}
	}
	for _, g := range res.Gaps {
		if g.End <= g.Start {
			t.Errorf("gap %+v", g)
		}
	}
	for _, f := range res.Findings {
		if f.Code == "" || f.About == nil || f.Evidence == nil {
			t.Errorf("finding %+v", f)
		}
	}
}

// checkNumbers finds every instant and value in the wrong order, and every number
// that is not finite.
func checkNumbers(t failer, path string, v reflect.Value) {
	t.Helper()
	switch x := v.Interface().(type) {
	case bounds.Instant:
		if x.Low > x.T || x.T > x.High {
			t.Errorf("%s is %+v", path, x)
		}
		return
	case bounds.Value:
		if !(x.Low <= x.Best && x.Best <= x.High) {
			t.Errorf("%s is %+v", path, x)
		}
	}
	switch v.Kind() {
	case reflect.Float64:
		if f := v.Float(); math.IsNaN(f) || math.IsInf(f, 0) {
			t.Errorf("%s is %v", path, f)
		}
	case reflect.Pointer, reflect.Interface:
		if !v.IsNil() {
			checkNumbers(t, path, v.Elem())
		}
	case reflect.Slice, reflect.Array:
		for i := range v.Len() {
			checkNumbers(t, fmt.Sprintf("%s[%d]", path, i), v.Index(i))
		}
	case reflect.Struct:
		for i := range v.NumField() {
			checkNumbers(t, path+"."+v.Type().Field(i).Name, v.Field(i))
		}
	}
}

// Random drives of every signal: whatever happens, the result is sound, and a Run
// keeps nothing of the frame that it is given.
func TestRandomDrives(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := randomDrive(t)
		d := parseDrive(t, text, everything)
		want := d.run()
		checkResult(t, d.m, want)

		r := onelog.NewRun(d.m)
		var one decode.Frame // as a reader owns it
		for i := range d.frames {
			one = *d.frames[i].Clone()
			r.Push(&one)
			one.ID, one.Bus = 0x7FF, "gone"
			for k := range one.Data {
				one.Data[k] = 0xA5
			}
		}
		if diff := cmp.Diff(want, r.Finish(decode.Info{Stamps: decode.StampsAbsolute})); diff != "" {
			t.Fatalf("frames that live on, and one frame used again: %s", diff)
		}
	})
}

// randomDrive writes a drive in which the engine stops and starts now and then,
// and all else does what it likes.
func randomDrive(t *rapid.T) string {
	var b strings.Builder
	word := func(list ...string) string { return rapid.SampledFrom(list).Draw(t, "word") }
	at := func(ms int) string { return fmt.Sprintf("%dms", ms) }
	for i := range signals {
		s := &signals[i]
		b.WriteString(s.name)
		if s.name != "rpm" {
			b.WriteString(word("", "", "", " @20ms+3ms", " @100ms", " @1s+70ms", " @change", " @change/1s", " @50ms ~80ms"))
		}
		b.WriteString(":")
		if s.name != "rpm" && rapid.IntRange(0, 9).Draw(t, "never") == 0 {
			b.WriteString("\n")
			continue
		}
		var values []string
		switch s.name {
		case "rpm":
			values = []string{"0", "0", "0", "20", "200", "480", "520", "800", "800", "900", "-", "none"}
		case "speed":
			values = []string{"0", "0", "0", "0.5", "20"}
		case "volt":
			values = []string{"12.6", "12.6", "12.2", "8", "9.6", "6"}
		case "coolant":
			values = []string{"20", "80", "none", "-"}
		case "steer":
			values = []string{"0", "30", "-200"}
		case "stop":
			values = []string{"0", "1", "none", "-"}
		case "code":
			values = []string{"0", "4", "5", "9"}
		case "brake", "ac", "starter", "key":
			values = []string{"0", "1", "-"}
		case "turn":
			values = []string{"off", "left", "right"}
		default:
			values = []string{"0", "1", "60", "200", "-"}
		}
		ms := 0
		for range rapid.IntRange(1, 12).Draw(t, "points") {
			fmt.Fprintf(&b, " %s=%s", at(ms), word(values...))
			ms += rapid.IntRange(1, 400).Draw(t, "step") * rapid.SampledFrom([]int{1, 1, 10}).Draw(t, "unit")
		}
		b.WriteString("\n")
	}
	if rapid.Bool().Draw(t, "cut") {
		from := rapid.IntRange(1000, 9000).Draw(t, "from")
		fmt.Fprintf(&b, "cut: %s..%s\n", at(from), at(from+rapid.IntRange(50, 3000).Draw(t, "length")))
	}
	if rapid.IntRange(0, 3).Draw(t, "back") == 0 {
		fmt.Fprintf(&b, "back: %s by %s\n", at(rapid.IntRange(1000, 9000).Draw(t, "at")), at(rapid.IntRange(1, 12000).Draw(t, "by")))
	}
	return b.String()
}

// A frame that two interfaces carry, one of them written later than the other,
// tells nothing new and spoils nothing.
func TestTwoInterfacesThatCarryTheSameFrame(t *testing.T) {
	d := parseDrive(t, `
		rpm:  0s=800 10s=800 10.6s=200 10.8s=900 20s=900 20.8s=0 30.1s=0 30.4s=900
		volt: 0s=12.6 30.1s=12.6 30.11s=9 30.4s=12.6
		stop: 0s=0 9.995s=1 10.405s=0 19.995s=1 30.005s=0`, "")
	var both []decode.Frame
	for _, f := range d.frames {
		both = append(both, f)
		f.Bus = "can1"
		both = append(both, f)
	}
	place := func(f decode.Frame) int64 {
		if f.Bus == "can1" {
			return f.Time + 80e6
		}
		return f.Time
	}
	slices.SortStableFunc(both, func(a, b decode.Frame) int { return int(place(a) - place(b)) })
	want := d.run()
	two := drive{m: d.m, frames: both}
	got := two.run()
	checkResult(t, d.m, got)
	if len(want.Episodes) != 2 || len(got.Episodes) != 2 {
		t.Fatalf("with one interface:\n%swith two:\n%s", tellAll(d.m, want), tellAll(d.m, got))
	}
	for i := range want.Episodes {
		w, g := want.Episodes[i], got.Episodes[i]
		if g.Outcome != w.Outcome || !g.Stop.Touches(w.Stop.Low, w.Stop.High) || !g.Running.Touches(w.Running.Low, w.Running.High) {
			t.Errorf("with one interface:\n%s\nwith two:\n%s", tell(d.m, &w), tell(d.m, &g))
		}
		for k := range w.Metrics {
			if w.Metrics[k].Key == "voltage_min" && g.Metrics[k].Best != w.Metrics[k].Best {
				t.Errorf("voltage_min %v, want %v", g.Metrics[k].Best, w.Metrics[k].Best)
			}
		}
	}
}

// fuzzMaps are maps of several shapes that together have every role, and signals
// that can hold any number.
func fuzzMaps(t testing.TB) []*decode.Map {
	t.Helper()
	var all []*decode.Map
	for _, text := range []string{
		"format: 1\nframes:\n  - {id: 0x100, signals: {rpm: {start: 0, length: 16, role: engine_speed, unit: rpm}}}\n",
		`format: 1
frames:
  - id: 0x100
    period: 10ms
    signals:
      rpm:   {start: 0, length: 32, float: true, role: engine_speed, unit: rpm}
      speed: {start: 32, length: 32, float: true, role: vehicle_speed, unit: km/h}
  - id: 0x101
    signals:
      volt: {start: 0, length: 64, float: true, role: battery_voltage, unit: mV}
  - id: 0x102
    signals:
      amp: {start: 0, length: 64, float: true, role: battery_current, unit: A}
  - id: 0x103
    signals:
      supply: {start: 0, length: 32, float: true, role: module_supply, unit: V}
      hold:   {start: 32, length: 32, float: true, role: hold_pressure, unit: bar}
  - id: 0x104
    signals:
      acceleration: {start: 0, length: 32, float: true, role: acceleration, unit: m/s2}
      fuel:         {start: 32, length: 32, float: true, role: fuel_rate, unit: L/h}
  - id: 0x105
    sent: on_change
    signals:
      stop:    {start: 0, length: 1, role: stop_command}
      starter: {start: 1, length: 1, role: starter_command}
      key:     {start: 2, length: 1, role: ignition}
      brake:   {start: 3, length: 1, values: {0: released, 1: pressed}}
  - id: 0x106
    signals:
      count: {start: 0, length: 64, factor: 1000000, role: starter_count}
  - id: 0x107
    signals:
      code:   {start: 0, length: 8, role: inhibit_code, values: {0: none}, clear: [0]}
      charge: {start: 8, length: 8, role: battery_charge, unit: "%"}
restart_requests:
  - {name: brake, when: {signal: brake, is: released}}
  - {name: moved, when: {signal: speed, moves: 1}}
inhibits:
  - {name: charge, for: 100ms, when: {not: {signal: charge, above: 100}}}
conditions: [rpm, volt]
limits: {restart_latency: {max: 1}, flare: {min: 0, max: 2000}, fuel_saved: {min: 1}}
settings: {running_hold: 50ms, no_start_after: 1s, min_standstill: 100ms}
`,
		`format: 1
frames:
  - pgn: 61444
    signals:
      rpm:     {start: 24, length: 16, factor: 0.125, role: engine_speed, unit: rpm}
      starter: {start: 48, length: 4, role: starter_command}
  - pgn: 65265
    sent: on_change
    period: 1s
    signals:
      speed: {start: 8, length: 16, factor: 0.00390625, role: vehicle_speed, unit: km/h}
`,
		`format: 1
frames:
  - obd: {mode: 0x01, pid: 0x0C, response: 0x7E8}
    signals:
      rpm: {start: 7, length: 16, order: big, factor: 0.25, role: engine_speed, unit: rpm}
  - obd: {mode: 0x01, pid: 0x0D, response: 0x7E8}
    signals:
      speed: {start: 0, length: 8, role: vehicle_speed, unit: km/h}
  - did: {id: 0xF40D, response: 0x7E8}
    signals:
      volt: {start: 0, length: 8, factor: 0.1, role: battery_voltage, unit: V}
`,
	} {
		m, err := sigmap.Parse("fuzz.yaml", []byte(text))
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, m)
	}
	return all
}

// framesOf makes frames of any bytes: each of three to step the time and to choose
// the identifier, then the payload.
func framesOf(data []byte) []decode.Frame {
	ids := []uint32{0x100, 0x101, 0x102, 0x103, 0x104, 0x105, 0x106, 0x107, 0x7E8, 0x18F00400, 0x18FEF100, 0x7FF}
	steps := []int64{0, 1e6, 10e6, 20e6, 100e6, 500e6, 2e9, 20e9, -1e6, -90e6, -101e6, -5e9, math.MaxInt64 / 4, -math.MaxInt64 / 4}
	var frames []decode.Frame
	now := epoch
	for len(data) >= 3 {
		f := decode.Frame{Bus: "can0", ID: ids[int(data[0])%len(ids)]}
		if f.ID > 0x7FF {
			f.Flags |= decode.Extended
		}
		switch data[1] >> 5 {
		case 1:
			f.Bus = "can1"
		case 2:
			f.Flags |= decode.Remote
		case 3:
			f.Flags |= decode.Error
		}
		if step := steps[int(data[1]&31)%len(steps)]; step < 1<<60 && step > -1<<60 {
			now += step
		} else if now < 1<<61 && now > -1<<61 {
			now += step
		}
		f.Time, f.Len = now, min(data[2]%17, 64)
		data = data[3:]
		n := copy(f.Data[:f.Len], data)
		data = data[n:]
		frames = append(frames, f)
	}
	return frames
}

// FuzzRun holds every result of any frames by any of the maps against what must be
// true of all.
func FuzzRun(f *testing.F) {
	maps := fuzzMaps(f)
	// An engine that runs, rests and runs, in each of the maps' ways to say so.
	var plain, floats, truck, polled []byte
	for i := range 60 {
		rpm := 800.0
		if i > 20 && i < 40 {
			rpm = 0
		}
		step := byte(4) // 100 ms
		plain = binary.LittleEndian.AppendUint16(append(plain, 0, step, 2), uint16(rpm))
		floats = append(floats, 0, step, 8)
		floats = binary.LittleEndian.AppendUint32(floats, math.Float32bits(float32(rpm)))
		floats = binary.LittleEndian.AppendUint32(floats, math.Float32bits(float32(i%20)/10))
		floats = append(floats, 1, 0, 8)
		floats = binary.LittleEndian.AppendUint64(floats, math.Float64bits(12600-rpm))
		if i == 19 || i == 39 {
			floats = append(floats, 5, 0, 1, byte(4+i%4))
		}
		raw := uint16(rpm * 8)
		truck = append(truck, 9, step, 8, 0, 0, 0, byte(raw), byte(raw>>8), 0, 0, 0)
		raw = uint16(rpm * 4)
		polled = append(polled, 8, step, 8, 4, 0x41, 0x0C, byte(raw>>8), byte(raw), 0, 0, 0)
	}
	for i, seed := range [][]byte{plain, floats, truck, polled} {
		f.Add(uint8(i), seed)
	}
	f.Add(uint8(1), []byte{0, 0, 8, 0, 0, 0, 0, 0, 0, 0, 0, 0, 12, 8, 0, 0, 255, 127, 0, 0, 255, 255})
	f.Fuzz(func(t *testing.T, which uint8, data []byte) {
		d := drive{m: maps[int(which)%len(maps)], frames: framesOf(data)}
		for i := range d.frames {
			d.frames[i].Line = int64(i + 1)
		}
		checkResult(t, d.m, d.run())
	})
}
