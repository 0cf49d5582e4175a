package scenario

// Time in this package is int64 nanoseconds on the log's own clock, that is
// since the Unix epoch, unless a name says otherwise.

// step is how far the car's physics moves at a time. Between two steps every
// continuous quantity is a straight line; that line is what frames sample and
// where true crossings are found.
const step = int64(1_000_000)

// quantity is one continuous output of a module.
type quantity uint8

const (
	engineSpeed  quantity = iota // rpm, as a sensor without sense of direction sees it
	roadSpeed                    // km/h
	voltage                      // V
	current                      // A, discharge negative
	charge                       // %
	supply                       // V, of the modules
	fuelRate                     // L/h
	holdPressure                 // kPa
	acceleration                 // m/s2
	coolant                      // degC
	steering                     // degrees
	cabinError                   // K from what was asked for
	outside                      // degC
	pedal                        // %
	quantityCount
)

// output is one output of a module that jumps from value to value.
type output uint8

const (
	stopCommand output = iota
	starterCommand
	starterMode // as SAE J1939 SPN 1675 counts them
	ignition
	brake // 0 released, 1 pressed
	turnLamp
	airConditioning
	cancelSwitch
	inhibitCode
	gear
	starterCount
	radio
	steady // always 0
	outputCount
)

// change is an output that takes a new value at a moment.
type change struct {
	at    int64
	what  output
	value int64
}

// outputs holds what the outputs are and what they will be.
type outputs struct {
	value [outputCount]int64
	due   []change // by time
	// seen is called for every change as it takes place.
	seen func(change)
}

// set plans a change. A later plan for the same output does not undo it.
func (o *outputs) set(what output, value, at int64) {
	i := len(o.due)
	for i > 0 && o.due[i-1].at > at {
		i--
	}
	o.due = append(o.due, change{})
	copy(o.due[i+1:], o.due[i:])
	o.due[i] = change{at, what, value}
}

// planned reports whether an output is about to change.
func (o *outputs) planned(what output) bool {
	for i := range o.due {
		if o.due[i].what == what {
			return true
		}
	}
	return false
}

// next is the moment of the next planned change.
func (o *outputs) next() (int64, bool) {
	if len(o.due) == 0 {
		return 0, false
	}
	return o.due[0].at, true
}

// advance carries out what is due up to and including a moment.
func (o *outputs) advance(now int64) {
	for len(o.due) > 0 && o.due[0].at <= now {
		c := o.due[0]
		o.due = o.due[:copy(o.due, o.due[1:])]
		if o.value[c.what] == c.value {
			continue
		}
		o.value[c.what] = c.value
		o.seen(c)
	}
}

// curve holds the continuous quantities at the two ends of a step.
type curve struct {
	from     int64 // the step's start
	old, new [quantityCount]float64
}

// at returns a quantity at a moment within the step.
func (c *curve) at(q quantity, now int64) float64 {
	a, b := c.old[q], c.new[q]
	if a == b {
		return a
	}
	return a + mul(b-a, float64(now-c.from)/float64(step))
}

// falls returns the moment in this step at which a quantity reaches a level or
// less, coming from above it.
func (c *curve) falls(q quantity, level float64) (int64, bool) {
	a, b := c.old[q], c.new[q]
	if a <= level || b > level {
		return 0, false
	}
	return c.from + nearest(mul((a-level)/(a-b), float64(step))), true
}

// rises returns the moment at which it exceeds a level, coming from it or below.
func (c *curve) rises(q quantity, level float64) (int64, bool) {
	a, b := c.old[q], c.new[q]
	if a > level || b <= level {
		return 0, false
	}
	return c.from + nearest(mul((level-a)/(b-a), float64(step))), true
}
