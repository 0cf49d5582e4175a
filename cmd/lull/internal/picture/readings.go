package picture

import (
	"lull/analyze"
	"lull/cmd/lull/internal/words"
	"lull/decode"
	"lull/pkg/bounds"
)

// Readings is what can be read off a picture at a moment: where each time lies in the
// picture, and the values seen by then.
type Readings struct {
	Pieces  Pieces    `json:"pieces"`
	Moments []Moments `json:"moments"`
	Signals []Signal  `json:"signals"`
	States  []State   `json:"states"`
}

// Pieces are the pieces of time of both pictures, each as from and to in seconds and left
// and right in pixels.
type Pieces struct {
	Wide   [][4]float64 `json:"wide"`
	Narrow [][4]float64 `json:"narrow"`
}

// Moments is an instant with its name.
type Moments struct {
	T    float64 `json:"t"` // s from the first frame
	Name string  `json:"name"`
}

// Signal is a trace of the picture. Points are time in seconds and value; the
// third number is 1 where nothing is known of the time since the point before.
type Signal struct {
	Name   string       `json:"name"`
	Unit   string       `json:"unit"`
	Points [][3]float64 `json:"points"`
}

// State is a condition, or a code of the car's own, with the times at which it was true or unknown: from, to,
// and 1 for true, 2 for unknown.
type State struct {
	Name  string       `json:"name"`
	Spans [][3]float64 `json:"spans"`
}

// readable lists the signals that a reading names, with their names in the picture.
var readable = []struct {
	role decode.Role
	name string
}{
	{decode.VehicleSpeed, "vehicle speed"}, {decode.EngineSpeed, "engine speed"}, {decode.BatteryVoltage, "battery voltage"}, {decode.ModuleSupply, "module voltage"},
	{decode.HoldPressure, "hold pressure"}, {decode.StopCommand, "stop command"}, {decode.StarterCommand, "starter"},
	{decode.Ignition, "ignition"},
}

// ReadingsOf returns what can be read off the picture that Episode draws. Text in it is
// harmless to a terminal; HTML must escape it.
func ReadingsOf(m *decode.Map, res *analyze.Result, e *analyze.Episode, traces []analyze.Traces) Readings {
	r := readings(m, spans(e, res.Span), moments(e, m), traces)
	for i := range m.Requests {
		r.state("ask: "+words.Visible(m.Requests[i].Name), i, traces, func(t *analyze.Traces) [][]analyze.Stretch { return t.Requests })
	}
	r.inhibits(m, traces)
	return r
}

// StandstillReadings does the same for the picture that Standstill draws.
func StandstillReadings(m *decode.Map, res *analyze.Result, s *analyze.Standstill, traces analyze.Traces) Readings {
	list := []analyze.Traces{traces}
	r := readings(m, standstillSpan(s, res), standstillMoments(s, res), list)
	r.inhibits(m, list)
	return r
}

// readings returns all but the states.
func readings(m *decode.Map, shown [][2]int64, instants []named, traces []analyze.Traces) Readings {
	r := Readings{Moments: []Moments{}, Signals: []Signal{}, States: []State{}}
	r.Pieces.Wide = pieces(shown, Wide)
	r.Pieces.Narrow = pieces(shown, Narrow)
	for _, n := range instants {
		r.Moments = append(r.Moments, Moments{bounds.Seconds(n.T), n.name})
	}
	for _, v := range readable {
		s := Signal{Name: v.name, Unit: decode.Roles[v.role].Unit}
		for i := range traces {
			for k, p := range traces[i].Of(v.role) {
				lost := 0.0
				if p.Break || k == 0 {
					lost = 1
				}
				s.Points = append(s.Points, [3]float64{bounds.Seconds(p.T), p.Value, lost})
			}
		}
		if len(s.Points) > 0 {
			r.Signals = append(r.Signals, s)
		}
	}
	return r
}

// inhibits adds the inhibits and the car's own codes.
func (r *Readings) inhibits(m *decode.Map, traces []analyze.Traces) {
	for i := range m.Inhibits {
		r.state("inhibit: "+words.Visible(m.Inhibits[i].Name), i, traces, func(t *analyze.Traces) [][]analyze.Stretch { return t.Inhibits })
	}
	codes, order := (&sheet{m: m, traces: traces}).codes()
	for _, code := range order {
		s := State{Name: "own code: " + words.Visible(analyze.CodeName(m.RoleSignal(decode.InhibitCode), code))}
		for _, v := range codes[code] {
			s.Spans = append(s.Spans, [3]float64{bounds.Seconds(v.from), bounds.Seconds(v.to), 1})
		}
		r.States = append(r.States, s)
	}
}

func (r *Readings) state(name string, i int, traces []analyze.Traces, of func(*analyze.Traces) [][]analyze.Stretch) {
	s := State{Name: name, Spans: [][3]float64{}}
	for k := range traces {
		for _, v := range of(&traces[k])[i] {
			code := 0.0
			switch v.State {
			case analyze.False:
				continue
			case analyze.True:
				code = 1
			default:
				code = 2
			}
			s.Spans = append(s.Spans, [3]float64{bounds.Seconds(v.From), bounds.Seconds(v.To), code})
		}
	}
	r.States = append(r.States, s)
}

func pieces(shown [][2]int64, width float64) [][4]float64 {
	var list [][4]float64
	for _, p := range newTimeline(shown, plotsLeft(width), width-8) {
		list = append(list, [4]float64{bounds.Seconds(p.from), bounds.Seconds(p.to), p.left, p.right})
	}
	return list
}
