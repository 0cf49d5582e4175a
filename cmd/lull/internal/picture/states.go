package picture

import (
	"fmt"

	"lull/analyze"
	"lull/cmd/lull/internal/words"
	"lull/decode"
	"lull/pkg/bounds"
)

// state is the look of a bar over a stretch of time.
type state uint8

const (
	no      state = iota // a thin line
	yes                  // filled
	unknown              // hatched
	missing              // crossed: a module that is silent
	failed               // a frame with an X in it, in a colour of its own
)

// stateSpan is a stretch of time of one bar.
type stateSpan struct {
	from, to int64
	state    state
	label    string
}

// barHeight is the height of a bar; its row is a little higher.
const barHeight = 11

// bar draws one row.
func (s *sheet) bar(title string, list []stateSpan) {
	if s.narrow {
		s.text(Words, 2, s.y+10, Start, fitting(title, s.Width-4))
		s.y += 13
	} else {
		s.text(Words, 2, s.y+10, Start, fitting(title, s.left-6))
	}
	top, bottom := s.y+1, s.y+1+barHeight
	for _, v := range list {
		for _, x := range s.time.boxes(v.from, v.to) {
			right := max(x[1], x[0]+0.8)
			switch v.state {
			case no:
				s.line(Quiet, Point{x[0], bottom - 1}, Point{right, bottom - 1})
			case yes:
				s.box(Area, Bar, x[0], top, right, bottom)
			case unknown:
				s.hatch(x[0], top, right, bottom, 8, false)
			case failed:
				s.box(Line, Failure, x[0], top, right, bottom)
				s.line(Failure, Point{x[0], top}, Point{right, bottom})
				s.line(Failure, Point{x[0], bottom}, Point{right, top})
			case missing:
				s.hatch(x[0], top, right, bottom, 5, true)
				s.box(Line, Outline, x[0], top, right, bottom)
			}
			if v.label != "" {
				room := s.time.right() - right - 4
				s.text(Words, right+4, s.y+10, Start, fitting(v.label, room))
			}
		}
	}
	s.y += barHeight + 6
}

// states draws what was on, what was true and who was silent.
func (s *sheet) states(res *analyze.Result) {
	s.y += 2
	s.switched("stop command", decode.StopCommand)
	s.switched("starter", decode.StarterCommand)
	unknown := false
	for i := range s.m.Requests {
		s.condition("ask: "+words.Visible(s.m.Requests[i].Name), i, func(t *analyze.Traces) [][]analyze.Stretch { return t.Requests }, &unknown)
	}
	for i := range s.m.Inhibits {
		s.inhibit(i, &unknown)
	}
	s.ownCodes()
	s.silent(res)
	s.legend(unknown)
}

// inhibit draws the bar of an inhibit.
func (s *sheet) inhibit(i int, anyUnknown *bool) {
	s.condition("inhibit: "+words.Visible(s.m.Inhibits[i].Name), i, func(t *analyze.Traces) [][]analyze.Stretch { return t.Inhibits }, anyUnknown)
}

// ownCodes draws a bar for each value of the car's own inhibit code that kept the engine
// running, and returns their number.
func (s *sheet) ownCodes() int {
	list, codes := s.codes()
	for _, code := range codes {
		s.bar("own code: "+words.Visible(analyze.CodeName(s.m.RoleSignal(decode.InhibitCode), code)), list[code])
	}
	return len(codes)
}

// silent draws a bar for each module that was silent in the time shown or in the episode.
func (s *sheet) silent(res *analyze.Result) {
	silent := map[string][]stateSpan{}
	var order []string
	for _, v := range res.Silences {
		if (s.e.N == 0 || v.Episode != s.e.N) && len(s.time.boxes(v.Start, v.Start+v.Duration)) == 0 {
			continue
		}
		name := words.Visible(v.Module)
		if name == "" {
			name = v.ID
		}
		if silent[name] == nil {
			order = append(order, name)
		}
		silent[name] = append(silent[name], stateSpan{v.Start, v.Start + v.Duration, missing, fixed(bounds.Seconds(v.Duration), 2) + " s"})
	}
	for _, name := range order {
		s.bar("silent: "+name, silent[name])
	}
}

// legend explains hatching if there is any.
func (s *sheet) legend(anyUnknown bool) {
	if anyUnknown {
		s.text(Quiet, s.left, s.y+10, Start, fitting("slanting lines: not known", s.Width-s.left))
		s.y += 15
	}
	s.y += 2
}

// switched draws the bar of a switch role if the log showed it.
func (s *sheet) switched(title string, role decode.Role) {
	var list []stateSpan
	for i := range s.traces {
		points := s.traces[i].Of(role)
		for k, p := range points {
			v := stateSpan{from: p.T, to: s.traces[i].To, state: no}
			if k+1 < len(points) {
				v.to = points[k+1].T
				if points[k+1].Break {
					v.state = unknown
				}
			}
			if p.Value != 0 && v.state != unknown {
				v.state = yes
			}
			if n := len(list); n > 0 && list[n-1].state == v.state && list[n-1].to == v.from {
				list[n-1].to = v.to
			} else {
				list = append(list, v)
			}
		}
	}
	if len(list) > 0 {
		s.bar(title, list)
	}
}

// codes returns the stretches of each value of the car's own inhibit code that kept the
// engine running, and the values in order of appearance.
func (s *sheet) codes() (spans map[int64][]stateSpan, order []int64) {
	spans = map[int64][]stateSpan{}
	signal := s.m.RoleSignal(decode.InhibitCode)
	for i := range s.traces {
		points := s.traces[i].Of(decode.InhibitCode)
		for k, p := range points {
			raw, to := int64(p.Value), s.traces[i].To
			if k+1 < len(points) {
				to = points[k+1].T
			}
			if signal.IsClear(raw) || k+1 < len(points) && points[k+1].Break {
				continue
			}
			if spans[raw] == nil {
				order = append(order, raw)
			}
			if list := spans[raw]; len(list) > 0 && list[len(list)-1].to == p.T {
				list[len(list)-1].to = to
			} else {
				spans[raw] = append(list, stateSpan{from: p.T, to: to, state: yes})
			}
		}
	}
	return spans, order
}

// within returns the parts of the spans that lie in standstills.
func within(list []stateSpan, stands []analyze.Standstill) []stateSpan {
	var kept []stateSpan
	for _, v := range list {
		for i := range stands {
			from, to := max(v.from, stands[i].Start.T), min(v.to, stands[i].End.T)
			if from < to {
				kept = append(kept, stateSpan{from, to, v.state, v.label})
			}
		}
	}
	return kept
}

// condition draws the bar of a restart request or an inhibit.
func (s *sheet) condition(title string, i int, of func(*analyze.Traces) [][]analyze.Stretch, anyUnknown *bool) {
	var list []stateSpan
	for k := range s.traces {
		if all := of(&s.traces[k]); i < len(all) {
			for _, v := range all[i] {
				b := stateSpan{from: v.From, to: v.To, state: no}
				switch v.State {
				case analyze.True:
					b.state = yes
				case analyze.Unknown:
					b.state = unknown
					*anyUnknown = true
				}
				list = append(list, b)
			}
		}
	}
	s.bar(title, list)
}

// driveRoles are the signals that the overview of a drive shows.
var driveRoles = []decode.Role{decode.VehicleSpeed, decode.EngineSpeed, decode.InhibitCode}

// DriveWindow is the window whose traces Drive needs.
func DriveWindow(res *analyze.Result) analyze.Window {
	return analyze.Window{Part: analyze.AllParts, From: 0, To: max(res.Span, 1), Columns: int(Wide), Roles: driveRoles}
}

// Drive draws a whole log on one line of time: the vehicle's speed, when the
// engine ran, its stops with the episodes' numbers, each standstill, and what kept
// the engine running in it.
func Drive(m *decode.Map, res *analyze.Result, traces analyze.Traces, width float64) Drawing {
	s := newSheet(m, []analyze.Traces{traces}, [][2]int64{{0, max(res.Span, 1)}}, width)
	s.Title = "The drive"
	s.Description = fmt.Sprintf("%d standstills, %d episodes", len(res.Standstills), len(res.Episodes))
	s.y = 2
	s.plot("vehicle speed", "km/h", 70, driveRoles[:1], []Ink{Primary}, nil, true)
	var runs []stateSpan
	points := traces.Of(decode.EngineSpeed)
	for k, p := range points {
		v := stateSpan{from: p.T, to: traces.To, state: no}
		if k+1 < len(points) {
			v.to = points[k+1].T
		}
		switch {
		case k+1 < len(points) && points[k+1].Break:
			v.state = unknown
		case p.Value >= m.Settings.RunningSpeed:
			v.state = yes
		}
		if n := len(runs); n > 0 && runs[n-1].state == v.state {
			runs[n-1].to = v.to
		} else {
			runs = append(runs, v)
		}
	}
	s.bar("engine runs", runs)
	s.stops(res)
	s.standstills(res)
	for i := range m.Inhibits {
		var list []stateSpan
		for k := range res.Standstills {
			for _, h := range res.Standstills[k].Inhibits {
				if h.Condition != i {
					continue
				}
				for _, v := range h.Intervals {
					list = append(list, stateSpan{v[0], v[1], yes, ""})
				}
			}
		}
		if len(list) > 0 {
			s.bar("inhibit: "+words.Visible(m.Inhibits[i].Name), list)
		}
	}
	list, codes := s.codes()
	for _, code := range codes {
		if list := within(list[code], res.Standstills); len(list) > 0 {
			s.bar("own code: "+words.Visible(analyze.CodeName(m.RoleSignal(decode.InhibitCode), code)), list)
		}
	}
	bottom := s.y
	var under Drawing
	under.uprights(s.time, 4, bottom, s.texts())
	s.Shapes = append(under.Shapes, s.Shapes...)
	for i := range res.Gaps {
		for _, x := range s.time.boxes(res.Gaps[i].Start, res.Gaps[i].End) {
			s.hatch(x[0], 4, max(x[1], x[0]+2), bottom, 14, false)
		}
	}
	s.Height = s.scale(s.time, bottom)
	for _, line := range lines("standstills: filled: engine stopped; outlined: kept running by what is below; "+
		"crossed: no reason found; slanting lines: cannot be told; thin line: not counted; !: it did not start, stalled, or needed more than one attempt", s.Width-4) {
		s.text(Quiet, 2, s.Height+9, Start, line)
		s.Height += 14
	}
	return s.Drawing
}

// stops draws each episode from stop onset to running, with its number if there is room.
func (s *sheet) stops(res *analyze.Result) {
	if len(res.Episodes) == 0 {
		return
	}
	var list []stateSpan
	for i := range res.Episodes {
		e := &res.Episodes[i]
		state := yes
		if words.Failed(e) {
			state = failed
		}
		list = append(list, stateSpan{e.Stop.T, spans(e, res.Span)[len(spans(e, res.Span))-1][1], state, ""})
		if e.Running != nil {
			list[i].to = e.Running.T
		}
	}
	end := 0.0
	for i, v := range list {
		x := s.time.x(v.from)
		label := fmt.Sprint(res.Episodes[i].N)
		if x < end {
			continue
		}
		ink := Words
		if v.state == failed {
			ink, label = Failure, "! "+label
		}
		s.text(ink, x, s.y+10, Start, label)
		end = x + wide(label) + 3
	}
	s.y += 13
	s.bar("episodes", list)
}

// standstills draws each standstill by its outcome.
func (s *sheet) standstills(res *analyze.Result) {
	if len(res.Standstills) == 0 {
		return
	}
	top := s.y + 1
	if s.narrow {
		top += 13
	}
	var list []stateSpan
	for i := range res.Standstills {
		v := &res.Standstills[i]
		b := stateSpan{from: v.Start.T, to: v.End.T, state: no}
		switch {
		case v.Stopped:
			b.state = yes
		case !v.Opportunity || v.Open:
		case v.Unexplained:
			b.state = missing
		case len(v.CannotTell) > 0:
			b.state = unknown
		}
		list = append(list, b)
	}
	s.bar("standstills", list)
	for i := range res.Standstills {
		v := &res.Standstills[i]
		if v.Opportunity {
			for _, x := range s.time.boxes(v.Start.T, v.End.T) {
				s.box(Line, Outline, x[0], top, max(x[1], x[0]+1), top+barHeight)
			}
		}
	}
}
