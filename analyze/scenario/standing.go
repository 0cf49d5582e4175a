package scenario

// road follows the passages of the road speed.
func (r *record) road(c *curve) {
	w := r.world
	if r.stand == nil && c.from == w.plan.start {
		r.stand = &TrueStandstill{Start: c.from}
		r.shares, r.any, r.whole = [8]int64{}, 0, 0
	}
	if at, ok := c.falls(roadSpeed, trueStandstill); ok {
		running := c.new[engineSpeed] > trueRunning
		r.stand = &TrueStandstill{Start: at, Stopped: r.open != nil, Opportunity: running || r.open != nil}
		r.shares, r.any, r.whole = [8]int64{}, 0, 0
	}
	if at, ok := c.rises(roadSpeed, trueStandstill); ok && r.stand != nil {
		r.endStand(at)
		if l := r.latest; l != nil && l.TakeOff == nil {
			if l.Running != nil || l.Outcome == "aborted" {
				l.TakeOff = moment(at)
			}
			r.latest = nil
			if r.watched {
				l.VoltageMin, r.watched = r.lowest, false
			}
		}
	}
}

// reasonNames are what may keep the engine running, in the order of the maps,
// the car's own codes last.
var reasonNames = [8]string{inhibitCold, inhibitCabin, inhibitDriver, "", codeLabels[4], codeLabels[5], codeLabels[6], ""}

// reasons adds up for how long each reason was true while the engine could
// have been stopped.
func (r *record) reasons(c *curve) {
	w := r.world
	if r.stand == nil || r.stand.Stopped {
		return
	}
	true1 := func(i int, is bool) bool {
		if is {
			r.shares[i] += step
		}
		return is
	}
	r.whole += step
	hot := true1(0, c.new[coolant] < 40)
	cabin := true1(1, w.out.value[airConditioning] == 1 && (c.new[cabinError] > 3 || c.new[cabinError] < -3))
	driver := true1(2, w.out.value[cancelSwitch] == 1)
	code := w.out.value[inhibitCode]
	own := code != 0 && true1(int(code), true)
	if hot || cabin || driver || own {
		r.any += step
	}
}

// endStand writes the present standstill down.
func (r *record) endStand(at int64) {
	s := r.stand
	r.stand = nil
	s.End = at
	s.Opportunity = s.Opportunity && s.End-s.Start >= 3_000_000_000
	if 2*r.any >= r.whole && r.any > 0 {
		best := 0
		for i, share := range r.shares {
			if share > r.shares[best] {
				best = i
			}
		}
		s.Reason = reasonNames[best]
	}
	s.Unexplained = s.Opportunity && !s.Stopped && !s.calledOff && s.Reason == "" && !r.keyedOff
	r.truth.Standstills = append(r.truth.Standstills, *s)
}
