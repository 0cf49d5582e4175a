package picture

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"lull/analyze"
	"lull/cmd/lull/internal/words"
	"lull/decode"
	"lull/pkg/bounds"
)

// Widths that pictures are drawn for, in px.
const (
	Wide   = 960.0 // a laptop, and paper
	Sheet  = 680.0 // the one side of paper that a customer is given
	Narrow = 380.0 // a phone

	margin   = 186.0 // left of wide plots
	narrower = 600.0 // below this, draw as for a phone
)

const (
	second      = int64(1e9)
	millisecond = int64(1e6)
)

// episodeRoles are the signals that the picture of an episode shows.
var episodeRoles = []decode.Role{
	decode.EngineSpeed, decode.BatteryVoltage, decode.ModuleSupply, decode.HoldPressure, decode.StopCommand, decode.StarterCommand,
	decode.InhibitCode,
}

// spans returns the pieces of time that the picture of an episode shows: around each of its
// instants, joined if little lies between them.
func spans(e *analyze.Episode, end int64) [][2]int64 {
	const before, after, joined = second / 2, second * 2 / 5, second * 3 / 2
	var list [][2]int64
	add := func(i bounds.Instant, after int64) {
		list = append(list, [2]int64{max(i.Low-before, 0), max(min(i.High+after, end), i.Low+1)})
	}
	add(e.Stop.Instant, after)
	for _, m := range moments(e, nil) {
		add(m.Instant, after)
	}
	if e.Running != nil {
		add(*e.Running, 2*second)
	} else {
		last := list[len(list)-1][1]
		list[len(list)-1][1] = max(min(last+second, end), last)
	}
	slices.SortFunc(list, func(a, b [2]int64) int { return cmp.Compare(a[0], b[0]) })
	merged := list[:1]
	for _, s := range list[1:] {
		if last := &merged[len(merged)-1]; s[0] <= last[1]+joined {
			last[1] = max(last[1], s[1])
		} else {
			merged = append(merged, s)
		}
	}
	return merged
}

// EpisodeWindows returns the windows whose traces Episode needs.
func EpisodeWindows(e *analyze.Episode, res *analyze.Result) []analyze.Window {
	var list []analyze.Window
	for _, s := range spans(e, res.Span) {
		list = append(list, analyze.Window{
			Part: e.Part, From: s[0], To: s[1], Columns: int(Wide) / 2, Roles: episodeRoles, Conditions: true,
		})
	}
	return list
}

// named is an instant with what happened then.
type named struct {
	bounds.Instant
	name string
}

// moments returns an episode's instants in order of time.
func moments(e *analyze.Episode, m *decode.Map) []named {
	list := []named{{e.Stop.Instant, "stop"}}
	if e.Rest != nil {
		list = append(list, named{*e.Rest, "rest"})
	}
	request := func(r analyze.Request, word string) {
		name := word
		if m != nil {
			name += words.Visible(m.Requests[r.Condition].Name)
		}
		list = append(list, named{r.Instant, name})
	}
	if e.Request != nil {
		request(*e.Request, "asked: ")
	}
	for _, r := range e.Also {
		request(r, "also: ")
	}
	if e.Decision != nil && (len(e.Cranks) == 0 || e.Decision.Instant != e.Cranks[0].Instant) {
		list = append(list, named{e.Decision.Instant, decided})
	}
	for _, c := range e.Cranks {
		list = append(list, named{c.Instant, "crank"})
	}
	if e.Running != nil {
		list = append(list, named{*e.Running, "running"})
	}
	slices.SortStableFunc(list, func(a, b named) int { return cmp.Compare(a.T, b.T) })
	return list
}

// sheet is a drawing being made, from top to bottom.
type sheet struct {
	Drawing
	m      *decode.Map
	e      *analyze.Episode
	traces []analyze.Traces
	time   timeline
	left   float64 // of the plots
	y      float64 // everything above is drawn
	narrow bool
}

// newSheet returns an empty sheet whose axis shows the pieces of time.
func newSheet(m *decode.Map, traces []analyze.Traces, pieces [][2]int64, width float64) *sheet {
	s := &sheet{m: m, e: &analyze.Episode{}, traces: traces, narrow: width < narrower, left: plotsLeft(width)}
	s.Width = width
	s.time = newTimeline(pieces, s.left, width-8)
	return s
}

// plotsLeft returns where plots begin on a sheet of that width.
func plotsLeft(width float64) float64 {
	if width < narrower {
		return 40
	}
	return margin
}

// Episode draws one episode: its instants with their bounds, the times between them, engine
// speed, voltages and pressure with their limits and thresholds, and what was on or true,
// on one time axis. The time between its pieces is left out, and the axis says how much.
// The traces are those of EpisodeWindows.
func Episode(m *decode.Map, res *analyze.Result, e *analyze.Episode, traces []analyze.Traces, width float64) Drawing {
	s := newSheet(m, traces, spans(e, res.Span), width)
	s.e = e
	s.Title = fmt.Sprintf("Episode %d: %s", e.N, words.OutcomeWord(e).Text)
	s.instants(moments(e, m), s.measured(), res, func() {
		s.speed(118)
		s.voltages()
		s.pressure()
		s.states(res)
	})
	return s.Drawing
}

// plainMoments are the names of instants for a person who knows no bus.
var plainMoments = map[string]string{"stop": "engine stops", "rest": "at rest", "crank": "starter on", "running": "engine runs"}

const decided = "decided" // the car: of no use to such a person

// EpisodeOutline draws of an episode what a person needs who knows no bus: its instants, the
// time that the driver waited, engine speed, and what the metric was measured of. The traces
// are those of EpisodeWindows.
func EpisodeOutline(m *decode.Map, res *analyze.Result, e *analyze.Episode, traces []analyze.Traces, metric string, width float64) Drawing {
	s := newSheet(m, traces, spans(e, res.Span), width)
	s.e = e
	s.Title = fmt.Sprintf("Episode %d: %s", e.N, words.OutcomeWord(e).Text)
	waited := slices.DeleteFunc(s.measured(), func(d duration) bool { return d.key != "restart_latency" })
	list := slices.DeleteFunc(moments(e, m), func(n named) bool { return n.name == decided })
	for i := range list {
		if plain, ok := plainMoments[list[i].name]; ok {
			list[i].name = plain
		}
	}
	s.instants(list, waited, res, func() {
		s.plot("engine speed", "rpm", 118, []decode.Role{decode.EngineSpeed}, []Ink{Primary}, nil, true)
		if metric == "hold_pressure_min" {
			s.pressure()
		} else {
			s.voltages()
		}
	})
	return s.Drawing
}

// instants draws the whole sheet: the names of some instants, the times between them,
// the rows that draw adds, and over all of these a line and a band for each instant, and
// the gaps of the recording.
func (s *sheet) instants(list []named, times []duration, res *analyze.Result, draw func()) {
	var told []string
	for _, n := range list {
		told = append(told, fmt.Sprintf("%s at %s s", n.name, words.MomentText(bounds.Seconds(n.Low), bounds.Seconds(n.T), bounds.Seconds(n.High))))
	}
	s.Description = strings.Join(told, "; ")

	s.y = 4
	names := s.lanes(list)
	s.durations(times)
	top := s.y
	shadow := len(s.Shapes) // the bands are drawn below all that follows
	draw()
	bottom := s.y
	var under Drawing
	texts := s.texts()
	under.uprights(s.time, top, bottom, texts)
	for _, n := range list {
		for _, x := range s.time.boxes(n.Low, n.High) {
			right := max(x[1], x[0]+1)
			under.box(Area, Band, x[0], top, right, bottom)
		}
	}
	for i := range res.Gaps {
		for _, x := range s.time.boxes(res.Gaps[i].Start, res.Gaps[i].End) {
			under.hatch(x[0], top, max(x[1], x[0]+2), bottom, 14, false)
			under.text(Quiet, x[0]+3, bottom-4, Start, fitting("no recording", x[1]-x[0]))
		}
	}
	s.Shapes = slices.Insert(s.Shapes, shadow, under.Shapes...)
	for i, n := range list {
		s.upright(Moment, s.time.x(n.T), names[i], bottom, texts)
	}
	s.Height = s.scale(s.time, bottom)
}

// lanes writes the names of the instants above the plots, in as many rows as they need, and
// returns the height at which each instant's line begins.
func (s *sheet) lanes(list []named) []float64 {
	var ends []float64
	heights := make([]float64, len(list))
	rows := make([]int, len(list))
	for i, n := range list {
		x := s.time.x(n.T)
		label := fitting(n.name, s.Width-10)
		from, anchor, at := x+3, Start, x+3
		if x+3+wide(label) > s.Width-2 {
			from, anchor, at = x-3-wide(label), End, x-3
		}
		row := slices.IndexFunc(ends, func(end float64) bool { return end < from })
		if row < 0 {
			row = len(ends)
			ends = append(ends, 0)
		}
		// The line of an instant runs down through the rows below its name, so no later
		// name may be put there.
		for k := row; k < len(ends); k++ {
			ends[k] = max(ends[k], x+3)
		}
		ends[row] = at + wide(label) + 6
		if anchor == End {
			ends[row] = x + 3
		}
		rows[i] = row
		y := s.y + 10 + float64(row)*14
		s.text(Heading, at, y, anchor, label)
		heights[i] = y - 9
	}
	s.y += float64(len(ends))*14 + 4
	return heights
}

// duration is a time between two instants with its text.
type duration struct {
	key      string // of the metric; "" of a standstill's length
	label    string
	from, to bounds.Instant
}

// measured returns the times that the episode is measured by, each with its bounds.
func (s *sheet) measured() []duration {
	e := s.e
	var list []duration
	add := func(key string, from, to *bounds.Instant) {
		at := slices.IndexFunc(e.Metrics, func(m analyze.MetricValue) bool { return m.Key == key })
		if at < 0 || from == nil || to == nil {
			return
		}
		if text, ok := words.MetricText(e.Metrics[at]); ok {
			list = append(list, duration{key, words.Spoken(key) + " " + text, *from, *to})
		}
	}
	var request, first, last *bounds.Instant
	if e.Request != nil {
		request = &e.Request.Instant
	}
	if n := len(e.Cranks); n > 0 {
		first, last = &e.Cranks[0].Instant, &e.Cranks[n-1].Instant
	}
	add("run_down", &e.Stop.Instant, e.Rest)
	add("stop_duration", e.Rest, first)
	add("restart_latency", request, e.Running)
	add("request_to_crank", request, first)
	add("crank_to_run", last, e.Running)
	return list
}

// durations draws times between instants.
func (s *sheet) durations(list []duration) {
	var ends []float64
	for _, v := range list {
		label := fitting(v.label, s.Width-6)
		from, to := s.time.x(v.from.T), s.time.x(v.to.T)
		if from > to {
			from, to = to, from
		}
		x, anchor, begin := to+4, Start, from
		if x+wide(label) > s.Width-2 {
			x, anchor, begin = from-4, End, from-4-wide(label)
			switch {
			case begin >= 2:
			case 2+wide(label) < from-2:
				x, anchor, begin = 2, Start, 2
			default: // no room beside it: a row of its own above
				ends = append(ends, s.Width)
				s.text(Words, 2, s.y+9+float64(len(ends)-1)*15, Start, label)
				label, begin = "", from
			}
		}
		end := max(to, begin+wide(label)+8)
		if anchor == Start && x > to {
			end = x + wide(label)
		}
		row := slices.IndexFunc(ends, func(used float64) bool { return used+8 < begin })
		if row < 0 {
			row = len(ends)
			ends = append(ends, 0)
		}
		ends[row] = end
		y := s.y + 9 + float64(row)*15
		s.line(Mark, Point{from, y - 4}, Point{to, y - 4})
		s.line(Mark, Point{from, y - 8}, Point{from, y})
		s.line(Mark, Point{to, y - 8}, Point{to, y})
		s.text(Words, x, y, anchor, label)
	}
	s.y += float64(len(ends))*15 + 2
}

// rule is a threshold or a limit in a plot.
type rule struct {
	ink   Ink
	value float64
	label string
	// side is the side on which the limit is broken: below (-1) or above (1); 0 for a
	// setting.
	side int
}

// plot draws the traces of some roles over one another.
func (s *sheet) plot(title, unit string, height float64, roles []decode.Role, inks []Ink, rules []rule, fromZero bool) (axis, bool) {
	low, high, any := 0.0, 0.0, false
	include := func(v float64) {
		if !any {
			low, high, any = v, v, true
		}
		low, high = min(low, v), max(high, v)
	}
	for i := range s.traces {
		for _, role := range roles {
			for _, p := range s.traces[i].Of(role) {
				if p.T >= s.traces[i].From && p.T <= s.traces[i].To {
					include(p.Value)
				}
			}
		}
	}
	if !any {
		return axis{}, false
	}
	for _, r := range rules {
		include(r.value)
	}
	if fromZero {
		include(0)
	}
	if s.narrow {
		s.text(Heading, 2, s.y+10, Start, title+", "+unit)
		s.y += 14
	} else {
		s.text(Heading, 2, s.y+12, Start, title)
		s.text(Quiet, 2, s.y+26, Start, unit)
	}
	spare := (high - low) * 0.06
	if spare == 0 {
		spare = max(math.Abs(high)*0.05, 0.5)
	}
	a := axis{low - spare, high + spare, s.y + 4, s.y + height}
	if fromZero {
		a.low = min(low, 0)
	}
	ticks, decimals := roundSteps(a.low, a.high, max(int(height/16), 3))
	for _, v := range ticks {
		for _, p := range s.time {
			s.line(Grid, Point{p.left, a.y(v)}, Point{p.right, a.y(v)})
		}
		s.text(Quiet, s.left-5, a.y(v)+4, End, fixed(v, decimals))
	}
	for _, r := range rules {
		y := a.y(r.value)
		for _, p := range s.time {
			s.line(r.ink, Point{p.left, y}, Point{p.right, y})
			if r.side != 0 {
				// Short strokes on the side on which the limit is broken.
				for x := p.left + 4; x < p.right-4; x += 20 {
					s.line(Hatch, Point{x, y}, Point{x + 4, y - float64(r.side)*5})
				}
			}
		}
	}
	for i := range s.traces {
		for k, role := range roles {
			s.trace(s.time[i:i+1], a, s.traces[i].Of(role), inks[k])
		}
	}
	for _, r := range rules {
		s.text(Quiet, s.time.left()+3, a.y(r.value)-3, Start, r.label)
	}
	s.y += height + 8
	return a, true
}

func (s *sheet) speed(height float64) {
	set := s.m.Settings
	s.plot("engine speed", "rpm", height, []decode.Role{decode.EngineSpeed}, []Ink{Primary}, []rule{
		{ink: Threshold, value: set.RunningSpeed, label: "running " + fixed(set.RunningSpeed, 0)},
		{ink: Threshold, value: set.RestSpeed, label: "rest " + fixed(set.RestSpeed, 0)},
	}, true)
}

// limits returns the map's limits on a metric as rules.
func (s *sheet) limits(key, unit string) []rule {
	var list []rule
	for _, l := range s.m.Limits {
		if l.Metric != key {
			continue
		}
		if l.HasMin {
			list = append(list, rule{Limit, l.Min, fmt.Sprintf("limit: at least %v %s", l.Min, unit), -1})
		}
		if l.HasMax {
			list = append(list, rule{Limit, l.Max, fmt.Sprintf("limit: at most %v %s", l.Max, unit), 1})
		}
	}
	return list
}

func (s *sheet) voltages() {
	roles, inks := []decode.Role{decode.BatteryVoltage}, []Ink{Primary}
	rules := s.limits("voltage_min", "V")
	if len(rules) == 0 {
		rules = s.limits("module_supply_min", "V")
	}
	if s.m.RoleSignal(decode.ModuleSupply) != nil {
		roles, inks = append(roles, decode.ModuleSupply), append(inks, Secondary)
	}
	a, ok := s.plot("voltage", "V", 92, roles, inks, rules, false)
	if !ok {
		return
	}
	if len(roles) > 1 {
		x, y := 2.0, a.top+38
		if s.narrow {
			x, y = s.left+4, s.y
			s.y += 12
		}
		s.line(Primary, Point{x, y - 4}, Point{x + 22, y - 4})
		s.text(Quiet, x+26, y, Start, "battery")
		if s.narrow {
			x += 90
		} else {
			y += 14
		}
		s.line(Secondary, Point{x, y - 4}, Point{x + 22, y - 4})
		s.text(Quiet, x+26, y, Start, "modules")
	}
	s.lowest(a, decode.BatteryVoltage, "voltage_min")
}

func (s *sheet) pressure() {
	a, ok := s.plot("hold pressure", "kPa", 62, []decode.Role{decode.HoldPressure}, []Ink{Primary}, s.limits("hold_pressure_min", "kPa"), false)
	if ok {
		s.lowest(a, decode.HoldPressure, "hold_pressure_min")
	}
}

// lowest marks the sample that a metric of the lowest value is taken from.
func (s *sheet) lowest(a axis, role decode.Role, key string) {
	at := slices.IndexFunc(s.e.Metrics, func(m analyze.MetricValue) bool { return m.Key == key && m.Absent == nil })
	if at < 0 {
		return
	}
	text, ok := words.MetricText(s.e.Metrics[at])
	for i := len(s.traces) - 1; i >= 0 && ok; i-- {
		for _, p := range s.traces[i].Of(role) {
			if p.Value != s.e.Metrics[at].Best || !s.time.shows(p.T) {
				continue
			}
			x, y := s.time.x(p.T), a.y(p.Value)
			s.line(Mark, Point{x - 4, y - 4}, Point{x + 4, y + 4})
			s.line(Mark, Point{x - 4, y + 4}, Point{x + 4, y - 4})
			s.note(Words, Point{x, y}, a.top-4, a.bottom, s.time.right(), "lowest "+text)
			return
		}
	}
}
