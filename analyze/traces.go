package analyze

import "lull/decode"

// AllParts stands for all stretches of a log in Window.Part.
const AllParts = -1

// Window is a stretch of a log of which the samples are wanted, ends included.
type Window struct {
	Part     int   // as Episode.Part, or AllParts
	From, To int64 // ns from the first frame
	// Columns bounds what is kept: at most four points of a signal for each of so
	// many equal stretches of the window. A drawing has no use for more columns than
	// it is dots wide.
	Columns int
	Roles   []decode.Role // whose signals are wanted, those that the map has
	// Conditions asks for what the restart requests and inhibits were.
	Conditions bool
}

// TracePoint is one sample. Values are in the unit of the signal's role; those of
// switch roles are 1 for on and 0 for off, those of an inhibit code its raw value.
type TracePoint struct {
	T     int64 // ns from the first frame
	Value float64
	// Break tells that nothing is known of the time since the point before: the
	// signal stayed away for too long, or time was set back.
	Break bool
}

// Trace is a signal over a window. Where the signal was seen just before and
// after the window, one point on either side is there too, so that a line can be
// drawn to the window's ends.
type Trace struct {
	Role   decode.Role
	Points []TracePoint
}

// Stretch is a time in which a condition had one state.
type Stretch struct {
	From, To int64
	State    Truth
}

// Traces is what a window holds. Requests and Inhibits are as long as those of
// the map where Conditions was asked for, each without a hole from From to To.
type Traces struct {
	Window
	Signals            []Trace // in the order of Roles
	Requests, Inhibits [][]Stretch
}

// Of returns the points of a role's signal, none where it was never seen.
func (t *Traces) Of(role decode.Role) []TracePoint {
	for i := range t.Signals {
		if t.Signals[i].Role == role {
			return t.Signals[i].Points
		}
	}
	return nil
}
