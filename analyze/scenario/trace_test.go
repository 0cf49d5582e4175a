package scenario_test

import (
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"

	"lull/analyze"
	"lull/analyze/scenario"
	"lull/analyze/trace"
	"lull/decode"
)

// traced reads a drive a second time for some windows.
func traced(f found, windows []analyze.Window) []analyze.Traces {
	t := trace.New(f.m, f.result, windows)
	f.drive.Play(func(frame *decode.Frame) { t.Push(frame) })
	return t.Finish()
}

// What a second reading finds in a window is what the first one measured there: the
// lowest voltage, requests that became true, and what the inhibits were.
func TestTracesShowWhatWasMeasured(t *testing.T) {
	voltages, requests, intervals := 0, 0, 0
	for _, d := range scenario.Drives() {
		f := analyse(t, d)
		var windows []analyze.Window
		for i := range f.result.Episodes {
			e := &f.result.Episodes[i]
			end := f.result.Span
			if e.Running != nil {
				end = e.Running.High + 500e6
			}
			windows = append(windows, analyze.Window{From: e.Stop.Low - 2e9, To: end, Columns: 300, Conditions: true,
				Roles: []decode.Role{decode.BatteryVoltage, decode.StopCommand}})
		}
		for i := range f.result.Standstills {
			s := &f.result.Standstills[i]
			windows = append(windows, analyze.Window{From: s.Start.T, To: s.End.T, Columns: 1e6, Conditions: true})
		}
		all := traced(f, windows)
		for i := range f.result.Episodes {
			e := &f.result.Episodes[i]
			if v, ok := metric(e, "voltage_min"); ok {
				lowest := math.Inf(1)
				for _, p := range all[i].Of(decode.BatteryVoltage) {
					lowest = min(lowest, p.Value)
				}
				if voltages++; lowest > v.Best {
					t.Errorf("%s episode %d: lowest voltage of the trace %v, measured %v", d.Name, e.N, lowest, v.Best)
				}
			}
			if e.Request == nil {
				continue
			}
			requests++
			became := false
			for _, s := range all[i].Requests[e.Request.Condition] {
				became = became || s.State == analyze.True && s.From == e.Request.T
			}
			if !became {
				t.Errorf("%s episode %d: the request at %d does not become true: %v", d.Name, e.N, e.Request.T, all[i].Requests[e.Request.Condition])
			}
		}
		for i := range f.result.Standstills {
			s := &f.result.Standstills[i]
			got := all[len(f.result.Episodes)+i]
			for _, h := range s.Inhibits {
				var seen [][2]int64
				until := s.Start.T
				if n := len(h.Intervals); n > 0 {
					until = h.Intervals[n-1][1]
				}
				for _, v := range got.Inhibits[h.Condition] {
					if v.State == analyze.True && v.From < until {
						seen = append(seen, [2]int64{v.From, min(v.To, until)})
					}
				}
				intervals += len(seen)
				if d := cmp.Diff(h.Intervals, seen); d != "" && len(h.Intervals)+len(seen) > 0 {
					t.Errorf("%s standstill %d, inhibit %d: (-measured +traced)\n%s", f.drive.Name, s.N, h.Condition, d)
				}
			}
		}
	}
	if voltages < 30 || requests < 30 || intervals < 3 {
		t.Errorf("only %d voltages, %d requests, %d intervals compared", voltages, requests, intervals)
	}
}

// Traces of windows alone are those of all windows together, in whatever order
// they are asked for.
func TestWindowsDoNotDisturbOneAnother(t *testing.T) {
	f := analyse(t, scenario.Drives()[0])
	roles := []decode.Role{decode.EngineSpeed, decode.VehicleSpeed}
	var windows []analyze.Window
	for from := int64(60e9); from >= 0; from -= 7e9 {
		windows = append(windows, analyze.Window{From: from, To: from + 10e9, Columns: 50, Roles: roles, Conditions: true})
	}
	windows = append(windows, analyze.Window{Part: analyze.AllParts, To: f.result.Span, Columns: 100, Roles: roles[:1]})
	together := traced(f, windows)
	for i := range windows {
		alone := traced(f, windows[i:i+1])
		if d := cmp.Diff(alone[0], together[i]); d != "" {
			t.Fatalf("window %d: (-alone +together)\n%s", i, d)
		}
		if len(alone[0].Of(decode.EngineSpeed)) < 40 {
			t.Errorf("window %d holds only %d points", i, len(alone[0].Of(decode.EngineSpeed)))
		}
	}
}

// Where time is set back, a window belongs to its own stretch of the log, and a
// line over all of it is broken there.
func TestWindowsBelongToTheirStretchOfTheLog(t *testing.T) {
	f := analyse(t, scenario.Drives()[1])
	windows := []analyze.Window{
		{Part: 1, From: 10e9, To: 12e9, Columns: 100, Roles: []decode.Role{decode.EngineSpeed}, Conditions: true},
		{Part: 0, From: 10e9, To: 12e9, Columns: 100, Roles: []decode.Role{decode.EngineSpeed}, Conditions: true},
		{Part: 2, From: 10e9, To: 12e9, Columns: 100, Roles: []decode.Role{decode.EngineSpeed}, Conditions: true},
		{Part: analyze.AllParts, To: f.result.Span, Columns: 100, Roles: []decode.Role{decode.EngineSpeed}},
	}
	twice := trace.New(f.m, f.result, windows)
	for range 2 {
		f.drive.Play(func(frame *decode.Frame) { twice.Push(frame) })
	}
	got := twice.Finish()
	once := traced(f, windows[1:2])
	for i := range 2 {
		if d := cmp.Diff(once[0].Signals, got[i].Signals); d != "" {
			t.Errorf("part %d: (-alone +read twice)\n%s", got[i].Part, d)
		}
	}
	if n := len(got[2].Of(decode.EngineSpeed)); n != 0 {
		t.Errorf("a stretch that is not there holds %d points", n)
	}
	breaks := 0
	points := got[3].Of(decode.EngineSpeed)
	for i := 1; i < len(points); i++ {
		if points[i].T < points[i-1].T {
			if breaks++; !points[i].Break {
				t.Error("the line runs back in time")
			}
		}
	}
	if breaks != 1 {
		t.Errorf("time is set back %d times, want once", breaks)
	}
}

// Frames that the map does not name may be passed over.
func TestPassingOverFramesChangesNoTrace(t *testing.T) {
	f := analyse(t, scenario.Drives()[0])
	windows := []analyze.Window{{From: 20e9, To: 30e9, Columns: 200, Roles: []decode.Role{decode.EngineSpeed, decode.BatteryVoltage}, Conditions: true}}
	tracer := trace.New(f.m, f.result, windows)
	filter := decode.NewFilter(f.m)
	passed := 0
	f.drive.Play(func(frame *decode.Frame) {
		if filter.WantsStandard(frame.ID) {
			tracer.Push(frame)
			return
		}
		passed++
		tracer.Pass(decode.Passed{Count: 1, First: frame.Time, Last: frame.Time, Line: frame.Line})
		tracer.Pass(decode.Passed{})
	})
	if passed == 0 {
		t.Fatal("no frame was passed over")
	}
	if d := cmp.Diff(traced(f, windows), tracer.Finish()); d != "" {
		t.Errorf("(-pushed +passed)\n%s", d)
	}
}
