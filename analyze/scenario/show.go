package scenario

// deed is something that a driver shows on purpose.
type deed uint8

const (
	deedBrake deed = iota
	deedLeft
	deedRight
	deedSteering
	deedAir
	deedCancel
)

// deedNames are what a person would write beside them.
var deedNames = [...]string{"brake", "turn_left", "turn_right", "steering", "air_conditioning", "cancel"}

// show is one of them, at so many seconds after the start of the engine.
type show struct {
	what     deed
	at, long float64
}

// Shown is something that the driver did on purpose, from and to a moment.
type Shown struct {
	Name     string
	From, To int64
}

// present carries out what the driver shows; it reports whether all is done.
func (d *driver) present(now int64) bool {
	w := d.world
	if d.showFrom == 0 {
		d.showFrom = now
		w.out.set(brake, 0, now+300*ms)
	}
	for len(w.plan.shows) > d.shown {
		s := w.plan.shows[d.shown]
		from := d.showFrom + seconds(s.at)
		to := from + seconds(s.long)
		if now < from {
			return false
		}
		if !d.showing {
			d.showing = true
			d.begin(s.what, now)
			if s.what == deedBrake || s.what == deedAir || s.what == deedCancel {
				w.out.set(outputOf(s.what), 0, to)
			}
		}
		if now < to {
			return false
		}
		d.showing = false
		d.blinks, d.steerTo = false, 0
		w.record.truth.Shown = append(w.record.truth.Shown, Shown{deedNames[s.what], from, to})
		d.shown++
	}
	return true
}

func outputOf(what deed) output {
	return map[deed]output{deedBrake: brake, deedAir: airConditioning, deedCancel: cancelSwitch}[what]
}

// begin does what is shown.
func (d *driver) begin(what deed, now int64) {
	switch what {
	case deedLeft, deedRight:
		d.side = int64(what-deedLeft) + 1
		d.blink(now)
	case deedSteering:
		d.steerTo = 95
	default:
		d.world.out.set(outputOf(what), 1, now+d.world.instant())
	}
}
