// Package compare holds what was measured before a repair against what was
// measured after it: each metric, the shares of what went wrong, and whether the
// two sides were driven alike. It works on the values of the Results, unrounded;
// no number that comes out of it is infinite or not a number. Start with New.
package compare

import (
	"slices"

	"lull/analyze"
	"lull/analyze/measure"
	"lull/decode"
	"lull/pkg/stats"
)

// Side is all that was driven before the repair, or after it.
type Side struct {
	Map  *decode.Map
	Logs []analyze.Log
}

// Verdict is what a comparison came to.
type Verdict string

const (
	Better        Verdict = "better"
	Worse         Verdict = "worse"
	Changed       Verdict = "changed" // and neither direction is better
	NoChangeShown Verdict = "no change shown"
	TooFew        Verdict = "too few" // to show a change, however great
	Missing       Verdict = "missing" // on one side or both
)

// Confidence is that of all intervals.
const Confidence = 0.95

// By is how episodes are split into groups that are compared for themselves.
type By string

const (
	ByNothing By = ""
	ByOutcome By = "outcome"
	ByRequest By = "request"
)

// Comparison is the result of comparing two sides.
type Comparison struct {
	Before, After Count
	By            By
	Groups        []Group // one, without a name, where By is ByNothing
	// Family is how many metrics, of all groups, share one adjustment (Holm).
	Family int
	Limits []Limit
	Notes  []Note // what the reader must know before believing it
}

// Count is how much a side holds.
type Count struct {
	Logs     []string
	Episodes int
}

// Group is the episodes of one kind, or all of them.
type Group struct {
	Name          string
	Before        int // episodes
	After         int
	Metrics       []Metric
	Rates         []Rate
	Circumstances []Circumstance
}

// Sample is the values of one side.
type Sample struct {
	Values []float64 // in the order of the drives
	stats.Summary
}

// Metric is one metric on both sides. Shift, P and Method hold where both have a
// value, which all verdicts but Missing say; PHolm is 1 where the verdict is
// TooFew, as such a metric is no member of the family.
type Metric struct {
	measure.Metric
	Before, After Sample
	Shift         stats.Shift // after - before
	P, PHolm      float64
	Method        stats.Method
	Verdict       Verdict
	// Down tells that after lies lower, by ranks. It is what the verdict goes by: with
	// many equal values a change can be shown although the shift is 0.
	Down bool
}

// Rate is how often something was, of how many times it could have been.
type Rate struct {
	Key           string
	Better        string // "higher" or "lower"
	Before, After stats.Rate
	Difference    stats.Difference // after - before
	P, PHolm      float64
	Verdict       Verdict
}

// Circumstance is how a signal of the map's conditions stood at the stop onsets.
type Circumstance struct {
	Signal        string
	Unit          string
	Before, After Sample
	// Alike reports whether the two ranges overlap; it holds where Known.
	Alike, Known bool
}

// Limit is one limit held against both sides.
type Limit struct {
	decode.Limit
	Before, After Judged
}

// Judged counts the episodes by how they stand to a limit.
type Judged struct{ Inside, Borderline, Outside, Unseen int }

// Of is how many were judged: what was not seen was not.
func (j Judged) Of() int { return j.Inside + j.Borderline + j.Outside }

// New compares two sides. Logs that are on one side twice are counted once. What
// the reader should know beforehand is in Notes.
func New(before, after Side, by By) *Comparison {
	c := &Comparison{By: by}
	before, after = c.believed(analyze.Before, before), c.believed(analyze.After, after)
	before, after = c.single(analyze.Before, before), c.single(analyze.After, after)
	if v := VehiclesOf(before, after); v.Two() {
		c.Notes = append(c.Notes, TwoVehicles(v))
	}
	c.Before, c.After = count(before), count(after)
	c.note(before, after)
	names := groupNames(by, before, after)
	for _, name := range names {
		c.Groups = append(c.Groups, newGroup(name, pick(before, by, name), pick(after, by, name), by == ByNothing))
	}
	c.adjust()
	c.Limits = limits(before, after)
	return c
}

func count(s Side) Count {
	c := Count{Logs: []string{}}
	for _, l := range s.Logs {
		c.Logs = append(c.Logs, l.Name)
		c.Episodes += len(l.Result.Episodes)
	}
	return c
}

// picked is a side's episodes of one group. Standstills belong to no group.
type picked struct {
	Side
	episodes []pickedEpisode
}

type pickedEpisode struct {
	*analyze.Episode
	log *analyze.Log
}

func pick(s Side, by By, name string) picked {
	p := picked{Side: s}
	for i := range s.Logs {
		l := &s.Logs[i]
		for k := range l.Result.Episodes {
			if e := &l.Result.Episodes[k]; by == ByNothing || groupOf(s.Map, by, e) == name {
				p.episodes = append(p.episodes, pickedEpisode{e, l})
			}
		}
	}
	return p
}

// NoRequest names the group of episodes of which it is not known what asked for
// the restart.
const NoRequest = "no request known"

func groupOf(m *decode.Map, by By, e *analyze.Episode) string {
	switch {
	case by == ByOutcome:
		return string(e.Outcome)
	case e.Request == nil:
		return NoRequest
	}
	return m.Requests[e.Request.Condition].Name
}

// groupNames lists the groups that either side has: outcomes in their order,
// requests in that of the map before, then of the map after.
func groupNames(by By, before, after Side) []string {
	if by == ByNothing {
		return []string{""}
	}
	var order []string
	for _, o := range analyze.Outcomes {
		order = append(order, string(o))
	}
	if by == ByRequest {
		order = nil
		for _, m := range []*decode.Map{before.Map, after.Map} {
			for i := range m.Requests {
				order = append(order, m.Requests[i].Name)
			}
		}
		order = append(order, NoRequest)
	}
	has := map[string]bool{}
	for _, s := range []Side{before, after} {
		for i := range s.Logs {
			for k := range s.Logs[i].Result.Episodes {
				has[groupOf(s.Map, by, &s.Logs[i].Result.Episodes[k])] = true
			}
		}
	}
	var names []string
	for _, name := range order {
		if has[name] && !slices.Contains(names, name) {
			names = append(names, name)
		}
	}
	return names
}

func newGroup(name string, before, after picked, whole bool) Group {
	g := Group{Name: name, Before: len(before.episodes), After: len(after.episodes)}
	for _, m := range measure.Metrics {
		k := newMetric(m, values(before, m.Key), values(after, m.Key))
		if k.Before.N+k.After.N > 0 {
			g.Metrics = append(g.Metrics, k)
		}
	}
	g.Rates = rates(before, after, whole)
	g.Circumstances = circumstances(before, after)
	return g
}

func values(p picked, key string) []float64 {
	var list []float64
	for _, e := range p.episodes {
		if v := e.Metric(key); v.Known() {
			list = append(list, v.Best)
		}
	}
	return list
}

func newSample(values []float64) Sample {
	s := Sample{Values: values}
	s.Summary, _ = stats.Summarize(values)
	return s
}

func newMetric(m measure.Metric, before, after []float64) Metric {
	k := Metric{Metric: m, Before: newSample(before), After: newSample(after), PHolm: 1}
	shift, ok := stats.HodgesLehmann(before, after, Confidence)
	test, tested := stats.RankSum(before, after)
	if !ok || !tested {
		k.Verdict = Missing
		return k
	}
	k.Shift, k.P, k.Method, k.Down = shift, test.TwoSided, test.Method, test.Less < test.Greater
	if stats.TooFew(len(before), len(after)) {
		k.Verdict = TooFew
	}
	return k
}

// adjust makes the probabilities of each family, over all groups, honest about
// their number (Holm), and judges.
func (c *Comparison) adjust() {
	var metrics []*Metric
	var rates []*Rate
	for g := range c.Groups {
		for i := range c.Groups[g].Metrics {
			if m := &c.Groups[g].Metrics[i]; m.Verdict == "" {
				metrics = append(metrics, m)
			}
		}
		for i := range c.Groups[g].Rates {
			if r := &c.Groups[g].Rates[i]; r.Verdict == "" {
				rates = append(rates, r)
			}
		}
	}
	var p []float64
	for _, m := range metrics {
		p = append(p, m.P)
	}
	c.Family = len(metrics)
	adjusted, _ := stats.Holm(p)
	for i, m := range metrics {
		m.PHolm, m.Verdict = adjusted[i], verdict(adjusted[i], m.Down, m.Better)
	}
	p = nil
	for _, r := range rates {
		p = append(p, r.P)
	}
	adjusted, _ = stats.Holm(p)
	for i, r := range rates {
		r.PHolm, r.Verdict = adjusted[i], verdict(adjusted[i], r.Difference.Value < 0, r.Better)
	}
}

// Alone reports whether so many values a side can show a change of one metric of the
// family by itself. Where they cannot, not even sides that do not overlap are
// enough, unless other metrics of the family change more clearly.
func (c *Comparison) Alone(n, m int) bool {
	return stats.FullSeparation(n, m)*float64(c.Family) < stats.Significance
}

// Empty reports whether there is nothing, neither metric nor rate, that both sides
// have.
func (c *Comparison) Empty() bool {
	for i := range c.Groups {
		g := &c.Groups[i]
		if slices.ContainsFunc(g.Metrics, func(m Metric) bool { return m.Verdict != Missing }) ||
			slices.ContainsFunc(g.Rates, func(r Rate) bool { return r.Verdict != Missing }) {
			return false
		}
	}
	return true
}

// verdict judges by the sense of what is measured: down tells that it fell.
func verdict(p float64, down bool, better string) Verdict {
	switch {
	case p >= stats.Significance:
		return NoChangeShown
	case better == "":
		return Changed
	case down == (better == "lower"):
		return Better
	}
	return Worse
}
