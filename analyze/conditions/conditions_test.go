package conditions

import (
	"fmt"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"lull/analyze"
	"lull/analyze/streams"
	"lull/decode"
	"lull/pkg/bounds"
)

const testMillisecond = int64(1e6)

// The car of the condition tests: what its signals are called and what they do.
//
//	coolant, angle, level   cyclic, every 100 ms; steps 1, 0.5, none (a float)
//	brake, gear             the same, switches
//	turn, lux               on change, without a repeat; a switch, and step 1
//	belt                    on change, repeated every 2 s
const (
	coolant = iota
	angle
	level
	brake
	gear
	turn
	lux
	belt
)

var signalNames = []string{"coolant", "angle", "level", "brake", "gear", "turn", "lux", "belt"}

func conditionMap() *decode.Map {
	onOff := []decode.Label{{Raw: 0, Text: "off"}, {Raw: 1, Text: "on"}}
	half, err := decode.ParseScale("0.5", "")
	if err != nil {
		panic(err)
	}
	m := &decode.Map{
		Entries: []decode.Entry{
			{ID: 1, Period: 100 * time.Millisecond, Signals: []int{coolant, angle, level, brake, gear}},
			{ID: 2, OnChange: true, Signals: []int{turn, lux}},
			{ID: 3, OnChange: true, Period: 2 * time.Second, Signals: []int{belt}},
		},
		Signals: []decode.Signal{
			coolant: {Length: 8, Scale: decode.Identity},
			angle:   {Length: 16, Scale: half},
			level:   {Length: 32, Float: true, Scale: decode.Identity},
			brake:   {Length: 1, Scale: decode.Identity},
			gear:    {Length: 4, Labels: []decode.Label{{Raw: 0, Text: "P"}, {Raw: 3, Text: "D"}}, Scale: decode.Identity},
			turn:    {Length: 2, Entry: 1, Labels: onOff, Scale: decode.Identity},
			lux:     {Length: 8, Entry: 1, Scale: decode.Identity},
			belt:    {Length: 1, Entry: 2, Scale: decode.Identity},
		},
		Settings: decode.DefaultSettings(),
	}
	for i := range m.Signals {
		m.Signals[i].Name = signalNames[i]
	}
	return m
}

func comparison(signal int, op decode.Op, a, b float64) *decode.Expr {
	return &decode.Expr{Op: op, Signal: signal, A: a, B: b}
}

func is(signal int, n float64) *decode.Expr {
	return &decode.Expr{Op: decode.OpIs, Signal: signal, Numbers: []float64{n}}
}

func joined(op decode.Op, children ...*decode.Expr) *decode.Expr {
	return &decode.Expr{Op: op, Children: children}
}

// play runs a script of steps with ';' between, each a time and what comes then:
// "1s coolant=40 brake=1" samples, "!coolant" one that is not valid, nothing at all
// only time, and the words rebase=TIME, unbase, end and reset. It returns the
// transitions, one a line: "unknown>true 1s" where the instant is exact, else
// "false>true 1.5s [1s 2s]"; and after a comma the last known state where it is
// another than the one left. With several conditions each line begins with the
// number.
func play(t *testing.T, c *Set, script string) string {
	t.Helper()
	var out []string
	for _, step := range strings.Split(script, ";") {
		words := strings.Fields(step)
		if len(words) == 0 {
			continue
		}
		now := parseTime(t, words[0])
		if len(words) == 1 {
			c.Advance(now)
		}
		for _, word := range words[1:] {
			name, value, _ := strings.Cut(word, "=")
			switch name {
			case "rebase":
				c.Advance(now)
				c.Rebase(parseTime(t, value))
			case "unbase":
				c.Advance(now)
				c.Unbase()
			case "reset":
				c.Reset(now)
			case "end":
				c.Finish(now)
			default:
				s := decode.Sample{Time: now, Valid: !strings.HasPrefix(name, "!")}
				s.Signal = signalByName(t, strings.TrimPrefix(name, "!"))
				if s.Valid {
					v, err := strconv.ParseFloat(value, 64)
					if err != nil {
						t.Fatalf("script: %q: %v", word, err)
					}
					s.Value, s.Raw = v, int64(v)
				}
				c.Take(&s)
			}
		}
		for _, change := range c.Drain() {
			out = append(out, transitionText(change, len(c.list) > 1))
		}
	}
	return strings.Join(out, "\n")
}

func parseTime(t *testing.T, text string) int64 {
	t.Helper()
	d, err := time.ParseDuration(text)
	if err != nil {
		t.Fatalf("script: %v", err)
	}
	return int64(d)
}

func signalByName(t *testing.T, name string) int {
	t.Helper()
	for i, n := range signalNames {
		if n == name {
			return i
		}
	}
	t.Fatalf("script: no signal %q", name)
	return 0
}

var truthNames = map[analyze.Truth]string{analyze.Unknown: "unknown", analyze.False: "false", analyze.True: "true"}

func transitionText(change transition, numbered bool) string {
	text := truthNames[change.From] + ">" + truthNames[change.To] + " " + time.Duration(change.At.T).String()
	if change.At != bounds.At(change.At.T) {
		text += fmt.Sprintf(" [%v %v]", time.Duration(change.At.Low), time.Duration(change.At.High))
	}
	if change.Known != change.From {
		text += ", " + truthNames[change.Known]
	}
	if numbered {
		text = fmt.Sprintf("%d: %s", change.Condition, text)
	}
	return text
}

func lines(l ...string) string { return strings.Join(l, "\n") }

func TestConditionTransitions(t *testing.T) {
	const ms = time.Millisecond
	below40 := comparison(coolant, decode.OpBelow, 40, 0)
	tests := []struct {
		name         string
		when         *decode.Expr
		bridge, hold time.Duration
		script       string
		want         string
	}{
		{"first known at its own sample's time", below40, 0, 0,
			"3s coolant=35", "unknown>true 3s"},
		{"a crossing lies on the line between two samples", below40, 0, 0,
			"0s coolant=35; 1s coolant=45", lines("unknown>true 0s", "true>false 500ms [0s 1s]")},
		{"a sample on the threshold does not tell its side", below40, 0, 0,
			"0s coolant=42; 1s coolant=40; 2s coolant=38", lines("unknown>false 0s", "false>true 1s [0s 2s]")},
		{"exactly half a step tells its side", comparison(coolant, decode.OpBelow, 39.5, 0), 0, 0,
			"0s coolant=42; 1s coolant=40; 2s coolant=39", lines("unknown>false 0s", "false>true 1.5s [1s 2s]")},
		{"exactly half a step tells its side with a step that no float64 holds", comparison(angle, decode.OpBelow, 0.75, 0), 0, 0,
			"0s angle=5; 1s angle=1; 2s angle=0.5", lines("unknown>false 0s", "false>true 1.5s [1s 2s]")},
		{"exactly half a step tells its side from below too", comparison(coolant, decode.OpAbove, 40.5, 0), 0, 0,
			"0s coolant=38; 1s coolant=40; 2s coolant=41; 3s coolant=38", lines("unknown>false 0s", "false>true 1.5s [1s 2s]", "true>false 2.166666667s [2s 3s]")},
		{"a float has no step: its sample on the threshold tells", comparison(level, decode.OpBelow, 40, 0), 0, 0,
			"0s level=42; 1s level=40; 2s level=38", lines("unknown>false 0s", "false>true 1s [1s 2s]")},
		{"to and fro within half a step: nothing lies before the change before it", comparison(coolant, decode.OpAtMost, 40, 0), 0, 0,
			"0s coolant=42; 1s coolant=40; 2s coolant=40.25; 3s coolant=39",
			lines("unknown>false 0s", "false>true 1s [0s 1s]", "true>false 1s [0s 2s]", "false>true 2.2s [0s 3s]")},
		{"above", comparison(coolant, decode.OpAbove, 40, 0), 0, 0,
			"0s coolant=40; 1s coolant=44; 2s coolant=40", lines("unknown>false 0s", "false>true 0s [0s 1s]", "true>false 2s [1s 2s]")},
		{"at least", comparison(coolant, decode.OpAtLeast, 40, 0), 0, 0,
			"0s coolant=38; 1s coolant=40; 2s coolant=39", lines("unknown>false 0s", "false>true 1s [0s 1s]", "true>false 1s [0s 2s]")},
		{"between, left and entered at the end that was crossed", comparison(coolant, decode.OpBetween, 10, 20), 0, 0,
			"0s coolant=0; 1s coolant=15; 2s coolant=25; 3s coolant=15; 4s coolant=5",
			lines("unknown>false 0s", "false>true 666.666667ms [0s 1s]", "true>false 1.5s [1s 2s]", "false>true 2.5s [2s 3s]", "true>false 3.5s [3s 4s]")},
		{"a sample on the other end of the band tells its side of this end", comparison(coolant, decode.OpBetween, 10, 20), 0, 0,
			"0s coolant=10; 1s coolant=30", lines("unknown>true 0s", "true>false 500ms [0s 1s]")},
		{"where the other end was passed later, the last sample is the one to go by", comparison(coolant, decode.OpBetween, 10, 20), 0, 0,
			"0s coolant=30; 1s coolant=5; 2s coolant=20.25; 3s coolant=15", lines("unknown>false 0s", "false>true 2.047619048s [1s 3s]")},
		{"outside", comparison(angle, decode.OpOutside, -3, 3), 0, 0,
			"0s angle=-3; 1s angle=-5; 2s angle=5; 3s angle=1", lines("unknown>false 0s", "false>true 0s [0s 1s]", "true>false 2.5s [2s 3s]")},
		{"is on a number that is no switch lies midway", is(coolant, 7), 0, 0,
			"0s coolant=6; 1s coolant=7", lines("unknown>false 0s", "false>true 500ms [0s 1s]")},
		{"is not", &decode.Expr{Op: decode.OpIsNot, Signal: gear, Raws: []int64{0, 3}}, 0, 0,
			"0s gear=3; 1s gear=0; 2s gear=2", lines("unknown>false 0s", "false>true 1.5s [1s 2s]")},
		{"a switch lies midway, ordering comparisons too", comparison(gear, decode.OpAbove, 2, 0), 0, 0,
			"0s gear=0; 1s gear=0; 2s gear=15", lines("unknown>false 0s", "false>true 1.5s [1s 2s]")},
		{"sent on change: shortly before its frame, however far back the one before", is(turn, 1), 0, 0,
			"0s turn=0; 60s turn=1; 60.004s turn=0",
			lines("unknown>false 0s", "false>true 59.995s [59.99s 1m0s]", "true>false 1m0.002s [1m0s 1m0.004s]")},
		{"a continuous signal sent on change is a crossing", comparison(lux, decode.OpAbove, 5, 0), 0, 0,
			"0s lux=0; 60s lux=10", lines("unknown>false 0s", "false>true 30s [0s 1m0s]")},
		{"none moves nothing and was not seen", is(brake, 1), 0, 0,
			"0s brake=0; 1s !brake; 2s brake=1", lines("unknown>false 0s", "false>true 1s [0s 2s]")},
		{"not seen for longer than stale_after is unknown", is(brake, 1), 0, 0,
			"0s brake=1; 1s brake=1; 3s; 3.001s", lines("unknown>true 0s", "true>unknown 3s")},
		{"a none does not keep a signal known", is(brake, 1), 0, 0,
			"0s brake=1; 1s !brake; 2s !brake; 2.1s", lines("unknown>true 0s", "true>unknown 2s")},
		{"three periods where that is longer", is(belt, 1), 0, 0,
			"0s belt=1; 6s; 6.001s", lines("unknown>true 0s", "true>unknown 6s")},
		{"on change without a repeat is never stale", is(turn, 1), 0, 0,
			"0s turn=1; 5000s", "unknown>true 0s"},
		{"known again as it was", is(brake, 1), 0, 0,
			"0s brake=1; 9s brake=1", lines("unknown>true 0s", "true>unknown 2s", "unknown>true 9s, true")},
		{"known again and changed: from the last known sample on", is(brake, 1), 0, 0,
			"0s brake=0; 9s brake=1", lines("unknown>false 0s", "false>unknown 2s", "unknown>true 4.5s [0s 9s], false")},
		{"the best value does not lie before it was unknown", is(brake, 1), 0, 0,
			"0s brake=0; 2.2s brake=1", lines("unknown>false 0s", "false>unknown 2s", "unknown>true 2s [0s 2.2s], false")},
		{"time that runs back a little", is(brake, 1), 0, 0,
			"1s brake=0; 1.05s turn=0; 0.98s brake=1", lines("unknown>false 1s", "false>true 1s")},

		{"all: since the last", joined(decode.OpAll, is(brake, 1), is(turn, 1)), 0, 0,
			"0s brake=0 turn=0; 1s brake=1; 2s turn=1; 2.5s brake=1; 3s brake=0",
			lines("unknown>false 0s", "false>true 1.995s [1.99s 2s]", "true>false 2.75s [2.5s 3s]")},
		{"all: each bound is the later one", joined(decode.OpAll, below40, is(brake, 1)), 0, 0,
			"0s coolant=50 brake=0; 0.9s brake=0; 0.92s brake=1; 1s coolant=10",
			lines("unknown>false 0s", "false>true 910ms [900ms 1s]")},
		{"any: since the first", joined(decode.OpAny, is(brake, 1), is(turn, 1)), 0, 0,
			"0s brake=0 turn=0; 1s turn=1 brake=1", lines("unknown>false 0s", "false>true 500ms [0s 1s]")},
		{"two signals of one frame that change at once make no state between", joined(decode.OpAll, is(brake, 1), is(gear, 0)), 0, 0,
			"0s brake=0 gear=0; 1s brake=1 gear=3", "unknown>false 0s"},
		{"one found late does not lie before the one told already", joined(decode.OpAny, comparison(angle, decode.OpAbove, 10, 0), is(turn, 1)), 0, 0,
			"0s angle=0 turn=0; 0.5s turn=1; 0.7s turn=0; 1s angle=100",
			lines("unknown>false 0s", "false>true 495ms [490ms 500ms]", "true>false 695ms [690ms 700ms]", "false>true 695ms [690ms 1s]")},
		{"false and unknown is false, true and unknown is not known", joined(decode.OpAll, is(turn, 1), is(brake, 1)), 0, 0,
			"0s turn=0; 1s turn=1; 1.5s brake=1", lines("unknown>false 0s", "false>unknown 995ms [990ms 1s]", "unknown>true 1.5s, false")},
		{"true or unknown is true, false or unknown is not known", joined(decode.OpAny, is(turn, 1), is(brake, 1)), 0, 0,
			"0s turn=1; 1s turn=0; 1.5s brake=0", lines("unknown>true 0s", "true>unknown 995ms [990ms 1s]", "unknown>false 1.5s, true")},
		{"not", joined(decode.OpNot, is(turn, 1)), 0, 0,
			"0s turn=1; 1s turn=0", lines("unknown>false 0s", "false>true 995ms [990ms 1s]")},
		{"nested", joined(decode.OpNot, joined(decode.OpAny, is(turn, 1), joined(decode.OpAll, is(brake, 1), is(gear, 3)))), 0, 0,
			"0s turn=0 brake=1 gear=0; 1s gear=3", lines("unknown>true 0s", "true>false 500ms [0s 1s]")},

		// A turn lamp blinks 60 to 120 times a minute (UNECE Regulation 48,
		// 6.5.9, from memory): dark for 0.5 s at most.
		{"a blinking lamp is one truth", is(turn, 1), 800 * ms, 0,
			"0s turn=0; 1s turn=1; 1.4s turn=0; 1.8s turn=1; 2.2s turn=0; 2.6s turn=1; 3s turn=0; 3.8s; 4s",
			lines("unknown>false 0s", "false>true 995ms [990ms 1s]", "true>false 2.995s [2.99s 3s]")},
		{"a gap as long as the bridge counts", is(turn, 1), 800 * ms, 0,
			"0s turn=1; 1s turn=0; 1.8s turn=1; 9s", lines("unknown>true 0s", "true>false 995ms [990ms 1s]", "false>true 1.795s [1.79s 1.8s]")},
		{"the bridge waits for the sample that may still tell a rise in time", is(brake, 1), 800 * ms, 0,
			"0s brake=1; 1s brake=0; 1.3s brake=0; 1.4s; 2s brake=1; 3s brake=1; 3.2s brake=0; 3.9s brake=0; 4.1s brake=0; 4.6s brake=1",
			lines("unknown>true 0s", "true>false 500ms [0s 1s]", "false>true 1.65s [1.3s 2s]",
				"true>false 3.1s [3s 3.2s]", "false>true 4.35s [4.1s 4.6s]")},
		{"a rise found late can still lie within the bridge", is(brake, 1), 800 * ms, 0,
			"0s brake=1; 1s brake=1; 1.2s brake=0; 1.7s brake=0; 1.95s; 2s brake=1; 3s brake=1", "unknown>true 0s"},
		{"unknown in a bridge is a gap", is(brake, 1), 800 * ms, 0,
			"0s brake=1; 2.5s brake=1; 3s brake=1; 6s brake=1", lines("unknown>true 0s", "true>unknown 5s", "unknown>true 6s, true")},
		{"all that happened in a gap too long comes out in order", joined(decode.OpAll, is(turn, 1), is(brake, 1)), 5000 * ms, 0,
			"0s turn=1 brake=1; 1s brake=1; 2s turn=0; 4s turn=1; 20s",
			lines("unknown>true 0s", "true>false 1.995s [1.99s 2s]", "false>unknown 3.995s [3.99s 4s]")},
		{"the log's end in a gap: false from where it began", is(turn, 1), 800 * ms, 0,
			"0s turn=1; 1s turn=0; 1.2s end", lines("unknown>true 0s", "true>false 995ms [990ms 1s]")},
		{"for moves the instant", is(turn, 1), 0, 200 * ms,
			"0s turn=0; 1s turn=1; 1.1s; 1.3s", lines("unknown>false 0s", "false>true 1.195s [1.19s 1.2s]")},
		{"not as long as for was never true", is(turn, 1), 0, 200 * ms,
			"0s turn=0; 1s turn=1; 1.1s turn=0; 2s", "unknown>false 0s"},
		{"exactly as long as for was true", is(turn, 1), 0, 200 * ms,
			"0s turn=0; 1s turn=1; 1.2s turn=0",
			lines("unknown>false 0s", "false>true 1.195s [1.19s 1.2s]", "true>false 1.195s [1.19s 1.2s]")},
		{"before for has passed what was unknown is not yet known", is(turn, 1), 0, 200 * ms,
			"1s turn=1; 1.1s; 1.3s", "unknown>true 1.2s"},
		{"the log's end before for has passed", is(turn, 1), 0, 200 * ms,
			"0s turn=0; 1s turn=1; 1.1s end", "unknown>false 0s"},
		{"the log's end after for has passed", is(brake, 1), 0, 200 * ms,
			"0s brake=0; 1s brake=1; 1.3s end", lines("unknown>false 0s", "false>true 700ms [200ms 1.2s]")},
		{"the log's end when for has passed but no sample says so", is(brake, 1), 0, 600 * ms,
			"0s brake=0; 1s brake=1; 1.15s end", lines("unknown>false 0s", "false>true 1.1s [600ms 1.6s]")},
		{"a rise found late, after the bridge", below40, 800 * ms, 0,
			"0s coolant=38; 1s coolant=42; 2.5s coolant=36",
			lines("unknown>true 0s", "true>false 500ms [0s 1s]", "false>true 1.5s [1s 2.5s]")},
		{"a fall found late, after for", below40, 0, 1500 * ms,
			"0s coolant=42; 1s coolant=38; 3s coolant=41",
			lines("unknown>false 0s", "false>true 2s [1.5s 2.5s]", "true>false 2.333333333s [1s 3s]")},
		{"for counts over bridged gaps", is(turn, 1), 300 * ms, 1000 * ms,
			"0s turn=0; 1s turn=1; 1.4s turn=0; 1.5s turn=1; 1.9s turn=0; 2s; 2.1s turn=1; 2.2s",
			lines("unknown>false 0s", "false>true 1.995s [1.99s 2s]")},
		{"a gap open when for is due decides it", is(turn, 1), 300 * ms, 1000 * ms,
			"0s turn=0; 1s turn=1; 1.9s turn=0; 2.1s; 3s", "unknown>false 0s"},
		{"the log's end with both held back", is(turn, 1), 300 * ms, 1000 * ms,
			"0s turn=0; 1s turn=1; 2.1s turn=0; 2.2s end",
			lines("unknown>false 0s", "false>true 1.995s [1.99s 2s]", "true>false 2.095s [2.09s 2.1s]")},

		{"the clock set back forgets all", is(turn, 1), 300 * ms, 0,
			"5s turn=0; 6s turn=1; 6.1s turn=0; 1s reset; 2s turn=1",
			lines("unknown>false 5s", "false>true 5.995s [5.99s 6s]", "true>false 6.095s [6.09s 6.1s]", "false>unknown 1s", "unknown>true 2s")},
		{"a sample far back is the clock set back", is(turn, 1), 0, 0,
			"5s turn=0; 4.8s turn=1", lines("unknown>false 5s", "false>unknown 4.8s", "unknown>true 4.8s")},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			m := conditionMap()
			c := New(m, []decode.Condition{{Expr: test.when, Bridge: test.bridge, For: test.hold}}, streams.New(m))
			if diff := cmp.Diff(test.want, play(t, c, test.script)); diff != "" {
				t.Errorf("transitions (-want +got):\n%s", diff)
			}
		})
	}
}

func TestUnknownSignalsAreNamedInMapOrder(t *testing.T) {
	m := conditionMap()
	c := New(m, []decode.Condition{
		{Expr: joined(decode.OpAny, is(brake, 1), is(turn, 1), comparison(coolant, decode.OpBelow, 40, 0), comparison(coolant, decode.OpAbove, 90, 0))},
		{Expr: is(gear, 0)},
	}, streams.New(m))
	if diff := cmp.Diff([]int{coolant, brake, turn}, c.unknownSignals(0)); diff != "" {
		t.Errorf("never seen (-want +got):\n%s", diff)
	}
	if got := play(t, c, "0s brake=0 gear=0"); got != "1: unknown>true 0s" {
		t.Errorf("transitions %q", got)
	}
	if diff := cmp.Diff([]int{coolant, turn}, c.unknownSignals(0)); diff != "" {
		t.Errorf("brake seen (-want +got):\n%s", diff)
	}
	c.Take(&decode.Sample{Time: 1, Signal: coolant, Value: 50, Valid: true})
	if diff := cmp.Diff([]int{turn}, c.unknownSignals(0)); diff != "" {
		t.Errorf("coolant seen (-want +got):\n%s", diff)
	}
	play(t, c, "60s")
	if diff := cmp.Diff([]int{coolant, brake, turn}, c.unknownSignals(0)); diff != "" {
		t.Errorf("stale (-want +got):\n%s", diff)
	}
	if c.Uses(lux) || !c.Uses(coolant) {
		t.Errorf("uses(lux) %v, uses(coolant) %v; want false, true", c.Uses(lux), c.Uses(coolant))
	}
}

func TestPendingUntilLagsByWhatMayStillBeFound(t *testing.T) {
	const ms = time.Millisecond
	tests := []struct {
		name         string
		when         *decode.Expr
		bridge, hold time.Duration
		script       string
		want         time.Duration
	}{
		{"a switch: midway from its last sample", is(brake, 1), 0, 0, "0s brake=0; 1s brake=0; 1.5s", 1250 * ms},
		{"on change: half of event_delay", is(turn, 1), 0, 0, "0s turn=0; 60s", 60*time.Second - 5*ms},
		{"a crossing: the last sample that tells its side", comparison(coolant, decode.OpBelow, 40, 0), 0, 0, "0s coolant=44; 1s coolant=40; 1.5s", 0},
		{"within a band: the last that tells of either end", comparison(coolant, decode.OpBetween, 40, 50), 0, 0, "0s coolant=45; 0.5s coolant=46; 1s coolant=50; 1.5s", 500 * ms},
		{"beyond a band", comparison(coolant, decode.OpBetween, 40, 50), 0, 0, "0s coolant=45; 0.5s coolant=60; 1s coolant=55; 1.5s", 1000 * ms},
		{"no further back than stale_after", comparison(lux, decode.OpBelow, 40, 0), 0, 0, "0s lux=44; 60s", 58 * time.Second},
		{"unknown holds nothing back", is(brake, 1), 0, 0, "0s brake=0; 60s", 60 * time.Second},
		{"a fall held back", is(turn, 1), 800 * ms, 0, "0s turn=1; 1s turn=0; 1.5s", 995 * ms},
		{"a rise that has not lasted: what is sure is sure", is(turn, 1), 0, 800 * ms, "0s turn=0; 1s turn=1; 1.5s", 1495 * ms},
		{"moves: the last sample that tells", comparison(angle, decode.OpMoves, 15, 0), 0, 0, "0s angle=1 rebase=0s; 1s angle=1; 1.5s", 1000 * ms},
		{"moves without a reference", comparison(angle, decode.OpMoves, 15, 0), 0, 0, "0s angle=1; 1s", 1000 * ms},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			m := conditionMap()
			c := New(m, []decode.Condition{{Expr: test.when, Bridge: test.bridge, For: test.hold}}, streams.New(m))
			play(t, c, test.script)
			if got := time.Duration(c.PendingUntil()); got != test.want {
				t.Errorf("pendingUntil %v, want %v", got, test.want)
			}
		})
	}
}

func TestReadingOutTakesInTheSamplesOfThisMoment(t *testing.T) {
	m := conditionMap()
	c := New(m, []decode.Condition{{Expr: is(turn, 1)}}, streams.New(m))
	c.Take(&decode.Sample{Time: 5, Signal: turn, Value: 1, Raw: 1, Valid: true})
	if got := c.State(0); got != analyze.True {
		t.Errorf("state %v, want True", got)
	}
	c.Take(&decode.Sample{Time: 9, Signal: turn, Valid: true})
	if got := c.PendingUntil(); got != 9 {
		t.Errorf("pendingUntil %d, want 9", got)
	}
}

func TestConditionsDoNotAllocateInSteadyState(t *testing.T) {
	m := conditionMap()
	c := New(m, []decode.Condition{
		{Expr: joined(decode.OpAll, is(brake, 1), comparison(coolant, decode.OpBetween, 10, 20)), Bridge: 3, For: 2},
		{Expr: joined(decode.OpNot, is(turn, 1))},
		{Expr: comparison(angle, decode.OpMoves, 15, 0)},
	}, streams.New(m))
	now, changes := int64(0), 0
	step := func() {
		for i := range 8 {
			now += 7
			c.Advance(now)
			for _, signal := range []int{brake, coolant, turn, angle} {
				v := float64((i + signal) % 4 / 2)
				c.Take(&decode.Sample{Time: now, Signal: signal, Value: v * 15, Raw: int64(v), Valid: true})
			}
			changes += len(c.Drain())
		}
		c.Rebase(now - 10)
		c.Unbase()
	}
	for range 2 * historyLength / 8 {
		step()
	}
	if n := testing.AllocsPerRun(100, step); n != 0 {
		t.Errorf("%v allocations a round, want 0", n)
	}
	if changes < 1000 {
		t.Errorf("only %d transitions: the test does not exercise what it should", changes)
	}
}
