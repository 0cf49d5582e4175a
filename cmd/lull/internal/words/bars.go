package words

import (
	"fmt"
	"slices"

	"lull/analyze"
	"lull/analyze/measure"
	"lull/decode"
	"lull/pkg/stats"
)

// Measure is one measure of a sheet: its worst values beside their limit, or how often
// something was.
type Measure struct {
	Name  string
	Limit *decode.Limit // nil of a count
	// LimitText names the limit: "at most 0.6 s".
	LimitText string
	Bars      []MeasureBar
}

// MeasureBar is what a measure was on one side.
type MeasureBar struct {
	Side  string  // "before", "after"; "" where there is one
	Value float64 // of a count the share
	Text  string
	Bad   bool
}

// mostMeasures bounds the measures of a sheet.
const mostMeasures = 2

// Measures are those whose limits were broken, the likeliest cause first; of a sound drive what
// the driver waits for.
func (r *Report) Measures() []Measure {
	t := r.tally()
	names := t.brokenInOrder()
	if !t.wrong() && slices.Contains(t.limits.names, waitMetric) {
		names = []string{waitMetric}
	}
	var list []Measure
	for _, name := range names[:min(len(names), mostMeasures)] {
		for _, l := range r.Map.Limits {
			if l.Metric != name {
				continue
			}
			if bar, ok := r.worstBar("", l, stats.Rate{Count: t.broken.counts[name], Of: t.limits.counts[name]}); ok {
				list = append(list, limited(l, bar))
				break
			}
		}
	}
	return list
}

// worstBar is the value that lies furthest beyond a limit, or nearest to it; ok is false where
// there is none.
func (r *Report) worstBar(side string, l decode.Limit, broken stats.Rate) (bar MeasureBar, ok bool) {
	var worst analyze.MetricValue
	for _, log := range r.measuredLogs() {
		for k := range log.Result.Episodes {
			if m, known := MetricOf(log.Result.Episodes[k].Metrics, l.Metric); known && (!ok || beyond(m.Told(), l) > beyond(worst, l)) {
				worst, ok = m.Told(), true
			}
		}
	}
	return MeasureBar{Side: side, Value: worst.Best, Bad: broken.Count > 0, Text: worstText(worst, l, broken)}, ok
}

// waitMetric is what a driver waits for.
const waitMetric = "restart_latency"

func limited(l decode.Limit, bars ...MeasureBar) Measure {
	m, _ := measure.MetricByKey(l.Metric)
	return Measure{Name: sentenceCase(m.Text), Limit: &l, LimitText: wanted(l, m.Unit), Bars: bars}
}

// worstText is the worst value with how often the limit was broken.
func worstText(v analyze.MetricValue, l decode.Limit, broken stats.Rate) string {
	if broken.Count == 0 {
		return fmt.Sprintf("%s %s at worst", figure(v), v.Unit)
	}
	return fmt.Sprintf("%s %s at worst; out of limits %s times", brokenFigure(v, l), v.Unit, OfText(broken))
}

// Measures are what was wrong on either side, what people feel first; where nothing was, what
// the driver waits for.
func (c *CompareReport) Measures(before, after *Report) []Measure {
	wrongs := c.wrongs()
	if len(wrongs) == 0 {
		for i := range c.Limits {
			if l := &c.Limits[i]; l.Metric == waitMetric {
				wrongs = []wrong{{key: l.Metric, limit: &l.Limit, before: stats.Rate{Of: l.Before.Of()}, after: stats.Rate{Of: l.After.Of()}}}
			}
		}
	}
	var list []Measure
	for _, w := range wrongs {
		if len(list) == mostMeasures {
			break
		}
		if w.limit == nil {
			m := Measure{Name: sentenceCase(w.plain)}
			for _, s := range []struct {
				name string
				rate stats.Rate
			}{{sideBefore, w.before}, {sideAfter, w.after}} {
				m.Bars = append(m.Bars, MeasureBar{Side: s.name, Value: share(s.rate), Bad: s.rate.Count > 0, Text: OfText(s.rate) + " times"})
			}
			list = append(list, m)
			continue
		}
		was, known := before.worstBar(sideBefore, *w.limit, w.before)
		now, too := after.worstBar(sideAfter, *w.limit, w.after)
		if known && too {
			list = append(list, limited(*w.limit, was, now))
		}
	}
	return list
}

const sideBefore, sideAfter = "before", "after"

func share(r stats.Rate) float64 {
	if r.Of == 0 {
		return 0
	}
	return float64(r.Count) / float64(r.Of)
}
