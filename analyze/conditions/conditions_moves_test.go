package conditions

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"lull/analyze"
	"lull/analyze/streams"
	"lull/decode"
)

func TestMovesIsHeldAgainstItsReference(t *testing.T) {
	moves := comparison(angle, decode.OpMoves, 15, 0)
	tests := []struct {
		name   string
		when   *decode.Expr
		script string
		want   string
	}{
		{"without a reference nothing has moved", moves,
			"0s angle=0; 1s angle=90; 4s", lines("unknown>false 0s", "false>unknown 3s")},
		{"from the last sample not after the moment", moves,
			"0s angle=0; 1s angle=10; 2s angle=20 rebase=1.5s; 3s angle=30",
			lines("unknown>false 0s", "false>true 2.5s [2s 3s]")},
		{"what came since is replayed", moves,
			"0s angle=0; 1s angle=10; 2s angle=40; 3s angle=40 rebase=1.5s",
			lines("unknown>false 0s", "false>true 1.75s [1.5s 2s]")},
		{"in either direction, at least that far", moves,
			"0s angle=0 rebase=0s; 1s angle=-15; 2s angle=-14.5; 3s angle=15",
			lines("unknown>false 0s", "false>true 1s [0s 1s]", "true>false 1s [0s 2s]", "false>true 3s [2s 3s]")},
		{"starts again from false", moves,
			"0s angle=0 rebase=0s; 1s angle=30; 2s angle=30; 2.5s rebase=2s; 3s angle=30; 4s angle=60",
			lines("unknown>false 0s", "false>true 500ms [0s 1s]", "true>false 2s", "false>true 3.5s [3s 4s]")},
		{"without a reference again", moves,
			"0s angle=0 rebase=0s; 1s angle=30; 2s angle=30 unbase; 3s angle=90",
			lines("unknown>false 0s", "false>true 500ms [0s 1s]", "true>false 2s")},
		{"not seen at the moment", moves,
			"1s angle=0; 2s angle=90 rebase=0.5s; 3s angle=0; 4s angle=0 unbase",
			lines("unknown>false 1s", "false>unknown 500ms", "unknown>false 4s, false")},
		{"stale at the moment", moves,
			"0s angle=0; 4s angle=90; 4.1s angle=90 rebase=3.9s; 4.2s angle=0",
			lines("unknown>false 0s", "false>unknown 2s", "unknown>false 4s, false", "false>unknown 3.9s")},
		{"stale since", moves,
			"0s angle=0; 5s rebase=1s; 6s angle=0; 7s unbase", lines("unknown>false 0s", "false>unknown 2s", "unknown>false 6s, false")},
		{"stale without a reference", moves,
			"0s angle=0 rebase=0s; 1s angle=50; 5s unbase; 6s angle=50",
			lines("unknown>false 0s", "false>true 300ms [0s 1s]", "true>unknown 3s", "unknown>false 6s, true")},
		{"stale for a while in what is replayed", moves,
			"0s angle=0; 5s angle=30; 6s rebase=1s",
			lines("unknown>false 0s", "false>unknown 2s", "unknown>false 5s, false", "false>unknown 2s", "unknown>true 3s [1s 5s], false")},
		{"rounding of decimals does not hide a move", comparison(level, decode.OpMoves, 0.2, 0),
			"0s level=0.3 rebase=0s; 1s level=0.1", lines("unknown>false 0s", "false>true 1s [0s 1s]")},
		{"a switch moves midway", comparison(gear, decode.OpMoves, 1, 0),
			"0s gear=0 rebase=0s; 1s gear=3", lines("unknown>false 0s", "false>true 500ms [0s 1s]")},
		{"two signals are replayed in order of time", joined(decode.OpAll, moves, comparison(coolant, decode.OpMoves, 2, 0), is(brake, 0)),
			"0s angle=0 coolant=0 brake=0; 1s angle=0 coolant=4; 1.5s angle=30 brake=0; 2s angle=0 coolant=0 rebase=0s",
			lines("unknown>false 0s", "false>true 1.25s [1s 1.5s]", "true>false 1.75s [1.5s 2s]")},
		{"other comparisons of the same signal stay as they are", joined(decode.OpAny, moves, comparison(angle, decode.OpAbove, 50, 0)),
			"0s angle=0; 1s angle=60; 2s angle=60 rebase=2s; 3s angle=60 rebase=1.5s; 4s angle=60 unbase",
			lines("unknown>false 0s", "false>true 833.333333ms [0s 1s]")},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			m := conditionMap()
			c := New(m, []decode.Condition{{Expr: test.when}}, streams.New(m))
			if diff := cmp.Diff(test.want, play(t, c, test.script)); diff != "" {
				t.Errorf("transitions (-want +got):\n%s", diff)
			}
		})
	}
}

func TestRebaseFurtherBackThanIsKeptStartsAtTheOldestSample(t *testing.T) {
	m := conditionMap()
	c := New(m, []decode.Condition{{Expr: comparison(angle, decode.OpMoves, 15, 0)}}, streams.New(m))
	const kept = int64(historyLength) * int64(time.Millisecond)
	for at := int64(0); at < 2*kept; at += int64(time.Millisecond) {
		v := 0.0
		if at >= kept {
			v = 100
		}
		c.Take(&decode.Sample{Time: at, Signal: angle, Value: v, Valid: true})
	}
	c.Drain()
	c.Rebase(0)
	if got := c.State(0); got != analyze.False || len(c.Drain()) != 0 {
		t.Errorf("state %v after a rebase to where all kept samples are alike, want False without a transition", got)
	}
	c.Rebase(kept - 1)
	if got := c.State(0); got != analyze.False {
		t.Errorf("state %v, want False: the sample before the step is just no longer kept", got)
	}
}
