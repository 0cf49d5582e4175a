package analyze

import (
	"fmt"

	"lull/decode"
	"lull/pkg/bounds"
	"lull/pkg/stats"
)

// lead is how long before the crank onset the voltage windows reach: current
// flows before the engine turns, so an onset taken from the engine speed is
// late.
func (w *windows) lead() int64 {
	if w.from.From == decode.EngineSpeed {
		return 300 * millisecond
	}
	return 50 * millisecond
}

func voltageBefore(r *Run, w *windows) MetricValue {
	if w.from == nil {
		return absent(noCrank)
	}
	return r.medianOf(decode.BatteryVoltage, w.from.Low-w.lead()-second, w.from.High-w.lead())
}

// startWindow is the window of voltage_min.
func (w *windows) startWindow() (low, high int64) {
	high = w.end.High
	if w.running != nil {
		high += 500 * millisecond
	}
	return w.from.Low - w.lead(), high
}

func voltageMin(r *Run, w *windows) MetricValue {
	return r.lowestWhileStarting(decode.BatteryVoltage, w)
}

func moduleSupplyMin(r *Run, w *windows) MetricValue {
	return r.lowestWhileStarting(decode.ModuleSupply, w)
}

func (r *Run) lowestWhileStarting(role decode.Role, w *windows) MetricValue {
	if w.from == nil {
		return absent(noCrank)
	}
	low, high := w.startWindow()
	return r.extremeOf(role, low, high, -1)
}

func voltageDip(r *Run, w *windows) MetricValue {
	before := voltageBefore(r, w)
	if before.Absent != "" {
		return before
	}
	lowest := voltageMin(r, w)
	if lowest.Absent != "" {
		return lowest
	}
	return MetricValue{
		Value:    before.Value.Minus(lowest.Value),
		Sampling: lowest.Sampling, HasSampling: true,
	}
}

func lowVoltageTime(r *Run, w *windows) MetricValue {
	if w.from == nil {
		return absent(noCrank)
	}
	low, high := w.startWindow()
	points := bracket(r.tracks[decode.BatteryVoltage].all(), low, high)
	if len(window(points, low, high)) == 0 {
		return absent("no sample of battery_voltage lies in the %s window", lengthText(high-low))
	}
	v := timeBelow(points, r.m.Settings.LowVoltage, low, high)
	return MetricValue{Value: v, Sampling: bounds.Seconds(longest(points)), HasSampling: true}
}

// timeBelow is how long the line through the points lies below the limit in
// low..high, in seconds. Its low counts only from sample to sample that are
// below, its high from the sample before to the one after.
func timeBelow(points []point, limit float64, low, high int64) bounds.Value {
	var sure, best, most float64
	within := func(from, to float64) float64 {
		return max(0, min(to, float64(high))-max(from, float64(low)))
	}
	for i := 1; i < len(points); i++ {
		a, b := points[i-1], points[i]
		from, to := float64(a.t), float64(b.t)
		belowA, belowB := a.v < limit, b.v < limit
		if belowA || belowB {
			most += within(from, to)
		}
		switch {
		case belowA && belowB:
			sure += within(from, to)
			best += within(from, to)
		case belowA:
			best += within(from, from+(to-from)*(limit-a.v)/(b.v-a.v))
		case belowB:
			best += within(from+(to-from)*(limit-a.v)/(b.v-a.v), to)
		}
	}
	return bounds.Value{Low: sure / 1e9, Best: best / 1e9, High: most / 1e9}
}

// holdsFor is how long a voltage must stay up to count as recovered.
const holdsFor = 100 * millisecond

func voltageRecovery(r *Run, w *windows) MetricValue {
	before := voltageBefore(r, w)
	if before.Absent != "" {
		return before
	}
	if w.running == nil {
		return absent("%s", w.whyNot())
	}
	low, high := w.startWindow()
	points := r.tracks[decode.BatteryVoltage].all()
	inside := window(points, low, high)
	if len(inside) == 0 {
		return absent("no sample of battery_voltage lies in the %s window", lengthText(high-low))
	}
	lowest := inside[0]
	for _, p := range inside {
		if p.v < lowest.v {
			lowest = p
		}
	}
	target := before.Best - 0.5
	if lowest.v >= target {
		return absent("the voltage never fell 0.5 V below voltage_before")
	}
	minimum := bounds.At(lowest.t)
	var previous point
	var returned *bounds.Instant
	for _, p := range points {
		switch {
		case p.t < lowest.t:
			minimum.Low = p.t
		case p.t == lowest.t:
		case p.v < target:
			returned = nil
		case returned == nil:
			back := crossed(previous, p, target)
			returned = &back
		}
		if p.t > lowest.t && minimum.High == lowest.t {
			minimum.High = p.t
		}
		if returned != nil && p.t >= returned.High+holdsFor {
			v := bounds.Sub(*returned, minimum)
			v.Low = max(v.Low, 0) // it comes back after the minimum
			return measured(v)
		}
		previous = p
	}
	return absent("the voltage did not come back to %.2f V within %s after running", target, lengthText(settleAfter))
}

// sourceResistance fits voltage against current over the last crank. The current
// is taken at its own samples, the voltage between the two samples around them.
func sourceResistance(r *Run, w *windows) MetricValue {
	if w.last == nil {
		return absent(noCrank)
	}
	if w.running == nil {
		return absent("%s", w.whyNot())
	}
	volts := r.tracks[decode.BatteryVoltage].all()
	var x, y []float64
	for _, p := range window(r.tracks[decode.BatteryCurrent].all(), w.last.Low, w.running.High) {
		around := bracket(volts, p.t, p.t)
		if len(around) == 0 || around[0].t > p.t || around[len(around)-1].t < p.t {
			continue
		}
		x = append(x, p.v)
		y = append(y, interpolate(around, p.t))
	}
	slope, standardError, ok := stats.Line(x, y)
	if !ok {
		return absent("%d samples of the current while cranking are too few or too alike for a slope", len(x))
	}
	return fitted(slope*1000, standardError*1000)
}

func lengthText(ns int64) string { return fmt.Sprintf("%.2f s", bounds.Seconds(ns)) }
