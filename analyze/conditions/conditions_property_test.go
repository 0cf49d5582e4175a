package conditions

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"lull/analyze"
	"lull/analyze/streams"
	"lull/decode"
	"lull/pkg/bounds"
)

// The reference keeps every sample and works out each comparison, each joint and
// each stage anew from the whole list.

// seenSample is one valid sample; samples of one time stand together.
type seenSample struct {
	at     int64
	signal int
	value  float64
}

// stateSince is what something is after one step, and since when.
type stateSince struct {
	state analyze.Truth
	since bounds.Instant
}

// moment is one step of the reference: the samples of one time, or a signal that
// goes stale.
type moment struct {
	at    int64
	stale bool
}

type referenceRun struct {
	m       *decode.Map
	samples []seenSample
	limit   int64
	moments []moment
	joint   bool // the expression joins comparisons
}

func newReference(m *decode.Map, samples []seenSample, limit, end int64) *referenceRun {
	r := &referenceRun{m: m, samples: samples, limit: limit}
	last := map[int]int64{}
	for _, s := range samples {
		r.moments = append(r.moments, moment{at: s.at})
		if before, ok := last[s.signal]; ok && s.at-before > limit {
			r.moments = append(r.moments, moment{before + limit, true})
		}
		last[s.signal] = s.at
	}
	for _, at := range last {
		if end-at > limit {
			r.moments = append(r.moments, moment{at + limit, true})
		}
	}
	slices.SortFunc(r.moments, func(a, b moment) int {
		switch {
		case a.at != b.at:
			return int(a.at - b.at)
		case a.stale == b.stale:
			return 0
		case b.stale:
			return -1
		}
		return 1
	})
	r.moments = slices.Compact(r.moments)
	return r
}

// history returns what the expression is after each moment.
func (r *referenceRun) history(e *decode.Expr) []stateSince {
	out := make([]stateSince, len(r.moments))
	if len(e.Children) == 0 {
		return r.comparison(e, out)
	}
	var children [][]stateSince
	for _, child := range e.Children {
		children = append(children, r.history(child))
	}
	var before stateSince
	for i := range out {
		var now []stateSince
		for _, h := range children {
			now = append(now, h[i])
		}
		var state analyze.Truth
		switch e.Op {
		case decode.OpNot:
			state = [...]analyze.Truth{analyze.Unknown: analyze.Unknown, analyze.False: analyze.True, analyze.True: analyze.False}[now[0].state]
		case decode.OpAll: // Kleene: the least, with false < unknown < true
			state = kleenePick(now, func(a, b int) bool { return a < b })
		case decode.OpAny:
			state = kleenePick(now, func(a, b int) bool { return a > b })
		}
		out[i] = before
		if state != before.state {
			decisive := now
			pick := func(a, b int64) int64 { return max(a, b) }
			if e.Op == decode.OpAll && state == analyze.False || e.Op == decode.OpAny && state == analyze.True {
				decisive = slices.DeleteFunc(now, func(s stateSince) bool { return s.state != state })
				pick = func(a, b int64) int64 { return min(a, b) }
			}
			since := decisive[0].since
			for _, s := range decisive {
				since = bounds.Instant{Low: pick(since.Low, s.since.Low), T: pick(since.T, s.since.T), High: pick(since.High, s.since.High)}
			}
			out[i] = stateSince{state, since}
		}
		before = out[i]
	}
	return out
}

func kleenePick(list []stateSince, better func(a, b int) bool) analyze.Truth {
	order := func(t analyze.Truth) int { return [...]int{analyze.Unknown: 1, analyze.False: 0, analyze.True: 2}[t] }
	best := list[0].state
	for _, s := range list {
		if better(order(s.state), order(best)) {
			best = s.state
		}
	}
	return best
}

// comparison works out a leaf.
func (r *referenceRun) comparison(e *decode.Expr, out []stateSince) []stateSince {
	var mine []seenSample
	for _, s := range r.samples {
		if s.signal == e.Signal {
			mine = append(mine, s)
		}
	}
	for i, now := range r.moments {
		n := 0 // samples up to this moment
		for n < len(mine) && mine[n].at <= now.at {
			n++
		}
		var before stateSince
		if i > 0 {
			before = out[i-1]
		}
		out[i] = before
		switch {
		case n == 0:
		case now.stale && now.at-mine[n-1].at >= r.limit:
			if before.state != analyze.Unknown {
				out[i] = stateSince{analyze.Unknown, bounds.At(now.at)}
			}
		case mine[n-1].at == now.at && !now.stale:
			state := holds(e, mine[n-1].value)
			if state != before.state {
				out[i] = stateSince{state, r.change(e, mine[:n], state, before)}
				out[i].since.High = max(out[i].since.High, r.surely(e, mine, n-1))
			}
		}
	}
	return out
}

func holds(e *decode.Expr, v float64) analyze.Truth {
	var b bool
	switch e.Op {
	case decode.OpIs:
		b = slices.Contains(e.Numbers, v)
	case decode.OpIsNot:
		b = !slices.Contains(e.Numbers, v)
	case decode.OpAbove:
		b = v > e.A
	case decode.OpBelow:
		b = v < e.A
	case decode.OpAtLeast:
		b = v >= e.A
	case decode.OpAtMost:
		b = v <= e.A
	case decode.OpBetween:
		b = e.A <= v && v <= e.B
	case decode.OpOutside:
		b = v < e.A || v > e.B
	}
	if b {
		return analyze.True
	}
	return analyze.False
}

// change finds the instant of a change that the last of the samples shows.
func (r *referenceRun) change(e *decode.Expr, samples []seenSample, to analyze.Truth, before stateSince) bounds.Instant {
	n := len(samples) - 1
	at := samples[n].at
	// The run of samples alike before this one, and what was before it.
	if n == 0 || holds(e, samples[n-1].value) == to {
		return bounds.At(at)
	}
	start := n - 1
	for start > 0 && holds(e, samples[start-1].value) == holds(e, samples[n-1].value) {
		start--
	}
	signal := &r.m.Signals[e.Signal]
	var out bounds.Instant
	switch {
	case signal.IsSwitch() || e.Op == decode.OpIs || e.Op == decode.OpIsNot:
		low := samples[n-1].at
		if r.m.Entries[signal.Entry].OnChange {
			low = max(low, at-int64(r.m.Settings.EventDelay))
		}
		out = bounds.Midway(low, at)
	default:
		// Nothing lies before the low of the change at the start of the run.
		low := samples[start].at
		if start > 0 {
			low = r.change(e, samples[:start+1], holds(e, samples[start].value), stateSince{state: to}).Low
		}
		end := endCrossed(e, samples[n-1].value, samples[n].value)
		from := samples[n-1]
		half := signal.Scale.Step() / 2
		// A sample before the run that surely lies on this side of the end bounds
		// it too, as where a band was entered from its other end.
		for i := n - 1; i >= 0; i-- {
			v := samples[i].value
			sameSide := v != end && v > end == (samples[n-1].value > end || samples[n-1].value == end && samples[n].value < end)
			if sameSide && math.Abs(v-end) >= half {
				low = max(low, samples[i].at)
				if i >= start {
					from = samples[i]
				}
				break
			}
			// Beyond the band's other end is surely out of it as well.
			if other := e.A + e.B - end; !sameSide && (e.Op == decode.OpBetween || e.Op == decode.OpOutside) && math.Abs(v-other) >= half && (v > other) == (other > end) && (v-e.A)*(v-e.B) > 0 {
				low = max(low, samples[i].at)
				break
			}
		}
		share := (end - from.value) / (samples[n].value - from.value)
		t := from.at + int64(math.Round(share*float64(at-from.at)))
		out = bounds.Instant{Low: low, T: min(max(t, low), at), High: at}
	}
	if before.state == analyze.Unknown {
		out.T = max(out.T, before.since.T)
	}
	return out
}

// surely is when a change of an ordering comparison that is no part of another is sure:
// at the first sample from the one that showed it on that lies no nearer to the end that
// was crossed than half a step, as long as the state stays.
func (r *referenceRun) surely(e *decode.Expr, samples []seenSample, n int) int64 {
	signal := &r.m.Signals[e.Signal]
	if r.joint || signal.IsSwitch() || e.Op == decode.OpIs || e.Op == decode.OpIsNot ||
		n == 0 || holds(e, samples[n-1].value) == holds(e, samples[n].value) {
		return samples[n].at
	}
	end := endCrossed(e, samples[n-1].value, samples[n].value)
	for i := n; i < len(samples) && holds(e, samples[i].value) == holds(e, samples[n].value); i++ {
		if i > n && samples[i].at-samples[i-1].at > r.limit {
			break // it was not known in between
		}
		if math.Abs(samples[i].value-end) >= signal.Scale.Step()/2 {
			return samples[i].at
		}
	}
	return samples[n].at
}

// endCrossed is the threshold between two samples; of a band, the end at which the
// one out of it lies.
func endCrossed(e *decode.Expr, v, w float64) float64 {
	if e.Op != decode.OpBetween && e.Op != decode.OpOutside {
		return e.A
	}
	out := w
	if holds(e, v) == holds(&decode.Expr{Op: e.Op, A: e.A, B: e.B}, math.Inf(1)) {
		out = v
	}
	if out < e.A {
		return e.A
	}
	return e.B
}

// transitions of the whole condition.
func (r *referenceRun) transitions(k decode.Condition, end int64) []transition {
	var raw []stateSince
	lastLow, lastT := int64(math.MinInt64), int64(math.MinInt64)
	state := analyze.Unknown
	for _, h := range r.history(k.Expr) {
		if h.state == state {
			continue
		}
		state = h.state
		i := h.since
		i.Low, i.T = max(i.Low, lastLow), max(i.T, lastT)
		i.High = max(i.High, i.T)
		lastT = i.T
		if state != analyze.Unknown {
			lastLow = i.Low
		}
		raw = append(raw, stateSince{state, i})
	}
	// bridge
	for i := 1; i < len(raw); i++ {
		if raw[i-1].state != analyze.True {
			continue
		}
		for j := i; j < len(raw); j++ {
			if raw[j].state == analyze.True {
				if raw[j].since.T-raw[i].since.T < int64(k.Bridge) {
					raw = slices.Delete(raw, i, j+1)
					i--
				}
				break
			}
		}
	}
	// for
	var out []transition
	known, now := analyze.Unknown, analyze.Unknown
	emit := func(to analyze.Truth, at bounds.Instant) {
		if to == now {
			return
		}
		out = append(out, transition{From: now, To: to, Known: known, At: at})
		now = to
		if to != analyze.Unknown {
			known = to
		}
	}
	for i, h := range raw {
		until := end
		if i+1 < len(raw) {
			until = raw[i+1].since.T
		}
		if h.state != analyze.True || k.For == 0 {
			emit(h.state, h.since)
		} else if until-h.since.T >= int64(k.For) {
			emit(analyze.True, h.since.Shift(int64(k.For)))
		}
	}
	return out
}

func drawExpr(t *rapid.T, depth int) *decode.Expr {
	op := decode.Op(rapid.IntRange(0, 7).Draw(t, "op"))
	if depth > 0 {
		op = rapid.SampledFrom([]decode.Op{op, decode.OpAll, decode.OpAny, decode.OpNot}).Draw(t, "joint")
	}
	switch op {
	case decode.OpAll, decode.OpAny:
		e := joined(op)
		for range rapid.IntRange(1, 3).Draw(t, "children") {
			e.Children = append(e.Children, drawExpr(t, depth-1))
		}
		return e
	case decode.OpNot:
		return joined(op, drawExpr(t, depth-1))
	}
	e := &decode.Expr{Op: op, Signal: rapid.SampledFrom([]int{coolant, angle, brake, turn}).Draw(t, "signal")}
	switch op {
	case decode.OpIs, decode.OpIsNot:
		e.Numbers = rapid.SliceOfN(rapid.SampledFrom([]float64{0, 1, 2}), 1, 2).Draw(t, "numbers")
	default:
		e.A = rapid.SampledFrom([]float64{-1, 0, 0.25, 0.5, 1, 1.5}).Draw(t, "a")
		e.B = e.A + rapid.SampledFrom([]float64{0.5, 1, 2}).Draw(t, "width")
	}
	return e
}

// Streaming, with nothing kept but a few marks, agrees with the reference; all
// instants have low <= t <= high; and nothing is found before pendingUntil.
func TestConditionsAgreeWithTheWholeListOfSamples(t *testing.T) {
	changes, held := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		m := conditionMap()
		m.Settings.StaleAfter = 1000 * time.Hour
		condition := decode.Condition{Expr: drawExpr(t, 2)}
		stale := rapid.Bool().Draw(t, "stale")
		if stale {
			m.Settings.StaleAfter = 2 * time.Second
			m.Entries[1].OnChange = false // so that every signal can be stale
		}
		// With signals that go stale in a joint, what is held back may be let out
		// before a signal comes back and tells more.
		if !stale || len(condition.Expr.Children) == 0 {
			condition.Bridge = rapid.SampledFrom([]time.Duration{0, 300, 1000}).Draw(t, "bridge") * time.Millisecond
			condition.For = rapid.SampledFrom([]time.Duration{0, 200, 1500}).Draw(t, "for") * time.Millisecond
		}
		var samples []seenSample
		now := int64(0)
		for range rapid.IntRange(1, 30).Draw(t, "samples") {
			now += rapid.SampledFrom([]int64{0, 1, 5, 100, 250, 800, 3000}).Draw(t, "step") * testMillisecond
			s := seenSample{at: now, signal: rapid.SampledFrom([]int{coolant, angle, brake, turn}).Draw(t, "signal")}
			if slices.ContainsFunc(samples, func(o seenSample) bool { return o.at == s.at && o.signal == s.signal }) {
				continue
			}
			switch s.signal {
			case brake, turn:
				s.value = float64(rapid.IntRange(0, 1).Draw(t, "value"))
			default:
				s.value = float64(rapid.IntRange(-4, 6).Draw(t, "value")) / 2
			}
			samples = append(samples, s)
		}
		end := now + rapid.SampledFrom([]int64{0, 100, 4000}).Draw(t, "end")*testMillisecond
		calls := rapid.SliceOfN(rapid.IntRange(0, 2), len(samples), len(samples)).Draw(t, "calls")

		c := New(m, []decode.Condition{condition}, streams.New(m))
		var got []transition
		final := int64(0)
		collect := func() {
			for _, change := range c.Drain() {
				if !stale && change.At.T < final {
					t.Errorf("found a transition at %d after pendingUntil said %d: %+v", change.At.T, final, change)
				}
				got = append(got, change)
			}
			for _, sure := range c.Refined() {
				for i := len(got) - 1; i >= 0; i-- {
					if got[i].At.High == sure.Told {
						got[i].At.High = sure.High
						break
					}
				}
			}
		}
		for i, s := range samples {
			if i > 0 && calls[i] > 0 && s.at > samples[i-1].at {
				c.Advance(samples[i-1].at + (s.at-samples[i-1].at)/2)
				collect()
				if calls[i] > 1 {
					final = c.PendingUntil()
					if c.list[0].waits() {
						held++
					}
				}
			}
			c.Take(&decode.Sample{Time: s.at, Signal: s.signal, Value: s.value, Raw: int64(s.value), Valid: true})
		}
		collect()
		c.Finish(end)
		collect()

		limit := max(int64(m.Settings.StaleAfter), 0)
		var used []seenSample
		for _, s := range samples {
			if c.Uses(s.signal) {
				used = append(used, s)
			}
		}
		reference := newReference(m, used, limit, end)
		reference.joint = len(condition.Expr.Children) > 0
		want := reference.transitions(condition, end)
		for i := range min(len(got), len(want)) {
			// Of a joint the reference does not say when it is sure: at a sample after it.
			high, held := got[i].At.High, int64(0)
			if got[i].To == analyze.True {
				held = int64(condition.For)
			}
			if reference.joint && high > want[i].At.High && slices.ContainsFunc(used, func(s seenSample) bool { return s.at == high-held }) {
				want[i].At.High = high
			}
		}
		if diff := cmp.Diff(want, got, cmp.AllowUnexported(transition{})); diff != "" {
			t.Errorf("%s, bridge %v, for %v; transitions (-want +got):\n%s", exprText(condition.Expr), condition.Bridge, condition.For, diff)
		}
		for _, change := range got {
			if change.At.Low > change.At.T || change.At.T > change.At.High {
				t.Errorf("bounds out of order: %+v", change)
			}
		}
		changes += len(got)
	})
	if !testing.Short() && (changes < 100 || held == 0) { // usually 200 and 18; a short run draws a fifth
		t.Errorf("%d transitions and %d held back in all: the samples drawn exercise too little", changes, held)
	}
}

func exprText(e *decode.Expr) string {
	if len(e.Children) == 0 {
		return fmt.Sprintf("%s op%d %v %v %v", signalNames[e.Signal], e.Op, e.A, e.B, e.Numbers)
	}
	var parts []string
	for _, child := range e.Children {
		parts = append(parts, exprText(child))
	}
	return fmt.Sprintf("op%d(%s)", e.Op, strings.Join(parts, ", "))
}
