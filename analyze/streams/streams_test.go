package streams

import (
	"fmt"
	"math"
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"lull/analyze"
	"lull/decode"
)

const testMillisecond = int64(time.Millisecond)

// arrival is one frame of a stream test: its time in ms, what it is and which
// entries it matches.
type arrival struct {
	ms      int64
	id      uint32
	bus     string
	entries []int
}

// every gives frames of one stream from..to (ms, to left out).
func every(from, to, period int64, id uint32, entries ...int) []arrival {
	var out []arrival
	for at := from; at < to; at += period {
		out = append(out, arrival{ms: at, id: id, bus: "can0", entries: entries})
	}
	return out
}

func inOrder(lists ...[]arrival) []arrival {
	all := slices.Concat(lists...)
	slices.SortStableFunc(all, func(a, b arrival) int { return int(a.ms - b.ms) })
	return all
}

// watch feeds the frames and returns what ended on the way and at the end.
func watch(s *Streams, frames []arrival, end int64) (gaps []analyze.Gap, silences []analyze.Silence) {
	for _, a := range frames {
		now := a.ms * testMillisecond
		if gap, ok := s.Tick(now); ok {
			gaps = append(gaps, gap)
		}
		if len(a.entries) > 0 {
			f := decode.Frame{ID: a.id, Bus: a.bus}
			if a.id > 0x7FF {
				f.Flags = decode.Extended
			}
			if silence, ok := s.Seen(&f, now, a.entries); ok {
				silences = append(silences, silence)
			}
		}
	}
	return gaps, append(silences, s.Finish(end*testMillisecond)...)
}

func streamMap(entries ...decode.Entry) *decode.Map {
	m := &decode.Map{Entries: entries, Settings: decode.DefaultSettings()}
	for i := range entries {
		m.Signals = append(m.Signals, decode.Signal{Entry: i})
	}
	return m
}

func silence(id, module string, start, duration, period int64) analyze.Silence {
	return analyze.Silence{ID: id, Bus: "can0", Module: module, Start: start * testMillisecond, Duration: duration * testMillisecond, Period: period * testMillisecond}
}

func gapMs(start, end int64) analyze.Gap {
	return analyze.Gap{Start: start * testMillisecond, End: end * testMillisecond}
}

func TestSilencesAndGaps(t *testing.T) {
	engine := decode.Entry{ID: 1, Period: 10 * time.Millisecond, Module: "engine control"}
	learned := decode.Entry{ID: 2, Module: "body unit"}
	slow := decode.Entry{ID: 2, Period: 100 * time.Millisecond, Module: "body unit"}
	event := decode.Entry{ID: 3, Period: 100 * time.Millisecond, OnChange: true}
	polled := decode.Entry{Kind: decode.ByOBD, Response: 0x7E8, Period: 50 * time.Millisecond}
	tests := []struct {
		name     string
		entries  []decode.Entry
		frames   []arrival
		end      int64
		gaps     []analyze.Gap
		silences []analyze.Silence
	}{
		{"away for five periods is none, longer is one", []decode.Entry{engine, slow},
			inOrder(every(0, 4000, 10, 1, 0), every(0, 1, 1, 2, 1), every(500, 501, 1, 2, 1), every(1001, 1002, 1, 2, 1)), 1501,
			nil, []analyze.Silence{silence("0x002", "body unit", 500, 501, 100), silence("0x002", "body unit", 1001, 2989, 100)}},
		{"at least 100 ms", []decode.Entry{engine, slow},
			inOrder(every(0, 1000, 10, 2, 1), every(0, 100, 10, 1, 0), every(189, 280, 10, 1, 0), every(379, 1000, 10, 1, 0)), 1000,
			nil, []analyze.Silence{silence("0x001", "engine control", 279, 100, 10)}},
		{"to the log's end, by their start", []decode.Entry{engine, slow, {ID: 4, Period: 100 * time.Millisecond}},
			inOrder(every(0, 3000, 10, 1, 0), every(0, 950, 100, 4, 2), every(50, 850, 100, 2, 1)), 3000,
			nil, []analyze.Silence{silence("0x002", "body unit", 750, 2250, 100), silence("0x004", "", 900, 2100, 100)}},
		{"a period is learned of the first 32 gaps; no silence before", []decode.Entry{engine, learned},
			inOrder(every(0, 9000, 10, 1, 0), every(0, 601, 20, 2, 1), every(2000, 2021, 20, 2, 1), every(3000, 3001, 1, 2, 1)), 3050,
			nil, []analyze.Silence{silence("0x002", "body unit", 2020, 980, 20), silence("0x002", "body unit", 3000, 5990, 20)}},
		{"gaps are left out", []decode.Entry{engine, slow},
			inOrder(every(0, 1000, 10, 1, 0), every(2000, 3000, 10, 1, 0), every(5000, 6000, 10, 1, 0), every(0, 700, 100, 2, 1), every(5500, 6000, 100, 2, 1)), 6000,
			[]analyze.Gap{gapMs(990, 2000), gapMs(2990, 5000)}, []analyze.Silence{silence("0x002", "body unit", 600, 4900-1010-2010, 100)}},
		{"what a gap leaves must still be long enough", []decode.Entry{engine, slow},
			inOrder(every(0, 1000, 10, 1, 0), every(5000, 5500, 10, 1, 0), every(0, 1000, 100, 2, 1), every(5300, 5500, 100, 2, 1)), 5500,
			[]analyze.Gap{gapMs(990, 5000)}, nil},
		{"sent on change is never silent, nor does it tell gaps", []decode.Entry{event},
			inOrder(every(0, 5000, 100, 3, 0), every(90000, 90001, 1, 3, 0)), 95000, nil, nil},
		{"polled answers are never silent; they tell gaps where nothing is cyclic", []decode.Entry{polled},
			inOrder(every(0, 1000, 50, 0x7E8, 0), every(1201, 1300, 50, 0x7E8, 0)), 9000,
			[]analyze.Gap{gapMs(950, 1201)}, nil},
		{"polled answers tell no gaps where something is cyclic, seen or not", []decode.Entry{polled, engine},
			inOrder(every(0, 1000, 50, 0x7E8, 0), every(5000, 5100, 50, 0x7E8, 0)), 9000, nil, nil},
		{"an entry never seen tells no gaps", []decode.Entry{engine, slow},
			every(0, 4000, 400, 2, 1), 4000, nil, nil},
		{"the shortest period tells gaps, learned ones too", []decode.Entry{slow, {ID: 4}},
			inOrder(every(0, 1000, 20, 4, 1), every(0, 1000, 100, 2, 0), every(1200, 1301, 100, 2, 0)), 1300,
			[]analyze.Gap{gapMs(980, 1200)}, nil},
		{"a period given wins over one learned", []decode.Entry{slow},
			inOrder(every(0, 1000, 20, 2, 0), every(1400, 1401, 1, 2, 0)), 1400, nil, nil},
		{"frames that come in heaps of one stamp have no period", []decode.Entry{{ID: 2}},
			inOrder(every(0, 1, 1, 2, 0), slices.Repeat([]arrival{{5, 2, "can0", []int{0}}}, 40), every(9000, 9001, 1, 2, 0)), 20000, nil, nil},
		{"unmapped frames keep a recording alive", []decode.Entry{engine},
			inOrder(every(0, 100, 10, 1, 0), every(100, 1000, 50, 9), every(1000, 1100, 10, 1, 0)), 1090,
			nil, []analyze.Silence{silence("0x001", "engine control", 90, 910, 10)}},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			gaps, silences := watch(New(streamMap(test.entries...)), test.frames, test.end)
			if diff := cmp.Diff(test.gaps, gaps); diff != "" {
				t.Errorf("gaps (-want +got):\n%s", diff)
			}
			if diff := cmp.Diff(test.silences, silences); diff != "" {
				t.Errorf("silences (-want +got):\n%s", diff)
			}
		})
	}
}

func TestEachSenderOfAParameterGroupIsAStreamOfItsOwn(t *testing.T) {
	m := streamMap(decode.Entry{Kind: decode.ByPGN, PGN: 61444, Source: -1})
	s := New(m)
	a, b := uint32(0x0CF00400), uint32(0x0CF00401)
	var frames []arrival
	for ms := int64(0); ms < 6000; ms += 10 {
		if ms%20 == 0 && (ms < 2000 || ms > 4000) {
			frames = append(frames, arrival{ms, a, "can0", []int{0}})
		}
		if ms%50 == 0 {
			frames = append(frames, arrival{ms, b, "can0", []int{0}}, arrival{ms, b, "can1", []int{0}})
		}
	}
	gaps, silences := watch(s, frames, 6000)
	if diff := cmp.Diff([]analyze.Gap(nil), gaps); diff != "" {
		t.Errorf("gaps (-want +got):\n%s", diff)
	}
	if diff := cmp.Diff([]analyze.Silence{silence("0x0CF00400", "", 1980, 2040, 20)}, silences); diff != "" {
		t.Errorf("silences (-want +got):\n%s", diff)
	}
	if p, ok := s.Period(0); !ok || p != 20*testMillisecond {
		t.Errorf("period %d %v, want the shortest of the senders', 20 ms", p, ok)
	}
	if s.gapLimit != 100*testMillisecond+1 {
		t.Errorf("gaps begin at %d, want just above five periods of 20 ms", s.gapLimit)
	}
}

func TestPeriods(t *testing.T) {
	m := streamMap(
		decode.Entry{ID: 1, Period: 10 * time.Millisecond},
		decode.Entry{ID: 2},
		decode.Entry{ID: 3, OnChange: true},
		decode.Entry{ID: 4, OnChange: true, Period: time.Second},
		decode.Entry{Kind: decode.ByDID, Response: 0x7E8},
	)
	s := New(m)
	want := func(when string, periods ...int64) {
		t.Helper()
		for i, w := range periods {
			if p, ok := s.Period(i); p != w*testMillisecond || ok != (w > 0) {
				t.Errorf("%s: period of signal %d is %d %v, want %d ms", when, i, p, ok, w)
			}
		}
	}
	if s.gapLimit != math.MaxInt64 {
		t.Error("there is a gap threshold before anything was seen")
	}
	want("before", 10, 0, 0, 1000, 0)
	// The 32 gaps are 25 of 20 ms and 7 long ones; what comes later changes nothing.
	at := int64(0)
	feed := func(gap int64) {
		at += gap
		for i, id := range []uint32{2, 3, 4, 0x7E8} {
			s.Tick(at * testMillisecond)
			s.Seen(&decode.Frame{ID: id, Bus: "can0"}, at*testMillisecond, []int{i + 1})
		}
	}
	feed(0)
	for i := range 31 {
		if i%4 == 3 {
			feed(70)
		} else {
			feed(20)
		}
	}
	want("after 31 gaps", 10, 0, 0, 1000, 0)
	feed(20)
	want("after 32 gaps", 10, 20, 0, 1000, 20)
	for range 100 {
		feed(5)
	}
	want("fixed", 10, 20, 0, 1000, 20)
}

func TestOneIdentifierOfSeveralEntries(t *testing.T) {
	m := streamMap(
		decode.Entry{ID: 2, OnChange: true, Module: "first"},
		decode.Entry{ID: 2, Module: "second"},
		decode.Entry{Kind: decode.ByOBD, Response: 2},
		decode.Entry{ID: 2, Bus: "can0"},
	)
	s := New(m)
	frames := inOrder(every(0, 641, 20, 2, 0, 1, 2, 3), every(0, 3000, 10, 9))
	gaps, silences := watch(s, frames, 2990)
	if len(gaps) != 0 {
		t.Errorf("gaps %v, want none", gaps)
	}
	if diff := cmp.Diff([]analyze.Silence{silence("0x002", "first", 640, 2350, 20)}, silences); diff != "" {
		t.Errorf("silences (-want +got):\n%s", diff)
	}
	for i, want := range []int64{0, 20, 20, 20} {
		if got, _ := s.Period(i); got != want*testMillisecond {
			t.Errorf("period of entry %d is %d, want %d ms", i, got, want)
		}
	}
}

func TestTimeThatRunsBack(t *testing.T) {
	m := streamMap(decode.Entry{ID: 1, Period: 10 * time.Millisecond})
	s := New(m)
	gaps, silences := watch(s, []arrival{
		{0, 1, "can0", []int{0}}, {1000, 9, "can1", nil}, {950, 9, "can1", nil}, {1040, 9, "can1", nil}, {1045, 1, "can0", []int{0}}, {1005, 1, "can0", []int{0}},
	}, 1045)
	if diff := cmp.Diff([]analyze.Gap{gapMs(0, 1000)}, gaps); diff != "" {
		t.Errorf("gaps (-want +got):\n%s", diff)
	}
	if len(silences) != 0 {
		t.Errorf("silences %v, want none", silences)
	}
	s.Reset(300 * testMillisecond)
	gaps, silences = watch(s, []arrival{{300, 1, "can0", []int{0}}, {310, 1, "can0", []int{0}}, {500, 9, "can1", nil}}, 500)
	if diff := cmp.Diff([]analyze.Gap{gapMs(310, 500)}, gaps); diff != "" {
		t.Errorf("gaps after a reset (-want +got):\n%s", diff)
	}
	if len(silences) != 0 {
		t.Errorf("silences after a reset %v, want none", silences)
	}
}

// A naive account of one cyclic stream among others, from the whole list of
// times, agrees.
func TestStreamsAgreeWithTheWholeListOfTimes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		period := rapid.Int64Range(1, 200).Draw(t, "period")
		m := streamMap(decode.Entry{ID: 1, Period: time.Duration(period) * time.Millisecond})
		m.Settings.SilenceFactor = rapid.SampledFrom([]float64{1, 2.5, 5}).Draw(t, "factor")
		steps := rapid.SliceOfN(rapid.SampledFrom([]int64{0, 1, 10, 99, 100, 101, 500, 501, 1000, 5000}), 1, 40).Draw(t, "steps")
		mapped := rapid.SliceOfN(rapid.Bool(), len(steps), len(steps)).Draw(t, "mapped")
		frames := []arrival{{0, 1, "can0", []int{0}}}
		for i, step := range steps {
			a := arrival{ms: frames[i].ms + step, id: 9}
			if mapped[i] {
				a = arrival{frames[i].ms + step, 1, "can0", []int{0}}
			}
			frames = append(frames, a)
		}
		end := frames[len(frames)-1].ms
		enough := func(ms int64) bool { return ms >= 100 && float64(ms) > m.Settings.SilenceFactor*float64(period) }
		var wantGaps []analyze.Gap
		var wantSilences []analyze.Silence
		last, left := int64(0), int64(0)
		check := func(now int64) {
			if away := now - last - left; enough(away) {
				wantSilences = append(wantSilences, silence("0x001", "", last, away, period))
			}
			last, left = now, 0
		}
		for i, f := range frames[1:] {
			if before := frames[i].ms; enough(f.ms - before) {
				wantGaps = append(wantGaps, gapMs(before, f.ms))
				left += f.ms - before
			}
			if f.id == 1 {
				check(f.ms)
			}
		}
		check(end)
		gaps, silences := watch(New(m), frames, end)
		if diff := cmp.Diff(wantGaps, gaps); diff != "" {
			t.Errorf("gaps (-want +got):\n%s", diff)
		}
		if diff := cmp.Diff(wantSilences, silences); diff != "" {
			t.Errorf("silences (-want +got):\n%s", diff)
		}
	})
}

func TestNumberOfStreamsIsBounded(t *testing.T) {
	m := streamMap(decode.Entry{Kind: decode.ByPGN, PGN: 61444, Source: -1, Period: 10 * time.Millisecond})
	s := New(m)
	for i := range maxStreams + 100 {
		s.Seen(&decode.Frame{ID: uint32(61444<<8 + i), Flags: decode.Extended, Bus: "can0"}, 0, []int{0})
	}
	open := s.Finish(int64(time.Second))
	if len(s.list) != maxStreams || len(open) != maxStreams {
		t.Errorf("%d streams, %d silences; want %d of each", len(s.list), len(open), maxStreams)
	}
	if want := fmt.Sprintf("0x%08X", 61444<<8); open[0].ID != want {
		t.Errorf("first silence of %s, want %s", open[0].ID, want)
	}
}

func TestAnAbsurdFactorNeverOverflows(t *testing.T) {
	m := streamMap(decode.Entry{ID: 1, Period: time.Hour})
	m.Settings.SilenceFactor = 1e300
	gaps, silences := watch(New(m), every(0, 2, 1, 1, 0), 1<<40)
	if len(gaps)+len(silences) != 0 {
		t.Errorf("gaps %v, silences %v; want none", gaps, silences)
	}
}

func TestStreamsDoNotAllocateInSteadyState(t *testing.T) {
	m := streamMap(decode.Entry{ID: 1}, decode.Entry{Kind: decode.ByPGN, PGN: 61444, Source: -1}, decode.Entry{Kind: decode.ByOBD, Response: 0x7E8})
	s := New(m)
	now := int64(0)
	frames := []decode.Frame{{ID: 1, Bus: "can0"}, {ID: 1, Bus: "can1"}, {ID: 61444 << 8, Bus: "can0"}, {ID: 61444<<8 | 1, Bus: "can0"}, {ID: 0x7E8, Bus: "can0"}}
	entries := [][]int{{0}, {0}, {1}, {1}, {2}}
	round := func() {
		for i := range frames {
			now += testMillisecond
			s.Tick(now)
			s.Seen(&frames[i], now, entries[i])
		}
	}
	for range learnGaps + 2 {
		round()
	}
	if n := testing.AllocsPerRun(100, round); n != 0 {
		t.Errorf("%v allocations a round, want 0", n)
	}
	if p, ok := s.Period(0); !ok || p != int64(len(frames))*testMillisecond {
		t.Errorf("period %d %v, want %d ms", p, ok, len(frames))
	}
}
