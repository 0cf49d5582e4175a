package compare

import (
	"slices"

	"lull/analyze"
	"lull/decode"
	"lull/pkg/stats"
)

// Note is what the reader must know before believing a comparison, as data: whoever
// shows it puts the sentence together. It is one of the types below.
type Note interface{ note() }

// CountedOnce is a log of the same drive as another one of its side.
type CountedOnce struct {
	Log, As string
	Side    analyze.Order
}

// LeftOut is a log that cannot be used, and the gravest reason.
type LeftOut struct {
	Log   string
	Side  analyze.Order
	Doubt analyze.Doubt
}

// TwoVehicles says that the sides are of two vehicles.
type TwoVehicles Vehicles

// NoEpisode is a side without an episode.
type NoEpisode struct{ Side analyze.Order }

// Swapped names the last log of the side before, and one of the side after that was
// recorded earlier.
type Swapped struct{ Before, After string }

// Undated is a log without a date, so that nothing tells the order of the sides.
type Undated struct{ Log string }

// OnlyOneHas are roles that one of the two maps lacks.
type OnlyOneHas []decode.Role

// OtherUnits are signals of conditions to which the two maps give other units.
type OtherUnits []SignalUnits

// SignalUnits is a signal and its unit on either side.
type SignalUnits struct{ Signal, Before, After string }

// OtherLimits says that the limits of the two maps are not the same.
type OtherLimits struct{}

// OtherSettings says that the settings of the two maps are not the same.
type OtherSettings struct{}

// OtherMix is how many episodes of either side are of one kind: split ByOutcome changes
// of mind, ByRequest restarts that the driver asked for.
type OtherMix struct {
	By            By
	Before, After stats.Rate
}

func (CountedOnce) note()   {}
func (LeftOut) note()       {}
func (TwoVehicles) note()   {}
func (NoEpisode) note()     {}
func (Swapped) note()       {}
func (Undated) note()       {}
func (OnlyOneHas) note()    {}
func (OtherUnits) note()    {}
func (OtherLimits) note()   {}
func (OtherSettings) note() {}
func (OtherMix) note()      {}

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
func (c *Comparison) single(side analyze.Order, s Side) Side {
	single := Side{Map: s.Map}
	for i := range s.Logs {
		l := &s.Logs[i]
		if k := slices.IndexFunc(single.Logs, func(o analyze.Log) bool { return analyze.SameDrive(&o, l) }); k >= 0 {
			c.Notes = append(c.Notes, CountedOnce{Log: l.Name, As: single.Logs[k].Name, Side: side})
			continue
		}
		single.Logs = append(single.Logs, *l)
	}
	return single
}

// note notes what the reader must know before believing the comparison.
func (c *Comparison) note(before, after Side) {
	if c.Before.Episodes == 0 {
		c.Notes = append(c.Notes, NoEpisode{analyze.Before})
	}
	if c.After.Episodes == 0 {
		c.Notes = append(c.Notes, NoEpisode{analyze.After})
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
		c.Notes = append(c.Notes, Swapped{Before: last.Name, After: first.Name})
	case undated != "":
		c.Notes = append(c.Notes, Undated{undated})
	}
}

// noteMaps tells of maps that disagree.
func (c *Comparison) noteMaps(before, after *decode.Map) {
	var only OnlyOneHas
	var units OtherUnits
	for role := decode.NoRole + 1; role < decode.RoleCount; role++ {
		if (before.RoleSignal(role) == nil) != (after.RoleSignal(role) == nil) {
			only = append(only, role)
		}
	}
	if len(only) > 0 {
		c.Notes = append(c.Notes, only)
	}
	for _, i := range before.Circumstances {
		s := &before.Signals[i]
		for _, k := range after.Circumstances {
			if o := &after.Signals[k]; o.Name == s.Name && o.Unit != s.Unit {
				units = append(units, SignalUnits{Signal: s.Name, Before: s.Unit, After: o.Unit})
			}
		}
	}
	if len(units) > 0 {
		c.Notes = append(c.Notes, units)
	}
	if !sameLimits(before.Limits, after.Limits) {
		c.Notes = append(c.Notes, OtherLimits{})
	}
	a, b := before.Settings, after.Settings
	a.StarterLimit, b.StarterLimit = 0, 0 // nothing compared depends on it
	if a != b {
		c.Notes = append(c.Notes, OtherSettings{})
	}
}

// sameLimits reports whether two lists hold the same limits, in whatever order.
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
		by By
		is func(m *decode.Map, e *analyze.Episode) bool
	}{
		{ByOutcome, func(_ *decode.Map, e *analyze.Episode) bool { return e.Outcome == analyze.ChangeOfMind }},
		{ByRequest, func(m *decode.Map, e *analyze.Episode) bool {
			return e.Request != nil && m.Requests[e.Request.Condition].By == decode.ByDriver
		}},
	}
	for _, kind := range kinds {
		share := func(s Side) (r stats.Rate) {
			for i := range s.Logs {
				for j := range s.Logs[i].Result.Episodes {
					r.Of++
					if kind.is(s.Map, &s.Logs[i].Result.Episodes[j]) {
						r.Count++
					}
				}
			}
			return r
		}
		b, a := share(before), share(after)
		if d := float64(a.Count)/float64(a.Of) - float64(b.Count)/float64(b.Of); d >= mixDifference || d <= -mixDifference {
			c.Notes = append(c.Notes, OtherMix{By: kind.by, Before: b, After: a})
		}
	}
}
