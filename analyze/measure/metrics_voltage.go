package measure

import (
	"cmp"
	"math"

	"lull/analyze"
	"lull/analyze/series"
	"lull/decode"
	"lull/pkg/bounds"
	"lull/pkg/stats"
)

const (
	// earliestLead is the longest lead.
	earliestLead = 300 * bounds.Millisecond
	// startReaches is how long after running a start's current may still be seen.
	startReaches = 500 * bounds.Millisecond
)

// lead is how long before the crank onset the voltage windows reach: current
// flows before the engine turns, so an onset taken from the engine speed is
// late.
func (w *windows) lead() int64 {
	if w.from.From == decode.EngineSpeed {
		return earliestLead
	}
	return 50 * bounds.Millisecond
}

func voltageBefore(r *Measurer, w *windows) analyze.MetricValue {
	if w.from == nil {
		return Absent(w.whyNoStart())
	}
	return r.medianOf(decode.BatteryVoltage, plain(w.from.Low-w.lead()-bounds.Second, w.from.High-w.lead(), bounds.Second, w.lostBefore))
}

// StartWindow is the window of voltage_min, and how long it is likeliest to be.
func (w *windows) StartWindow() (low, high, length int64) {
	after := int64(0)
	if w.running != nil {
		after = startReaches
	}
	return w.from.Low - w.lead(), w.end.High + after, w.end.T + after - w.from.T + w.lead()
}

// startReach is the same; the voltage falls while the starter turns.
func (w *windows) startReach() reach {
	low, high, length := w.StartWindow()
	return reach{
		low: low, high: high, length: length, lost: w.lost(),
		core:   bounds.Span{From: w.from.Low, To: w.end.High},
		sure:   bounds.Span{From: w.from.High, To: w.end.Low},
		likely: bounds.Span{From: w.from.T, To: w.end.T},
	}
}

func voltageMin(r *Measurer, w *windows) analyze.MetricValue {
	return r.lowestWhileStarting(decode.BatteryVoltage, w)
}

func moduleSupplyMin(r *Measurer, w *windows) analyze.MetricValue {
	return r.lowestWhileStarting(decode.ModuleSupply, w)
}

func (r *Measurer) lowestWhileStarting(role decode.Role, w *windows) analyze.MetricValue {
	if w.from == nil {
		return Absent(w.whyNoStart())
	}
	return r.extremeOf(role, w.startReach(), -1)
}

func voltageDip(r *Measurer, w *windows) analyze.MetricValue {
	before := voltageBefore(r, w)
	if !before.HasSampling {
		return before
	}
	lowest := voltageMin(r, w)
	if !lowest.HasSampling {
		return lowest
	}
	return analyze.MetricValue{
		Absent:   cmp.Or(before.Absent, lowest.Absent),
		Value:    before.Value.Minus(lowest.Value),
		Sampling: lowest.Sampling, HasSampling: true,
		Unseen:    before.Unseen + lowest.Unseen,
		OpenBelow: before.OpenBelow || lowest.OpenAbove, OpenAbove: before.OpenAbove || lowest.OpenBelow,
	}
}

func lowVoltageTime(r *Measurer, w *windows) analyze.MetricValue {
	if w.from == nil {
		return Absent(w.whyNoStart())
	}
	in := w.startReach()
	low, high := in.low, in.high
	if why, seldom := r.tooSeldom(decode.BatteryVoltage, in.length); seldom {
		return why
	}
	points := r.Tracks[decode.BatteryVoltage].All()
	if len(series.Window(points, low, high)) == 0 {
		return r.noSample(decode.BatteryVoltage, low, high)
	}
	limit := series.Crossing{Threshold: r.M.Settings.LowVoltage, Half: r.HalfStep(decode.BatteryVoltage), AtIsAbove: true}
	v := analyze.MetricValue{Sampling: bounds.Seconds(sampling(points, low, high)), HasSampling: true}
	v.Value = timeBelow(series.Bracket(points, low, high), limit, low, high, func(from, to int64) bool {
		return r.Unseen(decode.BatteryVoltage, points, from, to) > 0
	})
	v.OpenBelow, v.OpenAbove = in.lost, in.lost
	return r.hidden(v, decode.BatteryVoltage, len(series.Window(points, in.likely.From, in.likely.To)), points, in, 1)
}

// timeBelow is how long the line through the points lies below the limit in
// low..high, in seconds. Its low counts only the time between two samples that
// are surely below; its high all time but that between two that are surely not,
// and what no sample tells of at an end of the window counts as the sample next
// to it. What was not seen, as unseen says, may all lie below.
func timeBelow(points []series.Point, limit series.Crossing, low, high int64, unseen func(from, to int64) bool) bounds.Value {
	var sure, best, most float64
	within := func(from, to float64) float64 {
		return max(0, min(to, float64(high))-max(from, float64(low)))
	}
	first, last := points[0], points[len(points)-1]
	if first.T > low && (limit.SideOf(first.V) <= 0 || unseen(low, first.T)) {
		most += within(float64(low), float64(first.T))
	}
	if last.T < high && (limit.SideOf(last.V) <= 0 || unseen(last.T, high)) {
		most += within(float64(last.T), float64(high))
	}
	for i := 1; i < len(points); i++ {
		a, b := points[i-1], points[i]
		from, to := float64(a.T), float64(b.T)
		sideA, sideB := limit.SideOf(a.V), limit.SideOf(b.V)
		dark := unseen(a.T, b.T)
		if sideA <= 0 || sideB <= 0 || dark {
			most += within(from, to)
		}
		if sideA < 0 && sideB < 0 && !dark {
			sure += within(from, to)
		}
		meets := from + (to-from)*(limit.Threshold-a.V)/(b.V-a.V)
		switch belowA, belowB := a.V < limit.Threshold, b.V < limit.Threshold; {
		case belowA && belowB:
			best += within(from, to)
		case belowA:
			best += within(from, meets)
		case belowB:
			best += within(meets, to)
		}
	}
	return bounds.Value{Low: sure / 1e9, Best: best / 1e9, High: most / 1e9}
}

// recoversWithin is how long after running the voltage may take to come back.
const recoversWithin = 2 * bounds.Second

// holdsFor is how long a voltage must stay up to count as recovered.
const holdsFor = 100 * bounds.Millisecond

func voltageRecovery(r *Measurer, w *windows) analyze.MetricValue {
	before := r.leaveOut(voltageBefore(r, w))
	if before.Absent != nil {
		return before
	}
	low, high, length := w.StartWindow()
	if why, seldom := r.tooSeldom(decode.BatteryVoltage, length); seldom {
		return why
	}
	points := r.Tracks[decode.BatteryVoltage].All()
	inside := series.Window(points, low, high)
	if len(inside) == 0 {
		return r.noSample(decode.BatteryVoltage, low, high)
	}
	if away := r.Unseen(decode.BatteryVoltage, points, low, high); away > 0 {
		v := Absent(analyze.RoleUnseen{Role: decode.BatteryVoltage, Where: analyze.InFall, Unseen: away})
		v.Unseen = bounds.Seconds(away)
		return v
	}
	lowest := inside[0]
	for _, p := range inside {
		if p.V < lowest.V {
			lowest = p
		}
	}
	back := series.Crossing{Threshold: before.Best - 0.5, Half: r.HalfStep(decode.BatteryVoltage), AtIsAbove: true}
	if back.SideOf(lowest.V) >= 0 {
		return Absent(analyze.NoVoltageFall)
	}
	until := w.end.High + AfterEnd
	if w.running != nil {
		until = w.end.High + recoversWithin
	}
	// The true minimum lies between the samples around those that show it.
	minimum := bounds.At(lowest.T)
	widen := false
	var returned *bounds.Instant
	for _, p := range series.Window(points, math.MinInt64, until) {
		if p.T < lowest.T {
			minimum.Low = p.T
			continue
		}
		if widen {
			minimum.High = p.T
		}
		widen = p.V == lowest.V
		switch edge, when := back.Add(p.T, p.V); {
		case edge > 0:
			returned = &when
		case edge < 0:
			returned = nil
		}
		if returned != nil && p.T >= returned.High+holdsFor {
			v := bounds.Sub(*returned, minimum)
			v.Low = max(v.Low, 0) // it comes back after the minimum
			told := measured(v)
			told.OpenBelow = before.OpenBelow || w.lost() || r.Unseen(decode.BatteryVoltage, points, high, returned.High+holdsFor) > 0
			told.OpenAbove = told.OpenBelow
			return told
		}
	}
	if w.running == nil {
		return Absent(analyze.NoRecovery{To: back.Threshold, Ended: w.whyNot()})
	}
	return Absent(analyze.NoRecovery{To: back.Threshold, Holds: holdsFor, Within: recoversWithin})
}

// sourceResistance fits voltage against current while the last crank lasts. Of
// the two the one that comes less often is taken at its own samples, the other
// between the two samples around them: else one sample of the slower would count
// as many, and the standard error would be too small.
func sourceResistance(r *Measurer, w *windows) analyze.MetricValue {
	if w.last == nil {
		return Absent(analyze.NoCrank)
	}
	low, high := w.last.Low, w.end.High
	if w.running == nil && w.lastOff != 0 {
		high = min(high, w.lastOff) // the starter was let go
	}
	amperes, volts := r.Tracks[decode.BatteryCurrent].All(), r.Tracks[decode.BatteryVoltage].All()
	var x, y []float64
	if own := series.Window(amperes, low, high); len(own) <= len(series.Window(volts, low, high)) {
		x, y = r.paired(own, volts, decode.BatteryVoltage)
	} else {
		y, x = r.paired(series.Window(volts, low, high), amperes, decode.BatteryCurrent)
	}
	slope, standardError, ok := stats.Line(x, y)
	if !ok {
		return Absent(analyze.FewPairs(len(x)))
	}
	v := fitted(slope*1000, standardError*1000)
	if slope+3*standardError < 0 {
		return Absent(analyze.RisesUnderLoad) // no source of a car does
	}
	v.OpenBelow, v.OpenAbove = w.lost(), w.lost()
	return v
}

// paired returns the values of the points, and those of another role at the same
// moments, where it was seen on both sides.
func (r *Measurer) paired(points, other []series.Point, role decode.Role) (own, others []float64) {
	for _, p := range points {
		around := series.Bracket(other, p.T, p.T)
		if len(around) == 0 || around[0].T > p.T || around[len(around)-1].T < p.T || r.Unseen(role, around, around[0].T, around[len(around)-1].T) > 0 {
			continue
		}
		own = append(own, p.V)
		others = append(others, series.Interpolate(around, p.T))
	}
	return own, others
}
