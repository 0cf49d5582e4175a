package onelog_test

import (
	"compress/gzip"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"lull/analyze"
	"lull/analyze/onelog"
	"lull/decode"
	"lull/decode/candump"
	"lull/decode/sigmap"
)

// polledMap is the map of what a scan tool asks for.
func polledMap(t *testing.T) *decode.Map {
	t.Helper()
	text, err := os.ReadFile(filepath.Join("..", "..", "testdata", "maps", "polled.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	m, err := sigmap.Parse("polled.yaml", text)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// figures are the number and the extremes of a signal's values.
type figures struct {
	Samples  int
	Min, Max float64
}

// polledRun analyses a recorded log, not part of this repository, by the map of
// polled answers.
func polledRun(t *testing.T, name string) (*analyze.Result, map[string]figures) {
	t.Helper()
	folder := os.Getenv("LULL_SHARED_DATA")
	if folder == "" {
		folder = filepath.Join("..", "..", "..", "shared", "data")
	}
	file, err := os.Open(filepath.Join(folder, name))
	if err != nil {
		t.Skipf("the recorded logs are not here; LULL_SHARED_DATA may name their folder: %v", err)
	}
	defer file.Close()
	unpacked, err := gzip.NewReader(file)
	if err != nil {
		t.Fatal(err)
	}
	m := polledMap(t)
	run, decoder := onelog.NewRun(m), decode.NewDecoder(m)
	seen := map[string]figures{}
	r := candump.NewReader(unpacked, candump.Options{})
	for r.Scan() {
		for _, s := range decoder.Decode(r.Frame()) {
			if !s.Valid {
				continue
			}
			name := m.Signals[s.Signal].Name
			f, ok := seen[name]
			if !ok {
				f.Min, f.Max = s.Value, s.Value
			}
			seen[name] = figures{f.Samples + 1, min(f.Min, s.Value), max(f.Max, s.Value)}
		}
		run.Push(r.Frame())
	}
	if err := r.Err(); err != nil {
		t.Fatal(err)
	}
	return run.Finish(r.Info()), seen
}

// toMilliseconds gives seconds with the digits that the figures were given with.
func toMilliseconds(ns int64) float64 { return math.Round(float64(ns)/1e6) / 1e3 }

// The recorded logs are from css-electronics/api-examples (MIT); the figures are
// those that an independent plain decoder gave for them.
func TestRecordedPolledDriveRestsTwelveTimes(t *testing.T) {
	result, seen := polledRun(t, "obd01_many_engine_stops_while_driving.log.gz")
	want := map[string]figures{"engine_speed": {273, 0, 2957.25}, "vehicle_speed": {273, 0, 86}, "battery_voltage": {273, 11.101, 15.308}}
	if diff := cmp.Diff(want, seen); diff != "" {
		t.Errorf("signals (-want +got):\n%s", diff)
	}
	if result.Frames != 15298 || toMilliseconds(result.Span) != 1909.607 {
		t.Errorf("%d frames in %.3f s, want 15298 in 1909.607", result.Frames, toMilliseconds(result.Span))
	}
	// It rests from its first sample at 2.006 s on, which no stop came before; the
	// start that ends it is the first. These are the stamps of the lines that are
	// the first to read 0 rpm, less the first stamp, in microseconds.
	rests := []int64{547797450, 806683850, 988608350, 1016596150, 1324462250, 1394427900, 1492386850, 1611337050, 1758270900, 1835238850, 1863227250}
	var got []int64
	for _, e := range result.Episodes {
		if e.Rest == nil {
			t.Fatalf("episode %d has no rest", e.N)
		}
		got = append(got, e.Rest.High/1000) // the sample that shows it
		if e.Outcome != analyze.Restarted {
			t.Errorf("episode %d: outcome %v, want restarted", e.N, e.Outcome)
		}
		// Between two polls nothing is known: the interval is as wide.
		if away := toMilliseconds(e.Rest.High - e.Rest.Low); away < 6.9 || away > 7.1 {
			t.Errorf("episode %d: rest is known to %.3f s, want the 7 s of the poll", e.N, away)
		}
	}
	if diff := cmp.Diff(rests, got); diff != "" {
		t.Errorf("first samples at rest (-want +got):\n%s", diff)
	}
	if len(result.Starts) != 12 || result.Starts[0].Kind != analyze.KeyStart || result.Starts[0].Running.T > 547e9 {
		t.Errorf("%d starts, want 12, the first from the rest at the log's start", len(result.Starts))
	}
	if len(result.Silences) > 0 || len(result.Gaps) > 0 || len(result.Info.Remarks) > 0 {
		t.Errorf("silences %v, gaps %v, remarks %v; want none", result.Silences, result.Gaps, result.Info.Remarks)
	}
}

func TestRecordedPolledColdStartRestsOnce(t *testing.T) {
	result, seen := polledRun(t, "obd02_cold_start_40min.log.gz")
	if v := seen["battery_voltage"]; v.Min != 11.86 || v.Max != 14.9 {
		t.Errorf("battery voltage %v to %v, want 11.86 to 14.9", v.Min, v.Max)
	}
	if result.Frames != 33710 || toMilliseconds(result.Span) != 2389.282 || len(result.Episodes) > 0 || len(result.Starts) != 1 {
		t.Fatalf("%d frames in %.3f s, %d episodes, %d starts; want 33710 in 2389.282, none, 1",
			result.Frames, toMilliseconds(result.Span), len(result.Episodes), len(result.Starts))
	}
	start := result.Starts[0]
	if toMilliseconds(start.Crank.High) != 2.592 || toMilliseconds(start.Running.Low) != 2.592 || toMilliseconds(start.Running.High) != 3.092 {
		t.Errorf("crank %+v, running %+v; want seen at 2.592 and 3.092 s", start.Crank, start.Running)
	}
	for _, v := range start.Metrics {
		why, _ := v.Absent.(analyze.NoSample)
		if v.Key == "voltage_before" && (!why.Polled || (why.Period+5e6)/1e7 != 300) {
			t.Errorf("voltage_before: %+v, want absent because of the poll", v)
		}
	}
	if len(result.Silences) > 0 || len(result.Gaps) > 0 || len(result.Info.Remarks) > 0 {
		t.Errorf("silences %v, gaps %v, remarks %v; want none", result.Silences, result.Gaps, result.Info.Remarks)
	}
}

func TestIncompleteAnswersAreRemarkedWithTheirPlaces(t *testing.T) {
	log := `(1700000000.000000) can0 7E0#02010C
(1700000000.010000) can0 7E8#04410C0BB8
(1700000000.020000) can0 7E8#1009410C0BB80D20
(1700000000.030000) can0 7E8#2242312D
(1700000000.040000) can0 7E8#03410D20
(1700000000.050000) can0 7E8#044142312D
(1700000001.000000) can0 7E8#1009410C0BB80D20
`
	run := onelog.NewRun(polledMap(t))
	r := candump.NewReader(strings.NewReader(log), candump.Options{})
	for r.Scan() {
		run.Push(r.Frame())
	}
	want := []decode.Remark{{
		Code: decode.RemarkMessageIncomplete, Count: 2, Line: 3, Time: 1_700_000_000_020_000_000, HasTime: true,
		Text: "2 answers of several frames were left out: frames are missing, doubled or out of order",
		Places: []decode.Place{
			{Line: 3, Why: "a consecutive frame is missing, doubled or out of order"},
			{Line: 7, Why: "the log ends before it is complete"},
		},
	}}
	if diff := cmp.Diff(want, run.Finish(r.Info()).Info.Remarks); diff != "" {
		t.Errorf("remarks (-want +got):\n%s", diff)
	}
}

// An answer that stays away was not asked for: the module is not silent.
func TestPolledAnswersThatStayAwayAreNoSilence(t *testing.T) {
	run := onelog.NewRun(polledMap(t))
	f := decode.Frame{Bus: "can0", ID: 0x7E8, Len: 5, Data: [decode.MaxPayload]byte{4, 0x41, 0x0C, 0x0B, 0xB8}}
	other := decode.Frame{Bus: "can0", ID: 0x100}
	for ms := int64(0); ms < 60_000; ms += 10 {
		other.Time = ms * 1e6
		run.Push(&other)
		if ms%100 == 0 && (ms < 20_000 || ms > 40_000) {
			f.Time = ms * 1e6
			run.Push(&f)
		}
	}
	result := run.Finish(decode.Info{Stamps: decode.StampsZero})
	if len(result.Silences) > 0 || len(result.Gaps) > 0 {
		t.Errorf("silences %+v, gaps %+v; want none", result.Silences, result.Gaps)
	}
}

// One answer that falls by chance into a window is neither its median nor its
// extreme, however wide the polls of the engine speed have made the window.
func TestAPollSlowerThanTheWindowGivesNoFigure(t *testing.T) {
	run := onelog.NewRun(polledMap(t))
	answer := func(ms int64, data ...byte) {
		f := decode.Frame{Time: ms * 1e6, Bus: "can0", ID: 0x7E8, Len: uint8(len(data))}
		copy(f.Data[:], data)
		run.Push(&f)
	}
	for ms := int64(0); ms < 200_000; ms += 500 {
		speed := []byte{4, 0x41, 0x0C, 0x0C, 0x80} // 800 rpm
		if ms >= 150_000 && ms < 160_000 {
			speed = []byte{4, 0x41, 0x0C, 0, 0}
		}
		answer(ms, speed...)
		if ms%3000 == 0 {
			answer(ms+100, 4, 0x41, 0x42, 0x30, 0xD4) // 12.5 V
		}
	}
	result := run.Finish(decode.Info{Stamps: decode.StampsZero})
	if len(result.Episodes) != 1 {
		t.Fatalf("%d episodes, want 1", len(result.Episodes))
	}
	got := map[string]analyze.Reason{}
	for _, v := range result.Episodes[0].Metrics {
		switch v.Key {
		case "voltage_before", "voltage_min", "low_voltage_time", "flare":
			got[v.Key] = v.Absent
		}
	}
	seldom := func(window int64) analyze.Reason {
		return analyze.TooSeldom{Role: decode.BatteryVoltage, Period: 3e9, Window: window}
	}
	want := map[string]analyze.Reason{
		"voltage_before":   seldom(1e9),
		"voltage_min":      seldom(1.09375e9),
		"low_voltage_time": seldom(1.09375e9),
		"flare":            nil, // polled every half second, four times in its two
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("reasons (-want +got):\n%s", diff)
	}
}
