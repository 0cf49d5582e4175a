package compare

import (
	"fmt"
	"slices"
	"strings"

	"lull/analyze"
	"lull/decode"
)

// SameLog finds a log that is on both sides; a comparison of it with itself tells
// nothing.
func SameLog(before, after Side) (name, other string, found bool) {
	for i := range before.Logs {
		for k := range after.Logs {
			if analyze.SameDrive(&before.Logs[i], &after.Logs[k]) {
				return before.Logs[i].Name, after.Logs[k].Name, true
			}
		}
	}
	return "", "", false
}

// single leaves out logs that the side has already.
func (c *Comparison) single(side string, s Side) Side {
	single := Side{Map: s.Map}
	for i := range s.Logs {
		l := &s.Logs[i]
		if k := slices.IndexFunc(single.Logs, func(o analyze.Log) bool { return analyze.SameDrive(&o, l) }); k >= 0 {
			c.add("%s is the same drive as %s, both of them %s: it is counted once", l.Name, single.Logs[k].Name, side)
			continue
		}
		single.Logs = append(single.Logs, *l)
	}
	return single
}

func (c *Comparison) add(format string, args ...any) {
	c.Notes = append(c.Notes, fmt.Sprintf(format, args...))
}

// note says what the reader must know before believing the comparison.
func (c *Comparison) note(before, after Side) {
	for _, s := range []struct {
		name string
		n    int
	}{{"before", c.Before.Episodes}, {"after", c.After.Episodes}} {
		if s.n == 0 {
			c.add("there is no episode on the side %s, so nothing of a restart can be compared: drive so that the engine stops, and record again", s.name)
		}
	}
	c.noteOrder(before, after)
	if before.Map != after.Map {
		c.noteMaps(before.Map, after.Map)
	}
	if c.By == ByNothing && c.Before.Episodes > 0 && c.After.Episodes > 0 {
		c.noteMix(before, after)
	}
}

// noteOrder tells of sides that may be swapped.
func (c *Comparison) noteOrder(before, after Side) {
	var last, first *analyze.Log
	undated := ""
	for i := range before.Logs {
		l := &before.Logs[i]
		switch {
		case !l.Result.Dated():
			undated = l.Name
		case last == nil || l.Result.Start > last.Result.Start:
			last = l
		}
	}
	for i := range after.Logs {
		l := &after.Logs[i]
		switch {
		case !l.Result.Dated():
			undated = l.Name
		case first == nil || l.Result.Start < first.Result.Start:
			first = l
		}
	}
	switch {
	case last != nil && first != nil && first.Result.Start < last.Result.Start:
		c.add("%s, which is given as after, was recorded earlier than %s, which is given as before: are the sides swapped?", first.Name, last.Name)
	case undated != "":
		c.add("%s carries no date, so whether the sides are in order cannot be checked", undated)
	}
}

// noteMaps tells of maps that disagree.
func (c *Comparison) noteMaps(before, after *decode.Map) {
	var only, units []string
	for role := decode.NoRole + 1; role < decode.RoleCount; role++ {
		if (before.RoleSignal(role) == nil) != (after.RoleSignal(role) == nil) {
			only = append(only, role.String())
		}
	}
	if len(only) > 0 {
		c.add("only one of the two maps has %s: what is measured by it is missing on the other side", strings.Join(only, ", "))
	}
	for _, i := range before.Circumstances {
		s := &before.Signals[i]
		for _, k := range after.Circumstances {
			if o := &after.Signals[k]; o.Name == s.Name && o.Unit != s.Unit {
				units = append(units, fmt.Sprintf("%s (%s and %s)", s.Name, s.Unit, o.Unit))
			}
		}
	}
	if len(units) > 0 {
		c.add("the two maps give other units for %s: whether the sides were driven alike cannot be told by it", strings.Join(units, ", "))
	}
	if !sameLimits(before.Limits, after.Limits) {
		c.add("the two maps have different limits: each side is judged by its own")
	}
	a, b := before.Settings, after.Settings
	a.StarterLimit, b.StarterLimit = 0, 0 // nothing compared depends on it
	if a != b {
		c.add("the two maps have different settings: what is measured does not mean the same on both sides; give both maps the same settings")
	}
}

// sameLimits tells whether two lists hold the same limits, in whatever order.
func sameLimits(a, b []decode.Limit) bool {
	return len(a) == len(b) && !slices.ContainsFunc(a, func(l decode.Limit) bool { return !slices.Contains(b, l) })
}

// mixDifference is from which difference of shares on a kind of episode counts as
// mixed differently (common practice, no source).
const mixDifference = 0.25

// noteMix tells of sides with other kinds of episodes, whose values differ for
// that alone.
func (c *Comparison) noteMix(before, after Side) {
	kinds := []struct {
		text string
		by   By
		is   func(m *decode.Map, e *analyze.Episode) bool
	}{
		{"restarts asked for before the engine rested", ByOutcome, func(_ *decode.Map, e *analyze.Episode) bool { return e.Outcome == analyze.ChangeOfMind }},
		{"restarts that the driver asked for", ByRequest, func(m *decode.Map, e *analyze.Episode) bool {
			return e.Request != nil && m.Requests[e.Request.Condition].By == decode.ByDriver
		}},
	}
	for _, kind := range kinds {
		share := func(s Side) (k, n int) {
			for i := range s.Logs {
				for j := range s.Logs[i].Result.Episodes {
					n++
					if kind.is(s.Map, &s.Logs[i].Result.Episodes[j]) {
						k++
					}
				}
			}
			return k, n
		}
		b, n := share(before)
		a, m := share(after)
		if d := float64(a)/float64(m) - float64(b)/float64(n); d >= mixDifference || d <= -mixDifference {
			c.add("the sides are mixed differently: %s are %d of %d before and %d of %d after; --by %s compares like with like", kind.text, b, n, a, m, kind.by)
		}
	}
}
