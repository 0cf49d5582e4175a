package compare

import (
	"math"

	"lull/analyze"
	"lull/decode"
	"lull/pkg/stats"
)

// Vehicles is what tells that the logs of two sides are not of one vehicle; what is zero
// or empty does not tell.
type Vehicles struct {
	Names   [2]string  // of the maps, before and after, where they are not the same
	Frames  [2]string  // that carry the engine speed, where they are not the same
	Voltage [2]float64 // V before the starts, or of the system, where far apart
	Idle    [2]float64 // rpm, where far apart
}

// From where on two vehicles are apart (common practice, no source): a 12 V and a 24 V
// system by their voltage, two engines by their idle speed.
const (
	voltageApart = 1.4
	idleApart    = 1.15
)

// VehiclesOf looks for what tells the vehicles of two sides apart.
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

// Two reports whether the sides are of two vehicles: the voltage alone tells, of the rest
// two signs together, as a map may have been written anew and an engine idle faster.
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

// voltageOf is the median voltage before the starts of a side; 0 where there is none.
func voltageOf(s Side) float64 {
	var values []float64
	for i := range s.Logs {
		for _, start := range s.Logs[i].Result.Starts {
			for _, v := range start.Metrics {
				if v.Key == "voltage_before" && v.Absent == nil && stats.Finite(v.Best) {
					values = append(values, v.Best)
				}
			}
		}
	}
	median, _ := stats.Median(values)
	return median
}

// idleOf is the median of the idle speeds of a side's logs; 0 where there is none.
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

// apart reports whether two values, both known, are further from each other than by the
// factor.
func apart(a, b, factor float64) bool {
	return a > 0 && b > 0 && math.Max(a, b) > factor*math.Min(a, b)
}

// believed leaves out logs that cannot be used.
func (c *Comparison) believed(side analyze.Order, s Side) Side {
	kept := Side{Map: s.Map}
	for i := range s.Logs {
		if l := &s.Logs[i]; l.Result.Trust.Credence != analyze.Unusable {
			kept.Logs = append(kept.Logs, *l)
		} else {
			c.Notes = append(c.Notes, LeftOut{Log: l.Name, Side: side, Doubt: l.Result.Trust.Doubts[0]})
		}
	}
	return kept
}
