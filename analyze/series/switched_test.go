package series

import (
	"testing"
	"time"

	"lull/analyze"
	"lull/analyze/streams"
	"lull/decode"
	"lull/pkg/bounds"
)

// switchStreams knows a frame that is sent on change and repeated with the period, 0: not
// at all. Nothing was recorded from 3 s to 5 s.
func switchStreams(period int64) *streams.Streams {
	s := streams.New(&decode.Map{Entries: []decode.Entry{{OnChange: true, Period: time.Duration(period)}}, Signals: make([]decode.Signal, 1), Settings: decode.DefaultSettings()})
	s.Gaps = streams.Gaps{analyze.Gap{Start: 3 * bounds.Second, End: 5 * bounds.Second}}
	return s
}

// A frame sent on change shows the change within 100 ms, unless one may be lost before it:
// in a gap, or as even repeats stayed away, of which five are missed here after a second.
func TestASwitchChangedShortlyBeforeTheFrameThatShowsItUnlessOneMayBeLost(t *testing.T) {
	const ms = bounds.Millisecond
	for _, test := range []struct {
		name                string
		period              int64
		before, shows, from int64 // ms
		delay               int64
	}{
		{"a cyclic frame", 0, 1000, 1500, 1000, -1},
		{"on change", 0, 1000, 1500, 1400, 100},
		{"on change, soon after the last", 0, 1450, 1500, 1450, 100},
		{"on change, long after the last", 0, 5000, 99_000, 98_900, 100},
		{"on change, a gap in between", 0, 2000, 6000, 3000, 100},
		{"on change, a gap just before", 0, 2000, 5050, 3000, 100},
		{"repeated, no repeat lost", 200, 1000, 2000, 1900, 100},
		{"repeated, repeats lost", 200, 1000, 2001, 1000, 100},
		{"stamps that run back", 0, 1500, 1450, 1450, 100},
	} {
		got := Changed(test.before*ms, test.shows*ms, test.delay*ms, switchStreams(test.period*ms), 0)
		if want := bounds.Midway(test.from*ms, test.shows*ms); got != want {
			t.Errorf("%s: %+v, want %+v", test.name, got, want)
		}
	}
}

func TestTheFirstSampleOfASwitchIsAnEdgeOnlyWhereFramesTellOfChanges(t *testing.T) {
	const ms = bounds.Millisecond
	type sample struct {
		at   int64
		on   bool
		edge int8
		when bounds.Instant
	}
	none := bounds.Instant{}
	for _, test := range []struct {
		name    string
		s       Switched
		samples []sample
	}{
		{"cyclic", Switched{Delay: -1}, []sample{{1000, true, 0, none}, {1100, true, 0, none}, {1200, false, -1, bounds.Midway(1100*ms, 1200*ms)}, {1300, true, 1, bounds.Midway(1200*ms, 1300*ms)}}},
		{"on change and repeated", Switched{Delay: 20 * ms}, []sample{{1000, true, 0, none}, {1200, false, -1, bounds.Midway(1180*ms, 1200*ms)}}},
		{"on change alone", Switched{Delay: 20 * ms, Events: true}, []sample{{1000, true, 1, bounds.Midway(980*ms, 1000*ms)}, {1200, true, 0, none}, {1300, false, -1, bounds.Midway(1280*ms, 1300*ms)}}},
		{"on change alone, off at first", Switched{Delay: 20 * ms, Events: true}, []sample{{1000, false, -1, bounds.Midway(980*ms, 1000*ms)}}},
	} {
		s := test.s
		s.Streams = switchStreams(0)
		fresh := s
		for i, x := range test.samples {
			edge, when := s.Add(x.at*ms, x.on)
			if edge != x.edge || when != x.when || !s.Seen || s.On != x.on || s.Last != x.at*ms {
				t.Errorf("%s, sample %d: %d at %+v, want %d at %+v", test.name, i, edge, when, x.edge, x.when)
			}
		}
		changed := false
		for _, x := range test.samples {
			changed = changed || x.edge != 0
		}
		if s.Changed != changed {
			t.Errorf("%s: changed %t", test.name, s.Changed)
		}
		if s.Reset(); s != fresh {
			t.Errorf("%s: %+v is left after a reset", test.name, s)
		}
	}
	if unseen := (&Switched{}).Unseen(0, bounds.Second); unseen != 0 {
		t.Errorf("of a switch that was never seen %d ns are missed", unseen)
	}
}
