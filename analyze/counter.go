package analyze

import (
	"math"

	"lull/decode"
)

// wrapStep is how far a counter may step between two readings to be taken as
// having run over its width's end: a reset to 0 at just that place is less
// likely than a handful of starts.
const wrapStep = 16

// CounterStep is how far a counter went from one reading to the next, over its
// width's end too. reset tells that it was set back instead, which step then says.
func CounterStep(from, to float64, signal *decode.Signal) (step float64, reset bool) {
	step = to - from
	if step >= 0 {
		return step, false
	}
	span := math.Ldexp(signal.Scale.Step(), signal.Length)
	if over := step + span; over >= 0 && over <= wrapStep*signal.Scale.Step() {
		return over, false
	}
	return step, true
}
