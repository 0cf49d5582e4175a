package compare

import (
	"math"

	"lull/analyze"
	"lull/decode"
	"lull/pkg/stats"
)

// Vehicles is the evidence that the logs of two sides are of two vehicles. What is zero or
// empty is no evidence.
type Vehicles struct {
	Names   [2]string  // of the maps, before and after, if they differ
	Frames  [2]string  // that carry the engine speed, if they differ
	Voltage [2]float64 // V before the starts, or of the system, if far apart
	Idle    [2]float64 // rpm, if far apart
}

// The ratios from which two vehicles are told apart (common practice, no source): a 12 V
// and a 24 V system by their voltage, two engines by their idle speed.
const (
	voltageApart = 1.4
	idleApart    = 1.15
)

// VehiclesOf returns the evidence that two sides are of two vehicles.
func VehiclesOf(before, after Side) Vehicles {
	var v Vehicles
	a, b := before.Map, after.Map
	if a.Vehicle != b.Vehicle && a.Vehicle != "" && b.Vehicle != "" {
		v.Names = [2]string{a.Vehicle, b.Vehicle}
	}
	if f, g := frameOf(a), frameOf(b); f != g && f != "" && g != "" {
		v.Frames = [2]string{f, g}
	}
	if u, w := voltageOf(before), voltageOf(after); apart(u, w, voltageApart) {
		v.Voltage = [2]float64{u, w}
	} else if u, w := a.Settings.SystemVoltage, b.Settings.SystemVoltage; u != w {
		v.Voltage = [2]float64{u, w}
	}
	if u, w := idleOf(before), idleOf(after); apart(u, w, idleApart) {
		v.Idle = [2]float64{u, w}
	}
	return v
}

// Two reports whether the sides are of two vehicles. The voltage alone is enough; of the
// rest it takes two, as a map may have been rewritten or an engine may idle faster.
func (v Vehicles) Two() bool {
	signs := 0
	for _, sign := range []bool{v.Names[0] != "", v.Frames[0] != "", v.Idle[0] != 0} {
		if sign {
			signs++
		}
	}
	return v.Voltage[0] != 0 || signs > 1
}

func frameOf(m *decode.Map) string {
	s := m.RoleSignal(decode.EngineSpeed)
	if s == nil {
		return ""
	}
	return m.Entries[s.Entry].Label()
}

// voltageOf returns the median voltage before the starts of a side, 0 if there is none.
func voltageOf(s Side) float64 {
	var values []float64
	for i := range s.Logs {
		for _, start := range s.Logs[i].Result.Starts {
			if v := start.Metric("voltage_before"); v.Known() {
				values = append(values, v.Best)
			}
		}
	}
	median, _ := stats.Median(values)
	return median
}

// idleOf returns the median of the idle speeds of a side's logs, 0 if there is none.
func idleOf(s Side) float64 {
	var values []float64
	for i := range s.Logs {
		if idle := s.Logs[i].Result.IdleSpeed; idle > 0 {
			values = append(values, idle)
		}
	}
	median, _ := stats.Median(values)
	return median
}

// apart reports whether two values, both known, differ by more than the factor.
func apart(a, b, factor float64) bool {
	return a > 0 && b > 0 && math.Max(a, b) > factor*math.Min(a, b)
}

// believed leaves out logs that cannot be used, and notes them.
func (c *Comparison) believed(side analyze.Order, s Side) Side {
	kept := Side{Map: s.Map}
	for i := range s.Logs {
		if l := &s.Logs[i]; l.Result.Usable() {
			kept.Logs = append(kept.Logs, *l)
		} else {
			c.Notes = append(c.Notes, LeftOut{Log: l.Name, Side: side, Doubt: l.Result.Trust.Doubts[0]})
		}
	}
	return kept
}
