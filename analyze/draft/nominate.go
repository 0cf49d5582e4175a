package draft

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"lull/decode"
	"lull/decode/dbc"
	"lull/pkg/units"
)

// leastWords is what the words of a signal must weigh to speak for a quantity.
const leastWords = 3.5

// nominee is a signal of the database that may be a quantity, found in the log.
type nominee struct {
	field  field
	signal *dbc.Signal
	from   *dbc.Message
	score  float64 // of words and behaviour
	proved bool    // it behaves as the quantity does, beyond what its range says
	moves  bool
	values series // in the quantity's unit
	toUnit units.Conversion
	unit   string
}

// nominated takes what a database of the bus names, as far as it behaves like it.
func (b *bench) nominated(d *dbc.Database) {
	if d == nil {
		return
	}
	b.nominees = map[Quantity][]nominee{}
	for i := range d.Messages {
		m := &d.Messages[i]
		for _, s := range b.carriers(m) {
			for k := range m.Signals {
				b.nominate(m, &m.Signals[k], s)
			}
		}
	}
}

// carriers returns the streams that carry a message: by its identifier, or, for one of
// J1939 with the address that stands for any, by its group.
func (b *bench) carriers(m *dbc.Message) []*stream {
	var list []*stream
	for _, s := range b.whole {
		if s.extended == m.Extended && s.id == m.ID {
			list = append(list, s)
		}
	}
	if list == nil && m.Extended && m.ID&0xFF == 0xFE {
		var busiest *stream
		for _, s := range b.whole {
			if s.extended && decode.PGN(s.id) == decode.PGN(m.ID) && (busiest == nil || len(s.t) > len(busiest.t)) {
				busiest = s
			}
		}
		if busiest != nil {
			list = append(list, busiest)
		}
	}
	return list
}

// placed is the signal as a field of the stream, if the stream's words hold it.
func (s *stream) placed(x *dbc.Signal) (field, bool) {
	f := decode.Signal{Start: x.Field.Start - 8*s.from, Length: x.Field.Length, BigEndian: x.Field.BigEndian}
	if x.Field.Float || f.Start < 0 {
		return field{}, false
	}
	for _, b := range f.Bits() {
		if b < 0 || b >= 8*s.size {
			return field{}, false
		}
	}
	hi := positionOf(false, f.Start+f.Length-1)
	if f.BigEndian {
		hi = positionOf(true, f.Start)
	}
	return field{s: s, big: f.BigEndian, hi: hi, n: f.Length, signed: x.Field.Signed}, true
}

// only returns the stream's frames in which a selector has one of some values.
func (s *stream) only(selector field, values []int64) *stream {
	part := &stream{bus: s.bus, id: s.id, extended: s.extended, from: s.from, size: s.size, page: int(values[0]), pageStart: selector.start(), pageBits: selector.n}
	for i := range s.w {
		if slices.Contains(values, selector.raw(i)) {
			part.t, part.w = append(part.t, s.t[i]), append(part.w, s.w[i])
		}
	}
	part.prepare()
	return part
}

// nominate weighs a signal for each quantity.
func (b *bench) nominate(m *dbc.Message, x *dbc.Signal, s *stream) {
	f, ok := s.placed(x)
	if !ok {
		return
	}
	name, message := wordsOf(x.Field.Name), wordsOf(m.Name)
	for i := range roles {
		r := &roles[i]
		n := nominee{field: f, signal: x, from: m, score: r.weighs(name, message)}
		if r.number {
			if n.toUnit, n.unit, ok = r.inUnit(x.Unit); !ok {
				continue
			}
			if x.Unit != "" {
				n.score += 2
			}
		} else if r.longest > 0 && x.Field.Length > r.longest || !unitless(x.Unit) {
			continue
		}
		if n.score < leastWords {
			continue
		}
		if x.When != nil {
			for k := range m.Signals {
				if sel := &m.Signals[k]; sel.Field.Name == x.SelectedBy && len(x.When) > 0 {
					if selector, ok := s.placed(sel); ok && !sel.Field.BigEndian {
						n.field.s = s.only(selector, x.When[:1])
					}
				}
			}
			if n.field.s == s || len(n.field.s.t) < 2 {
				continue
			}
		}
		if n.behaves(r) {
			b.nominees[r.what] = append(b.nominees[r.what], n)
		}
	}
}

// unitless reports whether a database's unit says that there is none.
func unitless(unit string) bool {
	return slices.Contains([]string{"", "sed", "bool", "-", "unitless", "#"}, strings.ToLower(strings.TrimSpace(unit)))
}

// behaves reports whether the values can be the quantity's, and lets behaviour weigh.
func (n *nominee) behaves(r *role) bool {
	f, x := n.field, n.signal
	if len(f.s.t) < 2 {
		return false
	}
	values := f.values()
	if len(values.v) < 2 {
		return false
	}
	for i, v := range values.v {
		values.v[i] = v*x.Factor + x.Offset
	}
	if !r.number {
		changes := 0
		for i := 1; i < len(values.v); i++ {
			if values.v[i] != values.v[i-1] {
				changes++
			}
		}
		n.moves = changes > 0
		n.values = values
		if share(changes, len(values.v)-1) > 0.1 && r.what != TurnLamp {
			return false
		}
		n.weigh()
		return true
	}
	sane := 0
	for i, v := range values.v {
		y := n.toUnit.Apply(v)
		values.v[i] = y
		if y >= r.low && y <= r.high {
			sane++
		}
	}
	if share(sane, len(values.v)) < 0.97 {
		return false
	}
	sorted := sortedCopy(values.v)
	span := quantile(sorted, 0.995) - quantile(sorted, 0.005)
	n.moves = sorted[0] != sorted[len(sorted)-1]
	jumps := 0
	for i := 1; i < len(values.v); i++ {
		if math.Abs(values.v[i]-values.v[i-1]) > 0.35*span {
			jumps++
		}
	}
	if span > 0 && share(jumps, len(values.v)-1) > 0.03 && !slices.Contains([]Quantity{BatteryCharge, BatteryCurrent, FuelRate}, r.what) {
		return false
	}
	n.values = values
	middle := quantile(sorted, 0.5)
	switch r.what {
	case EngineSpeed:
		if quantile(sorted, 0.99) < 300 && sorted[len(sorted)-1] > 0 {
			return false
		}
		if f.n >= 7 && n.moves {
			if s := shapeOf(f); s.score > 0.6 {
				n.score += 4 * s.score
				n.proved = true
			}
		}
		if x.Factor >= 8 || f.n < 9 {
			n.score -= 2
		}
		if n.moves && distinct(values.v) < 20 {
			n.score -= 3
		}
		if middle > 3500 {
			n.score -= 3
		}
	case VehicleSpeed:
		if n.moves && sorted[len(sorted)-1] > 250 {
			n.score -= 3
		}
		if n.moves && (distinct(values.v) < 15 || sorted[0] > 1) {
			n.score -= 1.5
		}
	case BatteryVoltage:
		if !(middle > 9 && middle < 16 || middle > 20 && middle < 32) {
			n.score -= 4
		}
	}
	n.weigh()
	return true
}

// weigh prefers what moves and what comes often.
func (n *nominee) weigh() {
	if n.moves {
		n.score += 1.5
	} else {
		n.score--
	}
	if n.field.s.late > 0.06 {
		n.score -= 0.5
	}
}

// agreement lets what several modules say alike weigh more.
func agreement(list []nominee, tolerance float64) {
	if len(list) < 2 {
		return
	}
	end := 0.0
	for i := range list {
		end = max(end, list[i].values.t[len(list[i].values.t)-1])
	}
	g := grid(0.5, end, 0.1)
	curves := make([][]float64, len(list))
	for i := range list {
		curves[i] = interpolate(g, list[i].values.t, list[i].values.v)
	}
	gains := make([]float64, len(list))
	for i := range list {
		if !list[i].moves {
			continue
		}
		near := 0.03*median(curves[i]) + tolerance
		modules := map[uint32]bool{}
		for k := range list {
			close := 0
			for j := range g {
				if math.Abs(curves[k][j]-curves[i][j]) < near {
					close++
				}
			}
			if list[k].moves && share(close, len(g)) > 0.9 {
				modules[list[k].field.s.id] = true
			}
		}
		gains[i] = 0.8 * float64(min(len(modules)-1, 3))
	}
	for i := range list {
		list[i].score += gains[i]
	}
}

// elect proposes the best of a quantity's nominees whose bits are not used yet, and of turn
// lamps one a side.
func (b *bench) elect(q Quantity) {
	if len(b.nominees[q]) == 0 || b.has(q) {
		return
	}
	list := slices.DeleteFunc(slices.Clone(b.nominees[q]), func(n nominee) bool {
		return !b.unclaimed(&n.field)
	})
	switch q {
	case EngineSpeed:
		agreement(list, 60)
	case VehicleSpeed:
		agreement(list, 1.5)
	}
	if b.drive != nil {
		for i := range list {
			b.prove(q, &list[i])
		}
	}
	slices.SortStableFunc(list, func(x, y nominee) int { return cmp.Compare(y.score, x.score) })
	if q == TurnLamp {
		var left, right []nominee
		for _, n := range list {
			switch n.side() {
			case "left":
				left = append(left, n)
			case "right":
				right = append(right, n)
			}
		}
		if len(left) > 0 && len(right) > 0 && (list[0].side() != "" || left[0].proved || right[0].proved) {
			b.elected(q, left)
			b.elected(q, right)
			return
		}
	}
	b.elected(q, list)
}

// ofBattery reports whether the name of a voltage is the battery's, and not only a supply's.
func (n *nominee) ofBattery() bool {
	return slices.ContainsFunc(wordsOf(n.signal.Field.Name), func(w string) bool {
		return w == "bat" || w == "batt" || w == "battery" || w == "batterie"
	})
}

// side is which side a lamp is on, "left" or "right" by its name, or "".
func (n *nominee) side() string {
	for _, w := range wordsOf(n.signal.Field.Name) {
		switch w {
		case "left", "li", "l", "lh", "links":
			return "left"
		case "right", "re", "r", "rh", "rechts":
			return "right"
		}
	}
	return ""
}

// neverSure are quantities beside which something else behaves alike all the time: a relay, a
// lamp, an acceleration that was worked out from the wheels.
var neverSure = []Quantity{StarterCommand, StopCommand, Acceleration}

// elected proposes the first of some nominees, if it can be told from the others.
func (b *bench) elected(q Quantity, list []nominee) {
	if len(list) == 0 {
		return
	}
	n := &list[0]
	if !n.moves && q != VehicleSpeed && q != Coolant && q != BatteryVoltage && q != EngineSpeed {
		return
	}
	if q.Switch() && n.score < 5 {
		return
	}
	s := b.proposal(q, n.field, n.signal.Factor, n.signal.Offset)
	s.Field.Start, s.Field.Unit = n.signal.Field.Start, n.unit
	if side := n.side(); q == TurnLamp && side != "" {
		s.Name += "_" + side
	}
	b.labelled(&s, n)
	gap := n.score
	if len(list) > 1 {
		gap -= list[1].score
	}
	switch {
	case n.moves && n.score >= 6 && gap >= 1 && n.proved && !slices.Contains(neverSure, q) && (q != BatteryVoltage || n.ofBattery()):
		s.FieldIs, s.ScaleIs = Sure, Sure
	case n.moves:
		s.FieldIs, s.ScaleIs = Likely, Likely
	}
	for i := range list[1:] {
		if r := &list[i+1]; r.score > n.score-1 {
			s.Rivals = append(s.Rivals, b.rival(r.field, r.signal.Factor, r.signal.Offset))
		}
	}
	s.Evidence = []Evidence{Database{n.from.Name, n.signal.Field.Name, slices.Min(n.values.v), slices.Max(n.values.v), n.signal.Field.Line}}
	b.put(s, n.field, n.values)
}

// labelled gives a switch the states that the database names.
func (b *bench) labelled(s *Signal, n *nominee) {
	if s.What == InhibitCode {
		s.Field.Labels = slices.Clone(n.signal.Field.Labels)
	}
	if !s.What.Switch() {
		return
	}
	on, none := []int64{}, []int64{}
	for _, l := range n.signal.Field.Labels {
		text := strings.ToLower(l.Text)
		has := func(list ...string) bool {
			return slices.ContainsFunc(list, func(w string) bool { return strings.Contains(text, w) })
		}
		switch {
		case has("not avail", "n/a", "invalid", "error", "fault", "unknown", "sna", "reserved", "undefined", "not used"):
			none = append(none, l.Raw)
		case has("not ", "releas", "off", "inactive", "no ", "open", "idle") || text == "no" || text == "false":
		case has("press", "appl", "on", "active", "yes", "crank", "engag", "left", "right", "stop", "true", "closed"):
			on = append(on, l.Raw)
		}
	}
	if len(n.signal.Field.Labels) == 0 && n.field.n == 2 {
		none = []int64{2, 3} // as SAE J1939-71 has them
	}
	s.Field.Invalid = none
	if len(on) > 0 && !(len(on) == 1 && on[0] == 1) {
		s.Field.HasActive, s.Field.Active = true, on
	}
}

// prove lets what the engine did weigh: whether the nominee goes with it as the quantity does.
func (b *bench) prove(q Quantity, n *nominee) {
	gain := func(score, least float64) {
		if score > least {
			n.score += 3 * score
			n.proved = true
		} else if n.moves {
			n.score -= 1.5
		}
	}
	switch q {
	case BatteryVoltage:
		if len(b.drive.cranks) > 0 {
			gain(b.dipsOf(n.field).score, 0.3)
		}
	case VehicleSpeed:
		if n.moves {
			gain(b.roadOf(n.field).score, 0.3)
		}
	case Acceleration:
		if x, ok := b.found[VehicleSpeed]; ok && n.moves {
			gain(n.goesWith(x), 0.5)
		}
	case StarterCommand, StopCommand, Brake, TurnLamp, Ignition:
		if n.field.n > 3 {
			return
		}
		for _, c := range b.behaving(q) {
			for _, bit := range n.field.bits() {
				if c.s.id == n.field.s.id && c.s.extended == n.field.s.extended && c.s.bus == n.field.s.bus && c.s.from*8+c.bit == n.field.s.from*8+bit {
					gain(min(1, c.score), 0)
					return
				}
			}
		}
		if n.moves && len(b.behaving(q)) > 0 {
			n.score -= 1.5
		}
	}
}

// goesWith is how far an acceleration, over seconds, goes with the change of a road speed:
// the correlation of both.
func (n *nominee) goesWith(road series) float64 {
	const step = 0.2
	x, last := n.values, len(n.values.t)-1
	g := grid(max(road.t[0], x.t[0]), min(road.t[len(road.t)-1], x.t[last]), step)
	if len(g) < 20 {
		return 0
	}
	speed := smooth(interpolate(g, road.t, road.v), 5)
	return correlation(smooth(interpolate(g, x.t, x.v), 5), slopes(speed, step))
}
