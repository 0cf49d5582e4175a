package picture

import (
	"cmp"
	"fmt"
	"slices"

	"lull/analyze"
	"lull/cmd/lull/internal/words"
	"lull/decode"
	"lull/pkg/bounds"
)

// standstillRoles are the signals that the picture of a standstill shows.
var standstillRoles = []decode.Role{
	decode.VehicleSpeed, decode.EngineSpeed, decode.StopCommand, decode.StarterCommand, decode.Ignition, decode.InhibitCode,
}

// HasPicture reports whether a standstill is drawn. Those too short for the engine to be
// stopped, of which a drive in a queue has hundreds, are not.
func HasPicture(s *analyze.Standstill) bool {
	return s.NotCounted != analyze.TooShort && s.NotCounted != analyze.RecordingEnded
}

// standstillSpan returns the time that the picture of a standstill shows, which is long
// enough to see the vehicle come and leave.
func standstillSpan(s *analyze.Standstill, res *analyze.Result) [][2]int64 {
	const before, after = 4 * second, 3 * second
	from := max(s.Start.Low-before, 0)
	return [][2]int64{{from, max(min(s.End.High+after, res.Span), from+1)}}
}

// StandstillWindow is the window whose traces Standstill needs.
func StandstillWindow(s *analyze.Standstill, res *analyze.Result) analyze.Window {
	span := standstillSpan(s, res)[0]
	return analyze.Window{Part: s.Part, From: span[0], To: span[1], Columns: int(Wide) / 2, Roles: standstillRoles, Conditions: true}
}

// standstillMoments returns the instants of a standstill that its picture shows, in order
// of time.
func standstillMoments(s *analyze.Standstill, res *analyze.Result) []named {
	end := "leaves"
	if s.Open {
		end = "not recorded further"
	}
	list := []named{{s.Start, "stands"}, {s.End, end}}
	for i := range res.Episodes {
		e := &res.Episodes[i]
		if !s.Holds(e) {
			continue
		}
		list = append(list, named{e.Stop.Instant, fmt.Sprintf("episode %d", e.N)})
		if e.Running != nil {
			list = append(list, named{*e.Running, "running"})
		}
	}
	if words.KeyedOff(res, s) {
		list = append(list, named{bounds.At(s.Until), "key off"})
	}
	span := standstillSpan(s, res)[0]
	list = slices.DeleteFunc(list, func(n named) bool { return n.T < span[0] || n.T > span[1] })
	slices.SortStableFunc(list, func(a, b named) int { return cmp.Compare(a.T, b.T) })
	return list
}

// Standstill draws one standstill with some seconds around it: the speeds of vehicle and
// engine, what was on, when each inhibit and the car's own code was active, and below each
// inhibit what its signals measured and what the map compares them with. The traces are
// those of StandstillWindow.
func Standstill(m *decode.Map, res *analyze.Result, v *analyze.Standstill, traces analyze.Traces, width float64) Drawing {
	s := newSheet(m, []analyze.Traces{traces}, standstillSpan(v, res), width)
	s.Title = fmt.Sprintf("Standstill at %s s: %s", words.Moment(v.Start), words.StandstillWord(m, res, v).Text)
	var times []duration
	if !v.Open {
		length := analyze.MetricValue{Unit: "s", Value: bounds.Sub(v.End, v.Start)}
		if text, ok := words.MetricText(length); ok {
			times = append(times, duration{"", "length " + text, v.Start, v.End})
		}
	}
	s.instants(standstillMoments(v, res), times, res, func() {
		s.plot("vehicle speed", "km/h", 70, standstillRoles[:1], []Ink{Primary}, []rule{
			{ink: Threshold, value: m.Settings.StandstillSpeed, label: "stands " + words.Number(m.Settings.StandstillSpeed)},
		}, true)
		s.y += 6 // keeps the ends of two scales apart
		s.speed(70)
		s.y += 2
		s.switched("ignition", decode.Ignition)
		s.switched("stop command", decode.StopCommand)
		s.switched("starter", decode.StarterCommand)
		unknown := false
		for i := range m.Inhibits {
			s.inhibit(i, &unknown)
			s.below(words.MeasuredAgainst(m, v, i))
		}
		if s.ownCodes() == 0 && len(traces.Of(decode.InhibitCode)) > 0 {
			s.bar("own code: none", []stateSpan{{traces.From, traces.To, no, ""}})
		}
		s.silent(res)
		s.legend(unknown)
	})
	return s.Drawing
}

// below writes a text under the last bar.
func (s *sheet) below(text string) {
	left := s.left
	if s.narrow {
		left = 2
	}
	for _, line := range lines(text, s.Width-left-4) {
		s.text(Quiet, left, s.y+8, Start, line)
		s.y += 13
	}
	if text != "" {
		s.y += 2
	}
}
