package onelog_test

import (
	"cmp"
	"encoding/binary"
	"fmt"
	"math"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"time"

	"lull/analyze"
	"lull/decode"
	"lull/decode/sigmap"
	"lull/pkg/bounds"
)

// This file is a small language for drives. One line is one signal, its frame and
// its course:
//
//	rpm @10ms+3ms: 0s=800 10s=800 10.8s=0 20s=0 20.4s=900
//	stop @change:  0s=0 10s=1 20s=0
//	brake:         0s=pressed 19.9s=released
//
// Names and fields are those of the list signals. A frame comes every 10 ms from
// 0 on, or as @PERIOD+PHASE says; @change sends it only where the line has a point,
// @change/PERIOD repeats it too. ~TIME writes it to the log that much later than
// its stamp says, as an interface does that is drained now and then. Switches
// keep a point's value to the next point, all others go there in a straight line;
// after the last point the value stays. `-` is a frame that stays away, `none` a
// value that is not valid. A line without points is mapped and never sent.
//
// Lines with other words: `end: 30s` (else 3 s after the last point), `cut:
// 12s..14s` (nothing is recorded then), `back: 15s by 5s` (from there on all stamps
// are so much earlier).
//
// A map is made of the signals that the drive names; more of it (conditions,
// settings, limits) is given as YAML.

// signals are what a line may be: name, the map's text of its field, what it is
// scaled by, and whether it jumps from value to value.
var signals = []struct {
	name, field    string
	factor, offset float64
	bits           int
	steps          bool
}{
	{"rpm", "length: 16, factor: 0.25, unit: rpm, role: engine_speed, invalid: [0xFFFF]", 0.25, 0, 16, false},
	{"speed", "length: 16, factor: 0.01, unit: km/h, role: vehicle_speed", 0.01, 0, 16, false},
	{"volt", "length: 16, unit: mV, role: battery_voltage", 0.001, 0, 16, false},
	{"amp", "length: 16, signed: true, factor: 0.1, unit: A, role: battery_current", 0.1, 0, 16, false},
	{"fuel", "length: 16, factor: 0.01, unit: L/h, role: fuel_rate", 0.01, 0, 16, false},
	{"hold", "length: 16, unit: kPa, role: hold_pressure", 1, 0, 16, false},
	{"stop", "length: 8, role: stop_command, invalid: [0xFF]", 1, 0, 8, true},
	{"starter", "length: 8, role: starter_command", 1, 0, 8, true},
	{"key", "length: 8, role: ignition", 1, 0, 8, true},
	{"count", "length: 8, role: starter_count", 1, 0, 8, true},
	{"code", "length: 8, role: inhibit_code, values: {0: free, 4: battery weak, 5: vacuum weak}, clear: [0]", 1, 0, 8, true},
	{"brake", "length: 1, values: {0: released, 1: pressed}", 1, 0, 1, true},
	{"turn", "length: 2, values: {0: off, 1: left, 2: right}", 1, 0, 2, true},
	{"steer", "length: 16, signed: true, factor: 0.1, unit: deg", 0.1, 0, 16, false},
	{"charge", "length: 8, unit: \"%\"", 1, 0, 8, false},
	{"coolant", "length: 8, offset: -40, unit: degC, invalid: [0xFF]", 1, -40, 8, false},
	{"ac", "length: 1, values: {0: off, 1: on}", 1, 0, 1, true},
	{"body", "length: 8", 1, 0, 8, true},
}

// valueWords are labels that a line may use for numbers.
var valueWords = map[string]float64{
	"released": 0, "pressed": 1, "off": 0, "on": 1, "left": 1, "right": 2, "-": math.Inf(1), "none": math.NaN(),
}

// knot is one point of a line; Inf is a frame that stays away, NaN a value that
// is not valid.
type knot struct {
	at int64
	v  float64
}

type line struct {
	signal        int // of signals
	period, phase int64
	change        bool
	late          int64
	knots         []knot
}

// drive is a parsed one: its map, and its frames in the order of the log.
type drive struct {
	m      *decode.Map
	frames []decode.Frame
}

// failer is what a testing.TB and a rapid.T have in common.
type failer interface {
	Helper()
	Errorf(format string, args ...any)
	Fatalf(format string, args ...any)
}

// epoch is the time of the first frame of every drive.
const epoch = int64(1_700_000_000e9)

func duration(text string) int64 {
	d, err := time.ParseDuration(text)
	if err != nil {
		panic(err)
	}
	return int64(d)
}

// parseDrive reads a drive; more is YAML that its map gets too.
func parseDrive(t failer, text, more string) drive {
	t.Helper()
	var lines []line
	var cuts [][2]int64
	var backAt, backBy, end int64
	for _, row := range strings.Split(text, "\n") {
		head, rest, ok := strings.Cut(strings.TrimSpace(row), ":")
		if !ok {
			continue
		}
		words := strings.Fields(rest)
		switch head {
		case "end":
			end = duration(words[0])
			continue
		case "cut":
			for _, w := range words {
				from, to, _ := strings.Cut(w, "..")
				cuts = append(cuts, [2]int64{duration(from), duration(to)})
			}
			continue
		case "back":
			backAt, backBy = duration(words[0]), duration(words[2])
			continue
		}
		lines = append(lines, parseLine(t, head, words))
	}
	if end == 0 {
		for _, l := range lines {
			for _, k := range l.knots {
				end = max(end, k.at+3e9)
			}
		}
	}

	d := drive{m: mapOf(t, lines, more)}
	type placed struct {
		place int64
		frame decode.Frame
	}
	var all []placed
	for _, l := range lines {
		for _, at := range l.times(end) {
			f, sent := l.frame(at)
			out := slices.ContainsFunc(cuts, func(c [2]int64) bool { return at > c[0] && at < c[1] })
			if sent && !out {
				all = append(all, placed{at + l.late, f})
			}
		}
	}
	slices.SortStableFunc(all, func(a, b placed) int { return cmp.Compare(a.place, b.place) })
	for i, p := range all {
		p.frame.Line = int64(i + 1)
		if backBy != 0 && p.place >= backAt {
			p.frame.Time -= backBy
		}
		d.frames = append(d.frames, p.frame)
	}
	return d
}

func parseLine(t failer, head string, words []string) line {
	t.Helper()
	parts := strings.Fields(head)
	l := line{signal: -1, period: 10e6}
	for i := range signals {
		if signals[i].name == parts[0] {
			l.signal = i
		}
	}
	if l.signal < 0 {
		t.Fatalf("no signal %q", parts[0])
	}
	for _, p := range parts[1:] {
		switch {
		case p[0] == '~':
			l.late = duration(p[1:])
		case strings.HasPrefix(p, "@change"):
			l.change, l.period = true, 0
			if _, repeat, ok := strings.Cut(p, "/"); ok {
				l.period = duration(repeat)
			}
		default:
			period, phase, shifted := strings.Cut(strings.TrimPrefix(p, "@"), "+")
			l.period = duration(period)
			if shifted {
				l.phase = duration(phase)
			}
		}
	}
	for _, w := range words {
		at, value, _ := strings.Cut(w, "=")
		v, known := valueWords[value]
		if !known {
			var err error
			if v, err = strconv.ParseFloat(value, 64); err != nil {
				t.Fatalf("%v", err)
			}
		}
		l.knots = append(l.knots, knot{duration(at), v})
	}
	return l
}

// times are those of a line's frames up to the end.
func (l *line) times(end int64) []int64 {
	var all []int64
	if l.change {
		for _, k := range l.knots {
			all = append(all, k.at)
		}
	}
	if l.period > 0 && len(l.knots) > 0 {
		for at := l.phase; at <= end; at += l.period {
			all = append(all, at)
		}
	}
	slices.Sort(all)
	return slices.Compact(all)
}

// frame is the line's frame at a time, if one is sent then.
func (l *line) frame(at int64) (decode.Frame, bool) {
	s := &signals[l.signal]
	f := decode.Frame{Time: epoch + at, Bus: "can0", ID: 0x100 + uint32(l.signal), Len: 2}
	i := len(l.knots) - 1
	for i >= 0 && l.knots[i].at > at {
		i--
	}
	if i < 0 || math.IsInf(l.knots[i].v, 1) {
		return f, false
	}
	v := l.knots[i].v
	if next := i + 1; !s.steps && next < len(l.knots) {
		a, b := l.knots[i], l.knots[next]
		if !math.IsInf(b.v, 1) && !math.IsNaN(a.v) && !math.IsNaN(b.v) {
			v = a.v + (b.v-a.v)*float64(at-a.at)/float64(b.at-a.at)
		}
	}
	raw := uint64(math.MaxUint64)
	if !math.IsNaN(v) {
		raw = uint64(int64(math.Round((v - s.offset) / s.factor)))
	}
	binary.LittleEndian.PutUint64(f.Data[:], raw&(1<<s.bits-1))
	return f, true
}

// mapOf makes the map of the lines.
func mapOf(t failer, lines []line, more string) *decode.Map {
	t.Helper()
	var b strings.Builder
	b.WriteString("format: 1\nframes:\n")
	for _, l := range lines {
		s := &signals[l.signal]
		fmt.Fprintf(&b, "  - id: 0x%03X\n", 0x100+l.signal)
		if s.name == "body" {
			b.WriteString("    module: body unit\n")
		}
		if l.change {
			b.WriteString("    sent: on_change\n")
			if l.period > 0 {
				fmt.Fprintf(&b, "    period: %dms\n", l.period/1e6)
			}
		}
		fmt.Fprintf(&b, "    signals: {%s: {start: 0, %s}}\n", s.name, s.field)
	}
	b.WriteString(more)
	m, err := sigmap.Parse("car.yaml", []byte(b.String()))
	if err != nil {
		t.Fatalf("%v\n%s", err, b.String())
	}
	return m
}

// run measures a drive.
func (d *drive) run() *analyze.Result { return bothWays(d.m, d.frames) }

func seconds(t int64) string { return fmt.Sprintf("%.3f", bounds.Seconds(t)) }

// tell writes an episode in one line: its outcome, then what was reached, with
// its best value.
func tell(m *decode.Map, e *analyze.Episode) string {
	var b strings.Builder
	event := func(name string, v analyze.Event) { fmt.Fprintf(&b, " %s %s %s;", name, seconds(v.T), v.From) }
	request := func(name string, q analyze.Request) {
		fmt.Fprintf(&b, " %s %s %s;", name, seconds(q.T), m.Requests[q.Condition].Name)
	}
	b.WriteString(string(e.Outcome) + ":")
	event("stop", e.Stop)
	if e.Rest != nil {
		fmt.Fprintf(&b, " rest %s;", seconds(e.Rest.T))
	}
	if e.Request != nil {
		request("request", *e.Request)
	}
	for _, q := range e.Also {
		request("also", q)
	}
	if e.Decision != nil {
		event("decision", *e.Decision)
	}
	for _, c := range e.Cranks {
		event("crank", c)
	}
	if e.Running != nil {
		fmt.Fprintf(&b, " running %s;", seconds(e.Running.T))
	}
	for _, n := range e.Notes {
		fmt.Fprintf(&b, " note %s;", tellData(n))
	}
	return strings.TrimRight(b.String(), ";:")
}

// tellAll writes all episodes, one a line.
func tellAll(m *decode.Map, res *analyze.Result) string {
	var b strings.Builder
	for i := range res.Episodes {
		b.WriteString(tell(m, &res.Episodes[i]) + "\n")
	}
	return b.String()
}

// tellStarts writes all starter operations, one a line.
func tellStarts(res *analyze.Result) string {
	var b strings.Builder
	for _, s := range res.Starts {
		fmt.Fprintf(&b, "%s %s %s", s.Kind, seconds(s.Crank.T), s.Crank.From)
		if s.Episode != 0 {
			fmt.Fprintf(&b, " of %d", s.Episode)
		}
		if s.Running != nil {
			fmt.Fprintf(&b, " running %s", seconds(s.Running.T))
		}
		b.WriteString("\n")
	}
	return b.String()
}

// tellStandstills writes all standstills, one a line.
func tellStandstills(m *decode.Map, res *analyze.Result) string {
	var b strings.Builder
	for _, s := range res.Standstills {
		fmt.Fprintf(&b, "%s..%s", seconds(s.Start.T), seconds(s.End.T))
		for _, is := range []struct {
			it   bool
			word string
		}{{s.Open, " open"}, {s.Opportunity, " opportunity"}, {s.Stopped, fmt.Sprintf(" stopped by %d", s.Episode)}, {s.Unexplained, " unexplained"}} {
			if is.it {
				b.WriteString(is.word)
			}
		}
		if s.StopDelay != nil {
			fmt.Fprintf(&b, " after %.3f", s.StopDelay.Best)
		}
		for _, i := range s.Inhibits {
			fmt.Fprintf(&b, "; %s %s %.3f", m.Inhibits[i.Condition].Name, i.State, i.Share)
			for _, v := range i.Intervals {
				fmt.Fprintf(&b, " %s..%s", seconds(v[0]), seconds(v[1]))
			}
		}
		for _, c := range s.Codes {
			fmt.Fprintf(&b, "; code %q %.3f", c.Name, c.Share)
			for _, v := range c.Intervals {
				fmt.Fprintf(&b, " %s..%s", seconds(v[0]), seconds(v[1]))
			}
		}
		fmt.Fprintf(&b, "; covered %.3f", s.Covered)
		if s.Reason != "" {
			fmt.Fprintf(&b, "; reason %s", s.Reason)
		}
		if len(s.CannotTell) > 0 {
			fmt.Fprintf(&b, "; cannot tell %s", strings.Join(s.CannotTell, ", "))
		}
		b.WriteString("\n")
	}
	return b.String()
}

// tellFindings writes all findings, one a line.
func tellFindings(res *analyze.Result) string {
	var b strings.Builder
	for _, f := range res.Findings {
		fmt.Fprintf(&b, "%s %s %v: %s\n", f.Severity, f.Code, f.Evidence, tellData(f.About))
	}
	return b.String()
}

// tellData writes what a finding or a note says: the name of its type, and what in it is not zero.
func tellData(data any) string {
	v := reflect.ValueOf(data)
	return v.Type().Name() + " " + tellValue(v)
}

func tellValue(v reflect.Value) string {
	switch x := v.Interface().(type) {
	case analyze.MetricValue:
		return fmt.Sprintf("%s %.4g..%.4g..%.4g %s", x.Key, x.Low, x.Best, x.High, x.Unit)
	case analyze.Silence:
		return strings.TrimSpace(fmt.Sprintf("%s %s %s..%s %s", x.Bus, x.ID, seconds(x.Start), seconds(x.Start+x.Duration), x.Module))
	case decode.Role:
		return x.String()
	case float64:
		return fmt.Sprintf("%.5g", x)
	case int64:
		if x > 1e6 {
			return seconds(x)
		}
	}
	var parts []string
	switch v.Kind() {
	case reflect.Struct:
		for i := range v.NumField() {
			if field := v.Type().Field(i).Name; !v.Field(i).IsZero() {
				parts = append(parts, field+":"+tellValue(v.Field(i)))
			}
		}
		return "{" + strings.Join(parts, " ") + "}"
	case reflect.Slice:
		for i := range v.Len() {
			parts = append(parts, tellValue(v.Index(i)))
		}
		return "[" + strings.Join(parts, ", ") + "]"
	}
	return fmt.Sprint(v.Interface())
}

// rows takes the indentation off expected lines.
func rows(text string) string {
	var b strings.Builder
	for _, row := range strings.Split(text, "\n") {
		if row = strings.TrimSpace(row); row != "" {
			b.WriteString(row + "\n")
		}
	}
	return b.String()
}
