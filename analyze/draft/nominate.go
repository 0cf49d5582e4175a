package draft

import (
	"cmp"
	"math"
	"slices"
	"strings"
	"unicode"

	"lull/decode"
	"lull/decode/dbc"
	"lull/pkg/units"
)

// role is how words and units of a database speak for a quantity. Words only nominate:
// physics and agreement between modules choose.
type role struct {
	what  Quantity
	units []string // as makers write them, lower case; none for switches and counters
	words map[string]float64
	// low and high are what a vehicle can have, in the unit of the quantity; 0, 0: anything.
	low, high float64
	longest   int // bits, for switches
}

// roles weigh the words in the names of signals, from what such names have in common.
var roles = []role{
	{what: EngineSpeed, units: []string{"rpm", "1/min", "min-1", "u/min", "r/min", "rev/min", "/min"}, low: 0, high: 9000,
		words: map[string]float64{"rpm": 3, "n": 1.5, "nmot": 3, "eng": 2, "engine": 2, "motor": 1, "speed": 1, "spd": 1, "drehzahl": 2, "crank": 1, "ke": -1, "idle": -3, "target": -4, "tgt": -4, "desired": -4, "des": -3, "soll": -4, "req": -4, "rq": -4, "limit": -4, "max": -3, "min": -3, "turbine": -4, "turb": -4, "tc": -2, "input": -3, "output": -4, "oil": -4, "pump": -4, "fan": -4, "filt": -1}},
	{what: VehicleSpeed, units: []string{"km/h", "kph", "kmh", "mph", "m/s", "km/hour"}, low: -1, high: 300,
		words: map[string]float64{"veh": 3, "vehicle": 3, "v": 1, "vs": 3, "speed": 2, "spd": 2, "geschw": 2, "road": 2, "car": 1, "xmission": 1, "wheel": -1.5, "whl": -1.5, "fl": -1, "fr": -1, "rl": -1, "rr": -1, "set": -5, "target": -4, "soll": -4, "cruise": -4, "limit": -5, "req": -4, "rel": -3, "wind": -4, "navi": -3, "display": -1, "cluster": -1, "eng": -1, "acc": -3, "rate": -3, "objects": -5}},
	{what: BatteryVoltage, units: []string{"v", "volt", "volts", "mv"}, low: 4, high: 34,
		words: map[string]float64{"bat": 3, "batt": 3, "battery": 3, "supply": 1.5, "volt": 2, "voltage": 2, "spannung": 2, "u": 1, "hv": -6, "cell": -6, "pack": -5, "sensor": -2, "ref": -3, "target": -4, "soll": -4, "setpoint": -4, "req": -4, "cmd": -4, "gen": -1, "alternator": -1, "feed": -1, "module": -1, "backup": -2}},
	{what: BatteryCurrent, units: []string{"a", "amp", "ma", "ampere", "amps"}, low: -1500, high: 1500,
		words: map[string]float64{"bat": 3, "batt": 3, "battery": 3, "supply": 1.5, "current": 2, "curr": 2, "strom": 2, "amp": 2, "i": 1, "hv": -6, "gen": -3, "alternator": -3, "max": -4, "req": -4, "limit": -4}},
	{what: BatteryCharge, units: []string{"%", "percent"}, low: 0, high: 100.5,
		words: map[string]float64{"soc": 4, "charge": 3, "bat": 1.5, "batt": 1.5, "battery": 1.5, "hv": -6, "level": 1, "fuel": -6, "throttle": -6, "pedal": -6}},
	{what: HoldPressure, units: []string{"kpa", "bar", "psi", "mbar"}, low: 0, high: 9000,
		words: map[string]float64{"line": 3, "hold": 3, "pressure": 1.5, "press": 1.5, "druck": 1.5, "clutch": 2, "trans": 1.5, "oil": -1, "brake": -4, "map": -4, "fuel": -4, "tyre": -5, "tire": -5, "manifold": -4, "boost": -4, "intake": -4}},
	{what: FuelRate, units: []string{"l/h", "ml/s", "l/hr"}, low: 0, high: 200,
		words: map[string]float64{"fuel": 3, "burn": 3, "cons": 2, "consumption": 2, "rate": 1, "flow": 1}},
	{what: Coolant, units: []string{"c", "degc", "deg c", "celsius", "°c", "degf", "f", "deg"}, low: -45, high: 150,
		words: map[string]float64{"coolant": 4, "clnt": 4, "cool": 2, "ect": 4, "clt": 4, "eng": 1.5, "engine": 1.5, "temp": 1.5, "water": 2, "wasser": 2, "kuehl": 3, "oil": -5, "ambient": -5, "amb": -5, "outside": -5, "air": -5, "intake": -5, "iat": -5, "trans": -4, "fuel": -4, "batt": -5, "cabin": -5, "target": -4}},
	{what: StopCommand, longest: 8,
		words: map[string]float64{"stop": 2, "idle": 2, "isg": 3, "auto": 1.5, "order": 1.5, "cmd": 1, "request": 1, "req": 1, "engine": 1, "eng": 1, "shutdown": 2, "lamp": -4, "light": -4, "cancel": -5, "switch": -4, "inhibit": -5, "brake": -5, "off": -1, "fault": -5}},
	{what: StarterCommand, longest: 8,
		words: map[string]float64{"starter": 4, "fb": -3, "feedback": -3, "ack": -3, "crank": 3, "cranking": 3, "start": 1, "relay": 2, "cmd": 1, "engage": 1, "motor": 0.5, "count": -5, "total": -5, "stop": -3, "inhibit": -5, "fault": -5}},
	{what: Ignition, longest: 8,
		words: map[string]float64{"ignition": 4, "ign": 4, "zuend": 4, "key": 3, "terminal": 3, "kl": 2, "t15": 4, "on": 1, "angle": -6, "advance": -6, "timing": -6, "coil": -6}},
	{what: StarterCount,
		words: map[string]float64{"start": 2, "starts": 3, "starter": 2, "count": 3, "counter": 3, "total": 2, "ops": 2, "operations": 2, "cmd": -3, "relay": -4, "alive": -5, "msg": -5, "rolling": -5}},
	{what: Brake, longest: 8,
		words: map[string]float64{"brake": 3, "brk": 3, "bremse": 3, "pressed": 2, "pedal": 2, "act": 1, "switch": 2, "sw": 1, "lamp": 1, "light": 1, "stop": 0.5, "park": -5, "epb": -5, "hand": -5, "error": -5, "fault": -5, "fail": -5, "press": -1, "torque": -4, "req": -3, "temp": -4, "wear": -4, "fluid": -5, "override": -2, "invalid": -4, "valid": -4}},
	{what: TurnLamp, longest: 8,
		words: map[string]float64{"turn": 3, "indicator": 3, "blinker": 4, "blink": 3, "winker": 4, "lamp": 1, "light": 1, "left": 1, "right": 1, "sig": 0.5, "stat": 0.5, "lever": 0, "return": -4, "radius": -5, "rate": -4, "angle": -5}},
}

// nominee is a signal of the database that may be a quantity, found in the log.
type nominee struct {
	field  field
	signal *dbc.Signal
	from   *dbc.Message
	words  float64
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
	unit := strings.ToLower(strings.TrimSpace(x.Unit))
	for i := range roles {
		r := &roles[i]
		words := 0.0
		for w, weight := range r.words {
			if slices.Contains(name, w) {
				words += weight
			}
			if weight > 0 && slices.Contains(message, w) {
				words += 0.3 * weight
			}
		}
		switch {
		case r.units != nil && slices.Contains(r.units, unit):
			words += 2
		case r.units != nil && unit != "":
			continue
		case r.units == nil && r.longest > 0 && x.Field.Length > r.longest:
			continue
		case r.units == nil && unit != "" && !slices.Contains([]string{"sed", "bool", "-", "unitless", "#"}, unit):
			continue
		}
		if words < 3.5 {
			continue
		}
		n := nominee{field: f, signal: x, from: m, words: words, score: words}
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

// wordsOf splits a name at underscores and where its case changes.
func wordsOf(name string) []string {
	var list []string
	var word []rune
	flush := func() {
		if len(word) > 0 {
			list = append(list, strings.ToLower(string(word)))
			word = nil
		}
	}
	letters := []rune(name)
	for i, r := range letters {
		switch {
		case !unicode.IsLetter(r) && !unicode.IsDigit(r):
			flush()
			continue
		case unicode.IsDigit(r) && len(word) > 0 && !unicode.IsDigit(word[len(word)-1]) && !(len(word) == 1):
			flush()
		case unicode.IsUpper(r) && len(word) > 0 && (!unicode.IsUpper(word[len(word)-1]) || i+1 < len(letters) && unicode.IsLower(letters[i+1])):
			flush()
		case unicode.IsLetter(r) && len(word) > 0 && unicode.IsDigit(word[len(word)-1]):
			flush()
		}
		word = append(word, r)
	}
	flush()
	return list
}

// unitSpellings are other spellings of units that a map knows.
var unitSpellings = map[string]string{
	"kph": "km/h", "kmh": "km/h", "km/hour": "km/h", "c": "degC", "deg": "degC", "°c": "degC", "deg c": "degC", "degc": "degC", "celsius": "degC", "f": "degF", "degf": "degF",
	"volt": "V", "volts": "V", "v": "V", "mv": "mV", "a": "A", "amp": "A", "amps": "A", "ampere": "A", "ma": "mA", "l/h": "L/h", "l/hr": "L/h", "ml/s": "mL/s",
	"kpa": "kPa", "percent": "%", "mph": "mph", "m/s": "m/s", "km/h": "km/h", "bar": "bar", "psi": "psi", "%": "%",
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
	if r.units == nil {
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
	n.unit = unitSpellings[strings.ToLower(strings.TrimSpace(x.Unit))]
	if r.what == EngineSpeed {
		n.unit = "rpm"
	}
	if n.unit == "" {
		n.unit = r.what.Unit()
	}
	if n.unit != r.what.Unit() {
		c, err := units.Convert(n.unit, r.what.Unit())
		if err != nil {
			return false
		}
		n.toUnit = c
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
	if span > 0 && share(jumps, len(values.v)-1) > 0.03 && r.what != BatteryCharge {
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
	if n.field.s.period > 0.06 {
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

// elect proposes the best of a quantity's nominees.
func (b *bench) elect(q Quantity) {
	list := b.nominees[q]
	if len(list) == 0 || b.has(q) {
		return
	}
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
	n := &list[0]
	if !n.moves && q != VehicleSpeed && q != Coolant && q != BatteryVoltage && q != EngineSpeed {
		return
	}
	if q.Switch() && n.score < 5 {
		return
	}
	s := b.proposal(q, n.field, n.signal.Factor, n.signal.Offset)
	s.Field.Start, s.Field.Unit = n.signal.Field.Start, n.unit
	b.labelled(&s, n)
	gap := n.score
	if len(list) > 1 {
		gap -= list[1].score
	}
	switch {
	case n.moves && n.score >= 6 && gap >= 1 && n.proved && q != StarterCommand && q != StopCommand:
		s.FieldIs, s.ScaleIs = Sure, Sure // a relay and a lamp go with these two all the time
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
