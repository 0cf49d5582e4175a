package measure

import (
	"lull/analyze"
	"lull/analyze/segment"
	"lull/decode"
	"lull/pkg/bounds"
)

// Metrics is the table of all measurements, in the order in which they are
// shown.
var Metrics = []Metric{
	{Key: "run_down", Unit: "s", Window: "stop onset to rest",
		Text: "how long the engine takes to come to rest", Needs: speedOnly, Ends: [2]End{AtStop, AtRest}, Bounds: OfMoments, of: runDown},
	{Key: "stop_duration", Unit: "s", Window: "rest to crank onset",
		Text: "how long the engine rested", Needs: speedOnly, Ends: [2]End{AtRest, AtCrank}, Bounds: OfMoments, of: stopDuration},
	{Key: "engine_off", Unit: "s", Window: "stop onset to running",
		Text: "how long the engine gave no power", Needs: speedOnly, Ends: [2]End{AtStop, AtRunning}, Family: Wait, HoldsTries: true, Bounds: OfMoments, of: engineOff},
	{Key: "restart_latency", Unit: "s", Better: "lower", Window: "restart request to running",
		Text: "what the driver waits for: from asking for the restart to the running engine", Needs: speedOnly, Ends: [2]End{AtRequest, AtRunning}, Family: Wait, HoldsTries: true, Bounds: OfMoments, of: restartLatency},
	{Key: "request_to_crank", Unit: "s", Better: "lower", Window: "restart request to crank onset",
		Text: "how long the car takes to decide and to engage the starter", Needs: speedOnly, Ends: [2]End{AtRequest, AtCrank}, Family: Wait, Bounds: OfMoments, of: requestToCrank},
	{Key: "crank_to_run", Unit: "s", Better: "lower", Window: "last crank onset to running",
		Text: "how long the starter turns the engine", Needs: speedOnly, Ends: [2]End{AtLastCrank, AtRunning}, Family: Wait, Bounds: OfMoments, of: crankToRun, Start: true},
	{Key: "speed_at_request", Unit: "rpm", Window: "at the restart request",
		Text: "engine speed when the restart was asked for", Needs: speedOnly, RunDown: speedOnly, Bounds: OfCurve, of: speedAtRequest},
	{Key: "speed_at_crank", Unit: "rpm", Window: "at the first crank onset",
		Text: "engine speed when the starter engaged", Needs: speedOnly, RunDown: speedOnly, Bounds: OfCurve, of: speedAtCrank},
	{Key: "crank_speed", Unit: "rpm", Better: "higher", Window: "from 60 ms after the last crank onset to half way between it and running, median",
		Text: "speed at which the starter turns the engine", Needs: speedOnly, Bounds: OfSamples, of: crankSpeed, Start: true},
	{Key: "flare", Unit: "rpm", Window: "the 2 s after running, highest",
		Text: "how far the engine overshoots after the start", Needs: speedOnly, After: overshoot, Bounds: OfSamples, of: flare, Start: true},
	{Key: "voltage_before", Name: "voltage before the start", Unit: "V", Window: "the 1 s that ends 50 ms (300 ms where the crank is taken from the engine speed) before the crank onset, median",
		Text: "battery voltage before the start", Needs: voltageOnly, Before: bounds.Second + earliestLead, Bounds: OfSamples, of: voltageBefore, Start: true},
	{Key: "voltage_min", Name: "lowest voltage", Unit: "V", Better: "higher", Window: "50 ms (300 ms) before the crank onset to 500 ms after running, lowest",
		Text: "lowest battery voltage while starting", Needs: voltageOnly, Before: earliestLead, After: startReaches, Family: Supply, Bounds: OfSamples, of: voltageMin, Start: true},
	{Key: "voltage_dip", Unit: "V", Better: "lower", Window: "voltage_before less voltage_min",
		Text: "how far the battery voltage falls while starting", Needs: voltageOnly, Before: earliestLead, After: startReaches, Family: Supply, Bounds: OfSamples, of: voltageDip, Start: true},
	{Key: "low_voltage_time", Unit: "s", Better: "lower", Window: "as voltage_min",
		Text: "time below the setting low_voltage, samples joined by straight lines", Needs: voltageOnly, Before: earliestLead, After: startReaches, Family: Supply, Bounds: OfLine, of: lowVoltageTime, Start: true},
	{Key: "voltage_recovery", Unit: "s", Better: "lower", Window: "voltage_min to the first return to 0.5 V below voltage_before that holds 100 ms",
		Text: "how long the battery voltage takes to come back", Needs: voltageOnly, Before: bounds.Second + earliestLead, After: recoversWithin, Family: Supply, Bounds: OfMoments, of: voltageRecovery, Start: true},
	{Key: "module_supply_min", Name: "lowest module supply", Unit: "V", Better: "higher", Window: "as voltage_min, lowest",
		Text: "lowest voltage of the modules' backed-up supply while starting", Needs: []decode.Role{decode.ModuleSupply}, Before: earliestLead, After: startReaches, Family: Supply, Bounds: OfSamples, of: moduleSupplyMin, Start: true},
	{Key: "source_resistance", Unit: "mohm", Better: "lower", Window: "last crank onset to running, slope of voltage against current",
		Text: "resistance of battery and cables as the starter's current shows it", Needs: []decode.Role{decode.BatteryVoltage, decode.BatteryCurrent}, Family: Supply, Bounds: OfFit, of: sourceResistance},
	{Key: "hold_pressure_min", Name: "lowest hydraulic pressure", Unit: "kPa", Better: "higher", Window: "rest to running, lowest",
		Text: "lowest hydraulic pressure while the engine rests", Needs: []decode.Role{decode.HoldPressure}, InRest: []decode.Role{decode.HoldPressure}, Broken: analyze.CodePressureLost, Bounds: OfSamples, of: holdPressureMin},
	{Key: "take_off_delay", Name: "take-off delay", Unit: "s", Better: "lower", Window: "restart request to the vehicle leaving standstill",
		Text: "from asking for the restart to the moving vehicle", Needs: []decode.Role{decode.VehicleSpeed}, Ends: [2]End{AtRequest, AtLeaving}, Family: Wait, HoldsTries: true, Bounds: OfMoments, of: takeOffDelay, Late: true},
	{Key: "take_off_shock", Name: "take-off shock", Unit: "m/s3", Better: "lower", Window: "the 1 s after leaving standstill, highest rate of change of acceleration",
		Text: "how hard the vehicle takes off", Needs: []decode.Role{decode.VehicleSpeed}, Bounds: OfFit, of: takeOffShock, Late: true},
	{Key: "fuel_saved", Unit: "mL", Better: "higher", Window: "idle rate x engine_off, less restart_fuel",
		Text: "fuel not burnt during the stop", Needs: speedOnly, Before: segment.IdleBefore, Bounds: OfMultiplied, of: fuelSaved},
}

var (
	speedOnly   = []decode.Role{decode.EngineSpeed}
	voltageOnly = []decode.Role{decode.BatteryVoltage}
)

func runDown(r *Measurer, w *windows) analyze.MetricValue {
	e := w.episode
	if e.Rest == nil {
		if e.Outcome == analyze.Aborted {
			return Absent(w.whyNot())
		}
		return Absent(analyze.NoRest)
	}
	return measured(bounds.Sub(*e.Rest, e.Stop.Instant))
}

func stopDuration(r *Measurer, w *windows) analyze.MetricValue {
	e := w.episode
	switch {
	case e.Rest == nil && e.Outcome == analyze.Aborted:
		return Absent(w.whyNot())
	case e.Rest == nil:
		return Absent(analyze.NoRest)
	case w.first == nil:
		return Absent(analyze.NoCrank)
	case w.first.T < e.Rest.T:
		return Absent(analyze.CrankBeforeRest)
	}
	return w.fromFirst(*e.Rest)
}

func engineOff(r *Measurer, w *windows) analyze.MetricValue {
	if w.running == nil {
		return Absent(w.whyNot())
	}
	return measured(bounds.Sub(*w.running, w.episode.Stop.Instant))
}

func restartLatency(r *Measurer, w *windows) analyze.MetricValue {
	switch {
	case w.episode.Request == nil:
		return Absent(r.noRequest(w))
	case w.running == nil:
		return Absent(w.whyNot())
	}
	return measured(bounds.Sub(*w.running, w.episode.Request.Instant))
}

func requestToCrank(r *Measurer, w *windows) analyze.MetricValue {
	switch {
	case w.episode.Request == nil:
		return Absent(r.noRequest(w))
	case w.first == nil:
		return Absent(analyze.NoCrank)
	}
	return w.fromFirst(w.episode.Request.Instant)
}

// fromFirst is the time from an instant to the first crank. Where one before the first
// that was seen may not have been, it may have been any since the decision.
func (w *windows) fromFirst(since bounds.Instant) analyze.MetricValue {
	v := measured(bounds.Sub(w.first.Instant, since))
	if w.lostBefore {
		v.Low = min(v.Low, bounds.Sub(w.episode.WhenDecided().Instant, since).Low)
	}
	return v
}

func crankToRun(r *Measurer, w *windows) analyze.MetricValue {
	switch {
	case w.last == nil:
		return Absent(analyze.NoCrank)
	case w.running == nil:
		return Absent(w.whyNot())
	}
	v := measured(bounds.Sub(*w.running, w.last.Instant))
	if w.lostAfter {
		v.Low = min(v.Low, 0) // a further crank may not have been seen
	}
	return v
}

func speedAtRequest(r *Measurer, w *windows) analyze.MetricValue {
	if w.episode.Request == nil {
		return Absent(r.noRequest(w))
	}
	return r.speedAt(w, w.episode.Request.Instant)
}

func speedAtCrank(r *Measurer, w *windows) analyze.MetricValue {
	if w.first == nil {
		return Absent(analyze.NoCrank)
	}
	return r.speedAt(w, w.first.Instant)
}

// crankSettles is what of a crank is left out of its speed: the starter only
// begins to turn.
const crankSettles = 60 * bounds.Millisecond

func crankSpeed(r *Measurer, w *windows) analyze.MetricValue {
	if w.last == nil {
		return Absent(analyze.NoCrank)
	}
	low, until := w.last.Low+crankSettles, bounds.Middle(w.last.Instant, w.end)
	if w.running == nil && w.lastOff != 0 {
		until.High = min(until.High, w.lastOff) // the starter was let go
	}
	if until.High > low {
		return r.medianOf(decode.EngineSpeed, plain(low, until.High, max(until.T-w.last.T-crankSettles, 0), w.lost()))
	}
	switch {
	case w.running != nil:
		return Absent(analyze.ShortCrank{Length: w.running.T - w.last.T})
	case w.lastOff != 0:
		return Absent(analyze.ShortCrank{Length: w.lastOff - w.last.T, LetGo: true})
	}
	return Absent(w.whyNot())
}

// overshoot is how long after running the engine's overshoot is looked for.
const overshoot = 2 * bounds.Second

func flare(r *Measurer, w *windows) analyze.MetricValue {
	if w.running == nil {
		return Absent(w.whyNot())
	}
	low, high := w.running.Low, w.running.High+overshoot
	in := plain(low, high, overshoot, w.lostAfter)
	in.sure = bounds.Span{From: w.running.High, To: w.running.Low + overshoot}
	in.likely = bounds.Span{From: w.running.T, To: w.running.T + overshoot}
	return r.extremeOf(decode.EngineSpeed, in, 1)
}

func fuelSaved(r *Measurer, w *windows) analyze.MetricValue {
	off := engineOff(r, w)
	if off.Absent != nil {
		return off
	}
	if w.episode.Outcome == analyze.Stalled {
		return Absent(analyze.StallSavesNothing)
	}
	// L/h to mL/s is 1000/3600.
	return measured(off.Value.Scaled(w.episode.IdleRate/3.6, -r.M.Settings.RestartFuel))
}

func holdPressureMin(r *Measurer, w *windows) analyze.MetricValue {
	return r.overRest(decode.HoldPressure, w, -1)
}
