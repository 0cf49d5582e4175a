package scenario

import (
	"bytes"
	"crypto/sha256"
	"errors"
	"flag"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"lull/decode"
	"lull/decode/candump"
	"lull/decode/sigmap"
)

var update = flag.Bool("update", false, "write the golden files")

// The sums of all files of the demonstration and of a few random drives. They
// hold on every platform; a change means that the generator changed.
func TestEveryFileIsTheSameByteForByte(t *testing.T) {
	var got strings.Builder
	for _, f := range Files() {
		fmt.Fprintf(&got, "%x  %s\n", sha256.Sum256(f.Bytes()), f.Name)
	}
	for seed := range int64(6) {
		d := Random(seed)
		fmt.Fprintf(&got, "%x  %s\n", sha256.Sum256(d.log()), d.Name)
	}
	golden := filepath.Join("testdata", "sums.golden")
	if *update {
		if err := os.MkdirAll("testdata", 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(golden, []byte(got.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(golden)
	if err != nil {
		t.Fatal(err)
	}
	if got.String() != string(want) {
		t.Errorf("sums differ:\n%swant:\n%s", got.String(), want)
	}
}

func TestALogReadsBackAsTheFramesOfTheDrive(t *testing.T) {
	d := Drives()[0]
	r := candump.NewReader(bytes.NewReader(d.log()), candump.Options{})
	count := 0
	d.Frames(func(f *decode.Frame) bool {
		count++
		if !r.Scan() {
			t.Fatalf("frame %d is not in the log: %v", count, r.Err())
		}
		g := r.Frame()
		if g.Time != f.Time || g.ID != f.ID || g.Bus != f.Bus || g.Flags != f.Flags || !bytes.Equal(g.Payload(), f.Payload()) {
			t.Fatalf("frame %d: read %+v, sent %+v", count, *g, *f)
		}
		return true
	})
	if r.Scan() {
		t.Error("the log holds more frames than the drive")
	}
	if info := r.Info(); info.Rejected != 0 || info.Accepted != int64(count) || !info.Stamps.Dated() {
		t.Errorf("info %+v", info)
	}
}

func TestADriveIsFoundOnDiskAsItIsListed(t *testing.T) {
	names := map[string]bool{}
	for _, f := range Files() {
		if names[f.Name] || f.Title == "" || strings.Contains(f.Name, "\\") {
			t.Errorf("file %q, title %q", f.Name, f.Title)
		}
		names[f.Name] = true
		size := len(f.Bytes())
		most := 3_100_000
		if f.Name == "town.log" {
			most = 14_000_000 // the one on a busy bus
		}
		if size == 0 || size > most {
			t.Errorf("%s has %d bytes", f.Name, size)
		}
	}
	for _, d := range Drives() {
		if !names[d.Name] || !names[d.Map] || filepath.Dir(d.Name) != filepath.Dir(d.Map) {
			t.Errorf("drive %s with map %s is not listed side by side", d.Name, d.Map)
		}
	}
	if Map("nothing.yaml") != nil {
		t.Error("a map of no drive exists")
	}
}

// network as declared: order, rates, distance, losses.
func TestFramesComeInOrderAndAtTheirRates(t *testing.T) {
	drives := append(Drives(), Random(1), Random(2), Random(3))
	for _, d := range drives {
		last := int64(0)
		at := map[uint32][]int64{}
		d.Frames(func(f *decode.Frame) bool {
			if f.Time < last+wire && last != 0 {
				t.Fatalf("%s: frames %d ns apart", d.Name, f.Time-last)
			}
			if f.Time%1000 != 0 {
				t.Fatalf("%s: stamp %d has more than six decimals", d.Name, f.Time)
			}
			last = f.Time
			at[f.ID] = append(at[f.ID], f.Time)
			return true
		})
		for _, s := range d.plan.network.streams {
			if s.changes {
				continue
			}
			gaps := []int64{}
			for i := 1; i < len(at[s.id]); i++ {
				gaps = append(gaps, at[s.id][i]-at[s.id][i-1])
			}
			slices.Sort(gaps)
			median := gaps[len(gaps)/2]
			if math.Abs(float64(median-s.period)) > 0.02*float64(s.period)+float64(wire) {
				t.Errorf("%s: %X every %d ns, declared %d", d.Name, s.id, median, s.period)
			}
			if gaps[0] < s.period/2-3*ms {
				t.Errorf("%s: %X once after only %d ns", d.Name, s.id, gaps[0])
			}
		}
	}
}

func TestStoppingEarlyStopsTheDrive(t *testing.T) {
	count := 0
	Drives()[0].Frames(func(*decode.Frame) bool { count++; return count < 10 })
	if count != 10 {
		t.Errorf("%d frames after no was said at the tenth", count)
	}
}

type fullDisk struct{ room int }

var errFull = errors.New("no room left")

func (f *fullDisk) Write(p []byte) (int, error) {
	if f.room -= len(p); f.room < 0 {
		return 0, errFull
	}
	return len(p), nil
}

func TestAFullDiskIsReported(t *testing.T) {
	for _, room := range []int{0, 200_000} {
		if err := Drives()[0].WriteLog(&fullDisk{room}); !errors.Is(err, errFull) {
			t.Errorf("with room for %d bytes: %v", room, err)
		}
	}
}

// Every signal of every map decodes to the car's own value, within half a step.
func TestSignalsDecodeToTheCarsOwnValues(t *testing.T) {
	quantities := map[string]quantity{
		"engine_speed": engineSpeed, "pedal": pedal, "coolant": coolant, "fuel_flow": fuelRate, "hold_pressure": holdPressure,
		"road_speed": roadSpeed, "acceleration": acceleration, "steering_angle": steering, "battery_voltage": voltage,
		"battery_current": current, "charge": charge, "supply": supply, "cabin_error": cabinError, "outside_temp": outside,
	}
	switches := map[string]output{
		"stop_lamp": stopCommand, "starter_relay": starterCommand, "why_not": inhibitCode, "ignition": ignition, "gear": gear,
		"brake": brake, "ac": airConditioning, "cancel_switch": cancelSwitch, "turn": turnLamp, "radio_on": radio,
		"starter_operations": starterCount, "starter_mode": starterMode, "stopped_by_idle_shutdown": stopCommand,
	}
	for _, d := range []Drive{Drives()[0], Drives()[8], Drives()[9], Random(5)} {
		m, err := sigmap.Parse(d.Map, Map(d.Map))
		if err != nil {
			t.Fatal(err)
		}
		decoder := decode.NewDecoder(m)
		seen := make([]int, len(m.Signals))
		w := newWorld(d.plan)
		w.play(func(f *decode.Frame) bool {
			for _, s := range decoder.Decode(f) {
				signal := &m.Signals[s.Signal]
				if !s.Valid {
					t.Fatalf("%s: %s has no value", d.Name, signal.Name)
				}
				seen[s.Signal]++
				if q, ok := quantities[signal.Name]; ok {
					want, slack := w.curve.at(q, f.Time), signal.Scale.Step()/2+1e-9
					if signal.Unit == "mV" {
						want = mul(want, 1000)
					}
					if math.Abs(s.Value-want) > slack {
						t.Fatalf("%s: %s decodes to %v, the car has %v", d.Name, signal.Name, s.Value, want)
					}
					continue
				}
				o, ok := switches[signal.Name]
				if !ok {
					t.Fatalf("%s: signal %s stands for nothing of the car", d.Map, signal.Name)
				}
				if s.Raw != w.out.value[o] {
					t.Fatalf("%s: %s is %d, the car has %d", d.Name, signal.Name, s.Raw, w.out.value[o])
				}
			}
			return true
		})
		for i, n := range seen {
			if n < 20 {
				t.Errorf("%s: %s was seen %d times", d.Name, m.Signals[i].Name, n)
			}
		}
	}
}
