package findings

import (
	"math"
	"slices"
	"testing"

	"lull/analyze"
	"lull/analyze/feed"
	"lull/decode"
	"lull/decode/sigmap"
	"lull/pkg/bounds"
)

// silent takes what a feed tells.
type silent struct{}

func (silent) Gap(analyze.Gap)        {}
func (silent) Silent(analyze.Silence) {}
func (silent) Cut(int64, bool)        {}
func (silent) Restart(int64)          {}

// finder has seen nothing yet. Its map has these signals of one frame.
func finder(t *testing.T, signals string) *Finder {
	t.Helper()
	m, err := sigmap.Parse("map.yaml", []byte("format: 1\nframes:\n  - {id: 0x100, signals: {"+signals+"}}\n"))
	if err != nil {
		t.Fatal(err)
	}
	return New(feed.NewRecording(m, silent{}), &analyze.Result{EngineSpeedSeen: true})
}

const rpm = "rpm: {start: 0, length: 16, unit: rpm, role: engine_speed}"

func TestAnEngineSpeedThatNeverChangesIsDoubtedOnceTheVehicleWentFar(t *testing.T) {
	for _, test := range []struct {
		name      string
		low, high float64
		samples   int
		km        float64
		want      string
	}{
		{"it idled", 800, 900, 20, 0, ""},
		{"one speed while it stood", 900, 900, 20, 0.2, ""},
		{"one speed all the way", 900, 900, 20, 0.3, analyze.DoubtStuck},
		{"hardly one speed all the way", 900, 900.25, 20, 0.3, ""},
		{"one speed of too few samples", 900, 900, 19, 0.3, ""},
		{"it rested", 0, 1, 20, 0.04, analyze.DoubtEngineOff},
		{"it rested while the vehicle moved", 0, 1, 20, 0.05, analyze.DoubtStuck},
	} {
		r := finder(t, rpm)
		r.Seen[0] = true
		r.result.Distance.Value = test.km
		for i := range test.samples {
			r.Plausible.Roles[decode.EngineSpeed].Add(int64(i)*bounds.Millisecond, []float64{test.low, test.high}[i%2])
		}
		got := ""
		r.doubtEngine(func(code string, grave bool, _ string, _ analyze.Cause) { got += code })
		if got != test.want {
			t.Errorf("%s: %q, want %q", test.name, got, test.want)
		}
	}
}

func TestValuesBeyondTheQuantityAreDoubtedFromTwentySamplesOn(t *testing.T) {
	r := finder(t, rpm)
	k := &r.Plausible.Roles[decode.EngineSpeed]
	for n := 1; n <= 20; n++ {
		k.Add(int64(n)*bounds.Millisecond, 9000)
		about, doubted := r.implausible(decode.EngineSpeed, r.M.RoleSignal(decode.EngineSpeed))
		if doubted != (n == 20) || doubted && about.Reads != 9000 {
			t.Errorf("%d samples: %+v, %v", n, about, doubted)
		}
	}
}

func TestAnEngineRanAndRestedWhereItsSpeedPassedBothThresholds(t *testing.T) {
	settings := decode.DefaultSettings()
	for _, test := range []struct {
		low, high float64
		want      bool
	}{
		{settings.RestSpeed - 1, settings.RunningSpeed + 1, true},
		{settings.RestSpeed, settings.RunningSpeed + 1, false},
		{settings.RestSpeed - 1, settings.RunningSpeed, false},
	} {
		r := finder(t, rpm)
		for _, v := range []float64{test.low, test.high} {
			r.Plausible.Roles[decode.EngineSpeed].Add(0, v)
		}
		if got := r.ranAndRested(decode.BatteryVoltage); got != test.want {
			t.Errorf("%g to %g rpm: %v", test.low, test.high, got)
		}
	}
}

// A field of one bit has no order of bytes.
func TestTheOtherOrderOfBytesIsTriedWhereThereIsOne(t *testing.T) {
	for _, test := range []struct {
		signal decode.Signal
		want   []int // starts in the other order
	}{
		{decode.Signal{Start: 10, Length: 1}, nil},
		{decode.Signal{Start: 10, Length: 2}, []int{10, 15}},
		{decode.Signal{Start: 16, Length: 16}, []int{16, 23}},
		{decode.Signal{Start: 23, Length: 16, BigEndian: true}, []int{23, 16}},
	} {
		var got []int
		for _, n := range neighbours(&test.signal) {
			if n.signal.BigEndian != test.signal.BigEndian {
				got = append(got, n.signal.Start)
			}
		}
		if !slices.Equal(got, test.want) {
			t.Errorf("%+v: %v, want %v", test.signal, got, test.want)
		}
	}
}

// Ten times a number that is nearly the largest is no number.
func TestOnlyNumbersAreReadAnew(t *testing.T) {
	r := finder(t, "rpm: {start: 0, length: 64, float: true, unit: rpm, role: engine_speed}")
	signal := r.M.RoleSignal(decode.EngineSpeed)
	for _, v := range []float64{1.5, 1e308} {
		f := decode.Frame{ID: 0x100, Len: 8}
		for i := range 8 {
			f.Data[i] = byte(math.Float64bits(v) >> (8 * i))
		}
		r.Plausible.Frames = append(r.Plausible.Frames, f)
	}
	if got := r.readings(reading{signal: *signal, factor: 10}, signal); !slices.Equal(got, []float64{15}) {
		t.Errorf("%v, want 15 alone", got)
	}
}
