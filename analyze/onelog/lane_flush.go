package onelog

import (
	"lull/analyze/series"
	"lull/decode"
)

// flush hands on what was put aside.
func (r *Run) flush() {
	l := &r.lanes
	if !l.aside {
		return
	}
	l.aside = false
	for _, k := range l.entries {
		if k == nil || len(k.times) == 0 {
			continue
		}
		r.Streams.Lead(k.stream, k.last)
		for i := range k.columns {
			r.column(k, &k.columns[i])
		}
		k.times, k.words = k.times[:0], k.words[:0]
	}
	r.Requests.Lead(l.now)
	r.Inhibits.Lead(l.now)
}

// column hands one signal's samples to all that reads it, as sample does with a single one.
func (r *Run) column(k *lane, c *decode.Column) {
	points := r.lanes.points[:0]
	raw := c.Raw(k.words[0])
	low, high, v := raw, raw, c.Value(raw)
	for i, word := range k.words {
		if now := c.Raw(word); now != raw {
			raw, v = now, c.Value(now)
			low, high = min(low, raw), max(high, raw)
		}
		points = append(points, series.Point{T: k.times[i], V: v})
	}
	r.lanes.points = points
	u := &r.uses[c.Signal]
	if u.extent != nil {
		if u.request {
			r.Requests.Hold(c.Signal, points, raw)
		}
		if u.inhibit {
			r.Inhibits.Hold(c.Signal, points, raw)
		}
		u.extent.Add(c.Value(low))
		u.extent.Add(c.Value(high))
		if u.watched != nil {
			u.watched.AddAll(points)
			if u.watched.Tally != nil {
				u.watched.Tally.AddAll(points)
			}
		}
	}
	last := points[len(points)-1]
	switch u.role {
	case decode.NoRole:
	case decode.StopCommand:
		r.Stop.Stay(last.T)
	case decode.StarterCommand:
		r.Starter.Stay(last.T)
	case decode.Ignition:
		r.Ignition.Stay(last.T)
	case decode.StarterCount:
		r.sums.counter.add(stamp{r.Part, last.T}, last.V, u.signal)
	case decode.InhibitCode:
		r.Code.Stay(last.T)
	default:
		if u.converts {
			for i := range points {
				points[i].V = u.signal.ToRole.Apply(points[i].V)
			}
		}
		r.roleColumn(u, points)
	}
}

// roleColumn hands the samples of a quantity, in the unit of its role, to what measures it.
func (r *Run) roleColumn(u *use, points []series.Point) {
	u.track.AddAll(points)
	for _, p := range points {
		u.tested.Add(p.T, p.V)
	}
	switch u.role {
	case decode.EngineSpeed:
		r.Plausible.Commands(points[0].T, points[len(points)-1].T, &r.Stop, &r.Ignition, &r.Engine)
		for _, p := range points {
			r.sums.engineHours.run(r.Recording, p)
		}
		r.EngineSpeeds(points)
		if r.Stand != nil {
			for _, p := range points {
				if p.V > r.M.Settings.RestSpeed {
					r.Plausible.Idle.Add(p.V)
				}
			}
		}
	case decode.VehicleSpeed:
		for _, p := range points {
			r.sums.distance.drive(r.Recording, p)
		}
		r.VehicleSpeeds(points)
	case decode.BatteryVoltage:
		if r.Starter.Seen && r.Stop.Seen {
			break
		}
		all := u.track.All()
		for n := len(all) - len(points) + 1; n <= len(all); n++ {
			r.Dips.Add(all[:n])
		}
	case decode.FuelRate:
		if r.Stand != nil && r.Engine.Run.Side > 0 {
			r.Stand.Fuel.AddAll(points)
		}
	}
}
