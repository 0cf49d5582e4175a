package trace_test

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"lull/analyze"
	"lull/analyze/trace"
	"lull/decode"
	"lull/decode/sigmap"
	"lull/pkg/bounds"
)

// The wheel is turned by 30 degrees in each of two stops: each asks against where the
// wheel was at its own onset, until the engine runs.
func TestWhatMovesIsHeldAgainstTheOnsetOfEachStop(t *testing.T) {
	m, err := sigmap.Parse("map.yaml", []byte(`format: 1
frames:
  - id: 0x100
    signals:
      rpm:   {start: 0, length: 16, unit: rpm, role: engine_speed}
      wheel: {start: 16, length: 16, unit: deg}
restart_requests:
  - {name: steered, by: driver, when: {signal: wheel, moves: 15}}
`))
	if err != nil {
		t.Fatal(err)
	}
	const ms = bounds.Millisecond
	episode := func(stop, running int64) analyze.Episode {
		at := bounds.At(running * ms)
		return analyze.Episode{Stop: analyze.Event{Instant: bounds.At(stop * ms)}, Running: &at}
	}
	res := &analyze.Result{Episodes: []analyze.Episode{episode(1000, 2000), episode(3000, 4000)}}
	tracer := trace.New(m, res, []analyze.Window{{To: 5000 * ms, Columns: 5000, Conditions: true}})
	for at := int64(0); at <= 20_000; at += 10 {
		f := decode.Frame{Time: at * ms, ID: 0x100, Len: 8}
		if at >= 1500 {
			f.Data[2] = 30
		}
		if at >= 3500 {
			f.Data[2] = 60
		}
		tracer.Push(&f)
	}
	const no, yes = analyze.False, analyze.True
	want := []analyze.Stretch{{To: 1495 * ms, State: no}, {From: 1495 * ms, To: 2000 * ms, State: yes}, {From: 2000 * ms, To: 3495 * ms, State: no},
		{From: 3495 * ms, To: 4000 * ms, State: yes}, {From: 4000 * ms, To: 5000 * ms, State: no}}
	if diff := cmp.Diff([][]analyze.Stretch{want}, tracer.Finish()[0].Requests); diff != "" {
		t.Errorf("asked (-want +got):\n%s", diff)
	}
}

// In a stop of two minutes the wheel is turned once, after twenty seconds: to the end it has
// moved, though far more samples came since than are kept.
func TestWhatMovedEarlyInALongStopHasMovedToItsEnd(t *testing.T) {
	m, err := sigmap.Parse("map.yaml", []byte(`format: 1
frames:
  - id: 0x100
    signals:
      rpm:   {start: 0, length: 16, unit: rpm, role: engine_speed}
      wheel: {start: 16, length: 16, unit: deg}
restart_requests:
  - {name: steered, by: driver, when: {signal: wheel, moves: 15}}
`))
	if err != nil {
		t.Fatal(err)
	}
	const ms = bounds.Millisecond
	running := bounds.At(121_000 * ms)
	res := &analyze.Result{Episodes: []analyze.Episode{{Stop: analyze.Event{Instant: bounds.At(1000 * ms)}, Running: &running}}}
	tracer := trace.New(m, res, []analyze.Window{{To: 125_000 * ms, Columns: 125_000, Conditions: true}})
	for at := int64(0); at <= 140_000; at += 10 {
		f := decode.Frame{Time: at * ms, ID: 0x100, Len: 8}
		if at >= 20_000 {
			f.Data[2] = 30
		}
		tracer.Push(&f)
	}
	want := []analyze.Stretch{{To: 19_995 * ms, State: analyze.False}, {From: 19_995 * ms, To: 121_000 * ms, State: analyze.True}, {From: 121_000 * ms, To: 125_000 * ms, State: analyze.False}}
	if diff := cmp.Diff([][]analyze.Stretch{want}, tracer.Finish()[0].Requests); diff != "" {
		t.Errorf("asked (-want +got):\n%s", diff)
	}
}

// Where time runs back, stops and standstills that were under way, or still to come, are
// over: those of the next part are followed from its beginning, each from its own onset.
func TestWhatMovesIsHeldAgainstTheOnsetsOfItsOwnPart(t *testing.T) {
	m, err := sigmap.Parse("map.yaml", []byte(`format: 1
frames:
  - id: 0x100
    signals:
      rpm:   {start: 0, length: 16, unit: rpm, role: engine_speed}
      wheel: {start: 16, length: 16, unit: deg}
restart_requests:
  - {name: steered, by: driver, when: {signal: wheel, moves: 15}}
inhibits:
  - {name: turning, when: {signal: wheel, moves: 15}}
`))
	if err != nil {
		t.Fatal(err)
	}
	const ms, long, no, yes = bounds.Millisecond, 5000 * bounds.Millisecond, analyze.False, analyze.True
	// It is turned by 30 degrees at 0.7 s, 1.5 s, 2.6 s and 3.5 s of each part.
	turns := []int64{700, 1500, 2600, 3500}
	one := []analyze.Stretch{{To: 1495 * ms, State: no}, {From: 1495 * ms, To: 2000 * ms, State: yes}, {From: 2000 * ms, To: long, State: no}}
	both := []analyze.Stretch{one[0], one[1], {From: 2000 * ms, To: 3495 * ms, State: no}, {From: 3495 * ms, To: 4000 * ms, State: yes}, {From: 4000 * ms, To: long, State: no}}
	type stop struct {
		part     int
		from, to int64
	}
	for _, c := range []struct {
		name  string
		first []stop // of the part before time ran back
		want  []analyze.Stretch
	}{
		{"none before", nil, []analyze.Stretch{{To: long, State: no}}},
		{"all over", []stop{{0, 1000, 2000}}, one},
		{"one under way", []stop{{0, 1000, 2000}, {0, 8000, 9500}}, one},
		{"one under way, one to come", []stop{{0, 1000, 2000}, {0, 8000, 9500}, {0, 9990, 9999}}, one},
		{"two to come", []stop{{0, 9980, 9985}, {0, 9990, 9999}}, []analyze.Stretch{{To: long, State: no}}},
	} {
		var res analyze.Result
		for _, s := range append(c.first, stop{1, 1000, 2000}, stop{1, 3000, 4000}) {
			end := bounds.At(s.to * ms)
			res.Episodes = append(res.Episodes, analyze.Episode{Part: s.part, Stop: analyze.Event{Instant: bounds.At(s.from * ms)}, Running: &end})
			res.Standstills = append(res.Standstills, analyze.Standstill{Part: s.part, Start: bounds.At(s.from * ms), End: end})
		}
		tracer := trace.New(m, &res, []analyze.Window{{To: long, Columns: 5000, Conditions: true}, {Part: 1, To: long, Columns: 5000, Conditions: true}})
		for _, last := range []int64{9000, 20_000} { // of each part
			for at := int64(0); at <= last; at += 10 {
				f := decode.Frame{Time: at * ms, ID: 0x100, Len: 8}
				for _, turn := range turns {
					if at >= turn {
						f.Data[2] += 30
					}
				}
				tracer.Push(&f)
			}
		}
		traces := tracer.Finish()
		for part, want := range [][]analyze.Stretch{c.want, both} {
			if diff := cmp.Diff([][]analyze.Stretch{want}, traces[part].Requests); diff != "" {
				t.Errorf("%s, part %d: asked (-want +got):\n%s", c.name, part, diff)
			}
			if diff := cmp.Diff([][]analyze.Stretch{want}, traces[part].Inhibits); diff != "" {
				t.Errorf("%s, part %d: inhibited (-want +got):\n%s", c.name, part, diff)
			}
		}
	}
}

// A line is drawn to the edges of its window, up to the samples just outside of it; the one
// after it is waited for up to a second.
func TestAWindowHoldsTheNearestSampleOnEitherSideOfIt(t *testing.T) {
	m, err := sigmap.Parse("map.yaml", []byte("format: 1\nframes:\n  - {id: 0x100, signals: {rpm: {start: 0, length: 16, unit: rpm, role: engine_speed}}}\n  - {id: 0x200, signals: {doors: {start: 0, length: 4}}}\n"))
	if err != nil {
		t.Fatal(err)
	}
	const ms = bounds.Millisecond
	for _, c := range []struct{ period, first, last int64 }{
		{100, 1900, 4100}, {300, 1800, 4200}, {900, 1800, 4500}, {1900, 1900, 3800},
	} {
		tracer := trace.New(m, &analyze.Result{}, []analyze.Window{{From: 2000 * ms, To: 4050 * ms, Columns: 1000, Roles: []decode.Role{decode.EngineSpeed}}})
		for at := int64(0); at < 20_000; at += 10 {
			f := decode.Frame{Time: at * ms, ID: 0x200, Len: 8} // of another module
			if at%c.period == 0 {
				f.ID, f.Data[0] = 0x100, byte(at/c.period)
			}
			tracer.Push(&f)
		}
		points := tracer.Finish()[0].Of(decode.EngineSpeed)
		if len(points) < 2 || points[0].T != c.first*ms || points[len(points)-1].T != c.last*ms {
			t.Errorf("every %d ms: %v, want %d to %d ms", c.period, points, c.first, c.last)
		}
		for i, p := range points {
			if p.T != c.first*ms+int64(i)*c.period*ms || p.Value != float64(p.T/ms/c.period) {
				t.Errorf("every %d ms: point %d is %v", c.period, i, p)
			}
		}
	}
}

// A window of the whole log goes on where time runs back; one of a part ends there.
func TestAWindowOfAllPartsGoesOnWhereTimeRunsBack(t *testing.T) {
	m, err := sigmap.Parse("map.yaml", []byte("format: 1\nframes:\n  - {id: 0x100, signals: {rpm: {start: 0, length: 8, unit: rpm, role: engine_speed}}}\n"))
	if err != nil {
		t.Fatal(err)
	}
	const second = bounds.Second
	roles := []decode.Role{decode.EngineSpeed}
	tracer := trace.New(m, &analyze.Result{}, []analyze.Window{
		{Part: analyze.AllParts, To: 10 * second, Columns: 1000, Roles: roles}, {Part: 0, To: 10 * second, Columns: 1000, Roles: roles}})
	for part, highest := range []byte{50, 90} {
		for n := range int64(10 - 3*part) {
			f := decode.Frame{Time: n * second, ID: 0x100, Len: 8}
			f.Data[0] = highest
			tracer.Push(&f)
		}
	}
	traces := tracer.Finish()
	for i, want := range []float64{90, 50} {
		highest := 0.0
		for _, p := range traces[i].Of(decode.EngineSpeed) {
			highest = max(highest, p.Value)
		}
		if highest != want {
			t.Errorf("window %d: up to %g rpm, want %g", i, highest, want)
		}
	}
}
