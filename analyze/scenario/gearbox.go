package scenario

// gearbox ties the engine speed to the road speed. The cars of the demonstration
// have none: their engines idle while they drive.
type gearbox struct {
	ratios []float64 // rpm per km/h, first gear first; none: no gearbox
	manual bool
	up     float64 // rpm at which it shifts up

	gear    int   // 0 neutral, 1 first
	shifts  int64 // until when no further shift begins
	opened  int64 // until when the clutch is open for a shift
	turbine float64
}

// move chooses the gear and tells the speed that road and pedal ask of the
// engine, 0 for idle.
func (g *gearbox) move(now int64, speed, pedal, idle, engine float64) float64 {
	if len(g.ratios) == 0 {
		return 0
	}
	if speed < 0.2 && pedal == 0 {
		g.gear, g.shifts = 0, now
	} else if g.gear == 0 {
		g.gear = 1
	}
	if g.gear == 0 {
		g.turbine = toward(g.turbine, 0, stepSeconds/0.15)
		return 0
	}
	turns := mul(speed, g.ratios[g.gear-1])
	if now >= g.shifts {
		to := g.gear
		switch {
		case turns > g.up && g.gear < len(g.ratios):
			to++
		case turns < mul(0.5, g.up) && g.gear > 1:
			to--
		}
		if to != g.gear {
			g.gear, g.shifts = to, now+900*ms
			if g.manual {
				g.opened = now + 450*ms
			}
		}
		turns = mul(speed, g.ratios[g.gear-1])
	}
	if g.manual {
		g.turbine = toward(g.turbine, engine, stepSeconds/0.2)
		if now < g.opened || turns < idle {
			if pedal > 0 && g.gear == 1 {
				return idle + mul(22, pedal) // the clutch slips
			}
			return 0
		}
		g.turbine = turns
		return turns
	}
	g.turbine = toward(g.turbine, turns, stepSeconds/0.06)
	if pedal > 0 {
		return max(turns+mul(5, pedal), idle+mul(18, pedal)-mul(9, speed))
	}
	return turns
}
