package feed_test

import (
	"testing"

	"lull/analyze"
	"lull/analyze/feed"
	"lull/analyze/series"
	"lull/decode"
	"lull/decode/sigmap"
	"lull/pkg/bounds"
)

type deaf struct{}

func (deaf) Gap(analyze.Gap)        {}
func (deaf) Silent(analyze.Silence) {}
func (deaf) Cut(int64, bool)        {}
func (deaf) Restart(int64)          {}

// The pressure is in one frame of twenty: it is not missed before five of its own periods.
func TestASignalThatIsNotInEveryFrameIsMissedByItsOwnSteps(t *testing.T) {
	m, err := sigmap.Parse("map.yaml", []byte(`format: 1
frames:
  - id: 0x100
    signals:
      page:     {start: 0, length: 8}
      rpm:      {start: 16, length: 16, unit: rpm, role: engine_speed}
      pressure: {start: 32, length: 16, unit: kPa, role: hold_pressure, when: {page: 0}}
`))
	if err != nil {
		t.Fatal(err)
	}
	r := feed.NewRecording(m, deaf{})
	if got := r.Hole(decode.HoldPressure); got < 1<<62 {
		t.Errorf("missed after %d ns, before anything is known of how often it comes", got)
	}
	for n := range 100 {
		f := decode.Frame{Time: int64(n) * 10 * bounds.Millisecond, ID: 0x100, Len: 8}
		f.Data[0] = byte(n % 20)
		samples, _ := r.Push(&f)
		for _, s := range samples {
			if role := m.Signals[s.Signal].Role; role != decode.NoRole && s.Valid {
				r.Tracks[role].Add(r.Now, s.Value)
			}
		}
	}
	if got := r.Hole(decode.EngineSpeed); got != 100*bounds.Millisecond {
		t.Errorf("the engine speed is missed after %d ns, want 100 ms", got)
	}
	// What is just so long away is missed, be it between two samples, before the first or
	// after the last; of it counts what lies in the stretch.
	const ms = bounds.Millisecond
	at := func(times ...int64) (points []series.Point) {
		for _, t := range times {
			points = append(points, series.Point{T: t * ms})
		}
		return points
	}
	for _, test := range []struct {
		points         []series.Point
		low, high, out int64
	}{
		{nil, 0, 100, 100},
		{nil, 1, 100, 0},
		{at(100), 0, 100, 100},
		{at(99), 0, 99, 0},
		{at(0, 100), 0, 100, 100},
		{at(0, 99), 0, 99, 0},
		{at(0, 100), 20, 50, 30},
		{at(0, 100), 50, 150, 50},
		{at(0), 0, 100, 100},
		{at(0), 0, 99, 0},
		{at(0, 50, 250, 300), 0, 300, 200},
	} {
		if got := r.Unseen(decode.EngineSpeed, test.points, test.low*ms, test.high*ms); got != test.out*ms {
			t.Errorf("%v in %d..%d ms: %d ms not seen, want %d", test.points, test.low, test.high, got/ms, test.out)
		}
	}
	if got := r.Hole(decode.HoldPressure); got != bounds.Second+1 {
		t.Errorf("the pressure is missed after %d ns, want more than five times 200 ms", got)
	}
}
