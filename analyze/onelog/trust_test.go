package onelog_test

import (
	"bytes"
	"fmt"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"lull/analyze"
	"lull/analyze/onelog"
	"lull/analyze/scenario"
	"lull/decode"
	"lull/decode/sigmap"
)

// resultOf measures a drive of the demonstration by any map.
func resultOf(t *testing.T, drive string, m *decode.Map) *analyze.Result {
	t.Helper()
	run := onelog.NewRun(m)
	found := false
	for _, d := range scenario.Drives() {
		if d.Name == drive {
			found = true
			for f := range d.Frames {
				run.Push(f)
			}
		}
	}
	if !found {
		t.Fatalf("no drive %s", drive)
	}
	return run.Finish(decode.Info{Accepted: 1})
}

// trusted writes a Trust.
func trusted(trust analyze.Trust) string {
	lines := []string{string(trust.Credence)}
	for _, d := range trust.Doubts {
		grave := ""
		if d.Grave {
			grave = "grave "
		}
		lines = append(lines, fmt.Sprintf("%s%s %s %s", grave, d.Code, d.Signal, tellData(d.Cause)))
	}
	return strings.Join(lines, "\n")
}

// spoilt is the demonstration's map of a drive with one line changed.
func spoilt(t *testing.T, file, right, wrong string) *decode.Map {
	t.Helper()
	whole := scenario.Map(file)
	changed := bytes.Replace(whole, []byte(right), []byte(wrong), 1)
	if bytes.Equal(whole, changed) {
		t.Fatalf("%s has no %q", file, right)
	}
	if strings.Contains(wrong, "elsewhere") { // the engine speed itself stands in another frame
		changed = bytes.Replace(changed, []byte("unit: rpm, role: engine_speed}"), []byte("unit: rpm}"), 1)
		changed = bytes.Replace(changed, []byte("factor: 0.125, unit: rpm, role: engine_speed}"), []byte("factor: 0.125, unit: rpm}"), 1)
	}
	m, err := sigmap.Parse(file, changed)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func TestASpoiltMapIsNotBelieved(t *testing.T) {
	const speed = "engine_speed:  {start: 16, length: 16, factor: 0.25, unit: rpm, role: engine_speed}"
	tests := []struct {
		name, drive, right, wrong, want string
	}{
		{"the engine speed's factor ten times too large", "town.log", speed, strings.Replace(speed, "0.25", "2.5", 1),
			"unusable\ngrave beyond_quantity engine_speed ImplausibleSignal {Signal:engine_speed Role:engine_speed Reads:10420 SystemVoltage:12 Slip:{Factors:[0.25, 0.125, 0.1]}}"},
		{"its factor ten times too small", "town.log", speed, strings.Replace(speed, "0.25", "0.025", 1),
			"unusable\ngrave stuck engine_speed StillEngine {Signal:engine_speed High:104.2 Km:0.41557 Slip:{HasStart:true Start:22 Factors:[8, 10]}}"},
		{"its factor twice too large", "town.log", speed, strings.Replace(speed, "0.25", "0.5", 1),
			"doubtful\nidle_speed engine_speed OddIdle {Signal:engine_speed Idle:1518}"},
		{"its factor half of what it is", "town.log", speed, strings.Replace(speed, "0.25", "0.125", 1),
			"doubtful\nidle_speed engine_speed OddIdle {Signal:engine_speed Idle:379}"},
		{"its byte order turned", "town.log", speed, strings.Replace(speed, "16, length: 16,", "23, length: 16, order: big,", 1),
			"unusable\ngrave beyond_quantity engine_speed ImplausibleSignal {Signal:engine_speed Role:engine_speed Reads:16324 SystemVoltage:12 Slip:{Order:little HasStart:true Start:16 High:1036.5}}"},
		{"its high byte alone", "town.log", speed, strings.Replace(speed, "16, length: 16", "24, length: 8", 1),
			"unusable\ngrave stuck engine_speed StillEngine {Signal:engine_speed High:4 Km:0.41557}"},
		{"its field a byte early", "town.log", speed, strings.Replace(speed, "start: 16", "start: 8", 1),
			"unusable\ngrave beyond_quantity engine_speed ImplausibleSignal {Signal:engine_speed Role:engine_speed Reads:16320 SystemVoltage:12 Slip:{HasStart:true Start:16 High:1036.5}}"},
		{"its field one bit early", "town.log", speed, strings.Replace(speed, "start: 16", "start: 15", 1),
			"doubtful\nidle_speed engine_speed OddIdle {Signal:engine_speed Idle:1518}"},
		{"its field constant", "town.log", speed, strings.Replace(speed, "start: 16", "start: 40", 1),
			"unusable\ngrave stuck engine_speed StillEngine {Signal:engine_speed High:3.75 Km:0.41557}"},
		{"its field past the frame's end", "town.log", speed, strings.Replace(speed, "start: 16", "start: 56", 1),
			"unusable\ngrave beyond_frame engine_speed ShortFrame {Signal:engine_speed Role:engine_speed Frame:0x1A0 Needs:9 Bytes:8}"},
		{"its frame never there", "town.log", "  - id: 0x1A0", "  - id: 0x1AF",
			"unusable\ngrave never_seen engine_speed UnseenSignal {Signal:engine_speed Role:engine_speed Frame:0x1AF}"},
		{"its frame that of the battery", "town.log", "      supply:", "      elsewhere: {start: 60, length: 4, factor: 64, unit: rpm, role: engine_speed}\n      supply:",
			"unusable\ngrave stuck elsewhere StillEngine {Signal:elsewhere Km:0.41557 Slip:{HasStart:true Start:53 Low:192 High:704}}"},
		{"its frame that of the steering", "town.log", "      steering_angle:", "      elsewhere: {start: 23, length: 16, order: big, factor: 0.25, unit: rpm, role: engine_speed}\n      steering_angle:",
			"unusable\ngrave beyond_quantity elsewhere ImplausibleSignal {Signal:elsewhere Role:engine_speed Reads:16324 SystemVoltage:12}"},
		{"the stop command on a dead bit", "town.log", "stop_lamp:     {start: 3,", "stop_lamp:     {start: 7,",
			"unusable\ngrave command_never_on stop_lamp SilentCommand {Signal:stop_lamp Role:stop_command Times:5}"},
		{"the stop command turned round", "town.log", "stop_lamp:     {start: 3, length: 1,", "stop_lamp:     {start: 3, length: 1, active: [0],",
			"unusable\ngrave command_against stop_lamp ImplausibleCommand {Signal:stop_lamp RanWhileOn:108.410 RestedOff:27.260}"},
		{"the stop command on a bit that flickers", "town.log", "stop_lamp:     {start: 3,", "stop_lamp:     {start: 60,",
			"unusable\ngrave command_against stop_lamp ImplausibleCommand {Signal:stop_lamp RanWhileOn:56.129 RestedOff:13.822 Rises:2751 Rests:7}"},
		{"the stop command on a bit of the pedal", "failed-start.log", "stop_lamp:     {start: 3,", "stop_lamp:     {start: 40,",
			"unusable\ngrave command_against stop_lamp ImplausibleCommand {Signal:stop_lamp RanWhileOn:38.810 RestedOff:15.370 Rises:3878 Rests:8}"},
		{"the starter command on a dead bit", "town.log", "starter_relay: {start: 4,", "starter_relay: {start: 7,",
			"doubtful\ncommand_never_on starter_relay SilentCommand {Signal:starter_relay Role:starter_command Times:5}"},
		{"the ignition turned round", "town.log", "ignition:      {start: 12, length: 1,", "ignition:      {start: 12, length: 1, active: [0],",
			"doubtful\nignition_off ignition DeadIgnition {Signal:ignition Ran:111.130}"},
		{"the road speed never seen", "town.log", "  - id: 0x0D2", "  - id: 0x0DF",
			"doubtful\nnever_seen road_speed UnseenSignal {Signal:road_speed Role:vehicle_speed Frame:0x0DF}"},
		{"the road speed's bytes turned", "town.log", "road_speed:    {start: 7, length: 16, order: big,", "road_speed:    {start: 0, length: 16,",
			"doubtful\nbeyond_quantity road_speed ImplausibleSignal {Signal:road_speed Role:vehicle_speed Reads:652.89 SystemVoltage:12 Slip:{Order:big HasStart:true Start:7 High:34.86}}"},
		{"the road speed's factor ten times too large", "town.log", "factor: 0.01, unit: km/h", "factor: 0.1, unit: km/h",
			"doubtful\nbeyond_quantity road_speed ImplausibleSignal {Signal:road_speed Role:vehicle_speed Reads:348.6 SystemVoltage:12 Slip:{Factors:[0.5, 0.25, 0.125, 0.1]}}"},
		{"the battery's factor ten times too large", "town.log", "battery_voltage: {start: 0, length: 16, unit: mV,", "battery_voltage: {start: 0, length: 16, factor: 0.01, unit: V,",
			"doubtful\nbeyond_quantity battery_voltage ImplausibleSignal {Signal:battery_voltage Role:battery_voltage Reads:141.49 SystemVoltage:12 Slip:{Factors:[0.1] Low:9.554 High:14.149}}"},
		{"a signal of a request past the frame's end", "town.log", "steering_angle: {start: 7, length: 16,", "steering_angle: {start: 63, length: 16,",
			"doubtful\nbeyond_frame steering_angle ShortFrame {Signal:steering_angle Frame:0x0D6 Needs:9 Bytes:4}"},
		{"the truck's engine speed in the wrong bytes", "truck/yard.log", "engine_speed: {start: 24,", "engine_speed: {start: 16,",
			"unusable\ngrave beyond_quantity engine_speed ImplausibleSignal {Signal:engine_speed Role:engine_speed Reads:8127.9 SystemVoltage:24 Slip:{HasStart:true Start:24 High:706.38}}"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			file := "map.yaml"
			for _, d := range scenario.Drives() {
				if d.Name == test.drive {
					file = d.Map
				}
			}
			res := resultOf(t, test.drive, spoilt(t, file, test.right, test.wrong))
			if diff := cmp.Diff(test.want, trusted(res.Trust)); diff != "" {
				t.Error(diff)
			}
		})
	}
}

func TestACommandThatIsOnHalfTheTimeWhateverTheEngineDoesIsNotBelieved(t *testing.T) {
	const engine = "rpm @50ms: 0s=800 20s=800 20.5s=0 30s=0 30.5s=800 50s=800 50.5s=0 60s=0 60.5s=800 80s=800\n"
	for stop, want := range map[string]string{
		"stop @50ms: 0s=0 5s=1 15s=0 22s=1 26s=0 35s=1 45s=0 52s=1 56s=0": "unusable\ngrave command_against stop ImplausibleCommand {Signal:stop RanWhileOn:20.000 RestedOff:11.100}",
		"stop @50ms: 0s=0 20s=1 30s=0 50s=1 60s=0":                        "sound",
		"stop @50ms: 0s=0 5s=1 15s=0 20s=1 30s=0 50s=1 60s=0":             "sound", // called off once, late
	} {
		d := parseDrive(t, engine+stop, "")
		if got := trusted(d.run().Trust); got != want {
			t.Errorf("%s: %s, want %s", stop, got, want)
		}
	}
}

func TestADriveWithASoundMapIsBelieved(t *testing.T) {
	for _, d := range scenario.Drives() {
		m, err := sigmap.Parse(d.Map, scenario.Map(d.Map))
		if err != nil {
			t.Fatal(err)
		}
		if got := trusted(resultOf(t, d.Name, m).Trust); got != "sound" {
			t.Errorf("%s: %s", d.Name, got)
		}
	}
}

// While a drive goes on, a grave doubt is told soon and once, and of a sound drive none is.
func TestADriveThatCannotBeUsedIsToldOnTheWay(t *testing.T) {
	const speed = "factor: 0.25, unit: rpm"
	for _, d := range scenario.Drives() {
		whole := scenario.Map(d.Map)
		for _, text := range [][]byte{whole, bytes.Replace(whole, []byte(speed), []byte("factor: 2.5, unit: rpm"), 1)} {
			m, err := sigmap.Parse(d.Map, text)
			if err != nil {
				t.Fatal(err)
			}
			run := onelog.NewRun(m)
			cast := onelog.NewNewscast(run)
			var doubts []analyze.Doubt
			var when, next int64
			for f := range d.Frames {
				run.Push(f)
				if f.Time < next {
					continue
				}
				next = f.Time + 1e9
				if news := cast.Next(); len(news.Doubts) > 0 {
					doubts, when = append(doubts, news.Doubts...), run.Now
				}
			}
			switch spoilt := !bytes.Equal(whole, text); {
			case !spoilt && len(doubts) > 0:
				t.Errorf("%s is doubted at %d: %+v", d.Name, when, doubts)
			case spoilt && (len(doubts) != 1 || doubts[0].Code != analyze.DoubtBeyond || when > 130e9):
				t.Errorf("%s, spoilt, is doubted at %d: %+v", d.Name, when, doubts)
			}
		}
	}
}
