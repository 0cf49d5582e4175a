package measure_test

import (
	"cmp"
	"encoding/binary"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"lull/analyze"
	"lull/analyze/onelog"
	"lull/decode"
	"lull/decode/sigmap"
)

// A lane is one signal of a drive on a bench: alone in a frame of its own that
// is sent with a period, and its value over time. The map of a bench names the
// lanes that it is given and nothing else.
//
//	lane{name: "rpm", sent: "10ms", curve: "0s=800 10.1s=800 10.9s=0"}
//
// The curve is straight between its points, and after the last one; two points
// at one moment are a step. A switch keeps each value until the next point.
type lane struct {
	name   string // a key of benchSignals
	sent   string // period, and after a + the first frame's time: "20ms+3ms"
	curve  string
	of     func(seconds float64) float64 // instead of curve
	silent string                        // "12s 13s": no frame from, to, and so on in pairs
	keys   string                        // further keys of its entry in the map
}

// benchSignal is how a lane is packed: two bytes, little endian, or four of a
// float.
type benchSignal struct {
	step   float64 // 0: a switch, or a float
	signed bool
	keys   string // of the signal in the map
}

var benchSignals = map[string]benchSignal{
	"rpm":      {0.25, false, "factor: 0.25, unit: rpm, role: engine_speed"},
	"speed":    {0.01, false, "factor: 0.01, unit: km/h, role: vehicle_speed"},
	"volts":    {0.001, false, "factor: 0.001, unit: V, role: battery_voltage"},
	"float":    {0, false, "float: true, unit: V, role: battery_voltage"},
	"tenths":   {0.1, false, "factor: 0.1, unit: V, role: battery_voltage"},
	"amperes":  {0.1, true, "factor: 0.1, signed: true, unit: A, role: battery_current"},
	"supply":   {0.001, false, "factor: 0.001, unit: V, role: module_supply"},
	"fuel":     {0.001, false, "factor: 0.001, unit: L/h, role: fuel_rate"},
	"gallons":  {0.0001, false, "factor: 0.0001, unit: gal/h, role: fuel_rate"},
	"pressure": {1, false, "unit: kPa, role: hold_pressure"},
	"accel":    {0.001, true, "factor: 0.001, signed: true, unit: m/s2, role: acceleration"},
	"stop":     {0, false, "role: stop_command"},
	"starter":  {0, false, "role: starter_command"},
	"ignition": {0, false, "role: ignition"},
	"brake":    {0, false, "values: {0: released, 1: pressed}"},
}

// bench is a drive: its lanes by name, and what else the map says.
type bench struct {
	lanes []lane
	extra string // further sections of the map
	until string
}

// with returns the bench with lanes put in or in the place of those of the same
// name.
func (b bench) with(lanes ...lane) bench {
	b.lanes = slices.Clone(b.lanes)
	for _, l := range lanes {
		if i := slices.IndexFunc(b.lanes, func(old lane) bool { return old.name == l.name }); i >= 0 {
			b.lanes[i] = l
		} else {
			b.lanes = append(b.lanes, l)
		}
	}
	return b
}

func (b bench) without(names ...string) bench {
	b.lanes = slices.DeleteFunc(slices.Clone(b.lanes), func(l lane) bool { return slices.Contains(names, l.name) })
	return b
}

func (b bench) says(extra string) bench {
	b.extra += extra
	return b
}

func (b bench) ends(until string) bench {
	b.until = until
	return b
}

// run plays the bench through the map's decoder and the analysis.
func (b bench) run(t testing.TB) *analyze.Result {
	t.Helper()
	var text strings.Builder
	text.WriteString("format: 1\nframes:\n")
	for i, l := range b.lanes {
		fmt.Fprintf(&text, "  - id: 0x%X\n", 0x100+i)
		if l.keys != "" {
			fmt.Fprintf(&text, "    %s\n", l.keys)
		}
		length := 16
		if l.name == "float" {
			length = 32
		}
		fmt.Fprintf(&text, "    signals: {%s: {start: 0, length: %d, %s}}\n", l.name, length, benchSignals[l.name].keys)
	}
	text.WriteString(b.extra)
	m, err := sigmap.Parse("bench.yaml", []byte(text.String()))
	if err != nil {
		t.Fatalf("%v\n%s", err, text.String())
	}
	run := onelog.NewRun(m)
	for _, f := range b.frames(t) {
		run.Push(&f)
	}
	return run.Finish(decode.Info{Stamps: decode.StampsAbsolute})
}

func (b bench) frames(t testing.TB) []decode.Frame {
	t.Helper()
	end := benchTime(t, b.until)
	var frames []decode.Frame
	for i, l := range b.lanes {
		s := benchSignals[l.name]
		every, first, _ := strings.Cut(l.sent, "+")
		at := int64(0)
		if first != "" {
			at = benchTime(t, first)
		}
		value := l.of
		if value == nil {
			value = benchCurve(t, l.curve, s.step == 0 && l.name != "float")
		}
		var silent []int64
		for _, f := range strings.Fields(l.silent) {
			silent = append(silent, benchTime(t, f))
		}
		for ; at <= end; at += benchTime(t, every) {
			if away, _ := slices.BinarySearch(silent, at); away%2 == 1 {
				continue
			}
			raw := value(float64(at) / 1e9)
			if s.step != 0 {
				raw /= s.step
			}
			f := decode.Frame{Time: at, Bus: "can0", ID: uint32(0x100 + i), Len: 2}
			binary.LittleEndian.PutUint16(f.Data[:], uint16(int64(math.Round(raw))))
			if l.name == "float" {
				f.Len = 4
				binary.LittleEndian.PutUint32(f.Data[:], math.Float32bits(float32(raw)))
			}
			frames = append(frames, f)
		}
	}
	slices.SortStableFunc(frames, func(a, b decode.Frame) int { return cmp.Compare(a.Time, b.Time) })
	return frames
}

func benchTime(t testing.TB, text string) int64 {
	t.Helper()
	d, err := time.ParseDuration(text)
	if err != nil {
		t.Fatal(err)
	}
	return int64(d)
}

// benchCurve reads the points of a lane.
func benchCurve(t testing.TB, text string, hold bool) func(float64) float64 {
	t.Helper()
	type corner struct{ at, value float64 }
	var corners []corner
	for _, f := range strings.Fields(text) {
		at, value, _ := strings.Cut(f, "=")
		var v float64
		if _, err := fmt.Sscan(value, &v); err != nil {
			t.Fatalf("%q: %v", f, err)
		}
		corners = append(corners, corner{float64(benchTime(t, at)) / 1e9, v})
	}
	return func(at float64) float64 {
		last := corners[0]
		for _, c := range corners {
			if c.at > at {
				if hold {
					return last.value
				}
				return last.value + (c.value-last.value)*(at-last.at)/(c.at-last.at)
			}
			last = c
		}
		return last.value
	}
}

// onlyEpisode returns the only episode of a result.
func onlyEpisode(t testing.TB, r *analyze.Result) *analyze.Episode {
	t.Helper()
	if len(r.Episodes) != 1 {
		t.Fatalf("%d episodes", len(r.Episodes))
	}
	return &r.Episodes[0]
}

// metricOf returns one measurement.
func metricOf(t testing.TB, list []analyze.MetricValue, key string) analyze.MetricValue {
	t.Helper()
	for _, v := range list {
		if v.Key == key {
			return v
		}
	}
	t.Fatalf("no %s", key)
	return analyze.MetricValue{}
}

// metricWords writes a measurement: value, bounds where they differ, what it carries;
// or why there is none, as the data that it is.
func metricWords(v analyze.MetricValue) string {
	if v.Absent != nil {
		return "absent: " + strings.TrimPrefix(fmt.Sprintf("%T %+v", v.Absent, v.Absent), "analyze.")
	}
	text := fmt.Sprintf("%.7g %s", v.Best, v.Unit)
	if v.HasStandardError {
		text += fmt.Sprintf(" error %.3g", math.Round(v.StandardError*1e9)/1e9)
		if d := v.High - v.Best - v.StandardError; math.Abs(d) > 1e-9*math.Abs(v.High) || math.Abs(v.Best-v.StandardError-v.Low) > 1e-9*math.Abs(v.Low) {
			text += " but bounds that differ from it"
		}
	} else if v.Low != v.Best || v.High != v.Best {
		text += fmt.Sprintf(" [%.7g %.7g]", v.Low, v.High)
	}
	if v.HasSampling {
		text += fmt.Sprintf(" every %.7g", v.Sampling)
	}
	return text
}

// checkMetrics compares measurements with lines of "key: words".
func checkMetrics(t *testing.T, list []analyze.MetricValue, want string) {
	t.Helper()
	for _, line := range strings.Split(strings.TrimSpace(want), "\n") {
		key, text, _ := strings.Cut(strings.TrimSpace(line), ": ")
		if got := metricWords(metricOf(t, list, key)); got != text {
			t.Errorf("%s: %s\nwant %s", key, got, text)
		}
	}
}

// holdsTruth reports whether a true value lies within the bounds, but for what rounding
// of decimals may cost.
func holdsTruth(v analyze.MetricValue, truth float64) bool {
	slack := 1e-9 * max(1, math.Abs(truth))
	return v.Absent == nil && v.Low <= truth+slack && v.High >= truth-slack
}

// restartBench is a plain stop of ten seconds: everything is mapped, every event
// of a switch lies half way between two of its frames.
func restartBench() bench {
	return bench{
		until: "30s",
		lanes: []lane{
			{name: "rpm", sent: "10ms", curve: "0s=800 10.1s=800 10.9s=0 20.105s=0 20.205s=240 20.605s=240 20.705s=840 21.105s=1240 22.105s=800"},
			{name: "stop", sent: "10ms", curve: "0s=0 10.005s=1 20.005s=0"},
			{name: "starter", sent: "10ms", curve: "0s=0 20.105s=1 20.655s=0"},
			{name: "brake", sent: "20ms", curve: "0s=0 5s=1 19.89s=0"},
			{name: "volts", sent: "10ms", curve: "0s=12.6 20.105s=12.6 20.105s=8 20.305s=10 20.655s=10.5 20.755s=14"},
			{name: "amperes", sent: "10ms", curve: "0s=0 20.105s=0 20.105s=-460 20.305s=-260 20.655s=-210 20.755s=140"},
			{name: "supply", sent: "20ms", curve: "0s=12.5 20.105s=12.5 20.105s=11 20.655s=11.5 20.755s=14"},
			{name: "pressure", sent: "50ms", curve: "0s=500 10.87s=480 20s=420 20.3s=410 20.6s=500"},
			{name: "speed", sent: "20ms", of: takingOff(8, 21, 4)},
			{name: "fuel", sent: "100ms", curve: "0s=0.9 10.1s=0.9 10.1s=0 21s=0 21s=0.9"},
		},
		extra: "restart_requests:\n  - {name: brake released, by: driver, when: {signal: brake, is: released}}\n",
	}
}

// takingOff is the speed of a vehicle that stands from one moment to another and
// then takes off with a constant rate of change of its acceleration, m/s3, for
// two seconds.
func takingOff(stands, goes, shock float64) func(float64) float64 {
	return func(at float64) float64 {
		switch {
		case at < stands:
			return (stands - at) * 10
		case at < goes:
			return 0
		}
		moving := min(at-goes, 2)
		return 3.6 * (shock/2*moving*moving + shock*2*max(0, at-goes-2))
	}
}
