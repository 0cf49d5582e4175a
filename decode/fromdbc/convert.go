package fromdbc

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"strings"

	"lull/decode"
	"lull/decode/dbc"
	"lull/decode/sigmap"
	"lull/pkg/failure"
	"lull/pkg/units"
)

// signal is one signal of the database and what becomes of it.
type signal struct {
	message *dbc.Message
	signal  *dbc.Signal
	full    string // MESSAGE.SIGNAL
	name    string // in the map
	wanted  bool
	role    decode.Role
	unit    string // in place of the database's
	out     string // why it stands in the map as a comment; "": it does not
}

// converter makes one map.
type converter struct {
	d    *dbc.Database
	list []*signal // of all messages, in order
	// byField finds what becomes of a signal of the database.
	byField map[*dbc.Signal]*signal
}

// Map makes a map of a database. Its errors are *failure.Failure: what of the order cannot be
// done. The map passes sigmap.Parse, but for the role engine_speed where the order gives no
// signal that role. What a map cannot say stands in it as a comment, with the reason.
func Map(d *dbc.Database, o Order) (*Conversion, error) {
	k := &converter{d: d, byField: map[*dbc.Signal]*signal{}}
	for i := range d.Messages {
		m := &d.Messages[i]
		for n := range m.Signals {
			s := &m.Signals[n]
			k.byField[s] = &signal{message: m, signal: s, full: m.Name + "." + s.Field.Name}
			k.list = append(k.list, k.byField[s])
		}
	}
	if err := k.choose(o.Signals); err != nil {
		return nil, err
	}
	if err := k.give(o.Roles); err != nil {
		return nil, err
	}
	k.addSelectors()
	wanted := 0
	for _, s := range k.list {
		if s.wanted {
			wanted++
		}
	}
	if wanted > mostSignals {
		return nil, tooMany(wanted)
	}
	k.nameAll()
	k.putOut()
	return k.write(o)
}

// mostSignals is more than fit into the largest file that is read as a map.
const mostSignals = 1 << 16

func tooMany(signals int) error {
	return &failure.Failure{What: fmt.Sprintf("%d signals are more than a map can hold", signals), Hint: "choose those you need with --signals NAME,NAME"}
}

// addSelectors takes in what selects wanted signals.
func (k *converter) addSelectors() {
	for _, s := range k.list {
		for by := s; s.wanted && by != nil && by.signal.When != nil; {
			by = k.selector(by)
			if by != nil {
				by.wanted = true
			}
		}
	}
}

// selector returns what selects a signal, or nil.
func (k *converter) selector(s *signal) *signal {
	if s.signal.When == nil {
		return nil
	}
	return k.byField[s.message.Find(s.signal.SelectedBy)]
}

// nameAll gives each signal a name that is unique in the whole map: its own, or with its
// message's name before it where several messages have it.
func (k *converter) nameAll() {
	times, taken := map[string]int{}, map[string]bool{}
	for _, s := range k.list {
		times[s.signal.Field.Name]++
	}
	for _, s := range k.list {
		name := s.signal.Field.Name
		if times[name] > 1 {
			name = s.message.Name + "_" + name
		}
		s.name = name
		for n := 2; taken[s.name]; n++ {
			s.name = fmt.Sprintf("%s_%d", name, n)
		}
		taken[s.name] = true
	}
}

// putOut finds what a map cannot say.
func (k *converter) putOut() {
	for _, s := range k.list {
		m := s.message
		switch {
		case m.Length > decode.MaxPayload, isGroup(k.d, m) && m.Length > 8:
			s.out = fmt.Sprintf("%s has %d bytes and is sent in several frames, which lull does not put together", m.Name, m.Length)
		case s.signal.Shares != "":
			if other := k.byField[m.Find(s.signal.Shares)]; other != nil && other.wanted {
				s.out = fmt.Sprintf("it has bits of %s at the same time: one of the two is wrong in the database", other.name)
			}
		}
	}
}

// write writes the map and reads it. What the reader of maps refuses becomes a comment.
func (k *converter) write(o Order) (*Conversion, error) {
	for round := 0; ; round++ {
		for _, s := range k.list {
			if s.role != decode.NoRole && s.out != "" {
				return nil, &failure.Failure{What: fmt.Sprintf("%s cannot have the role %s: %s", s.full, s.role, s.out), Hint: "correct the database, or give the role to another signal"}
			}
		}
		c := k.text(o)
		var b bytes.Buffer
		if err := sigmap.Write(&b, c.Text); err != nil {
			return nil, err
		}
		c.YAML = b.Bytes()
		_, err := sigmap.Parse("map.yaml", c.YAML)
		var mistakes sigmap.Errors
		if err != nil && !errors.As(err, &mistakes) {
			return nil, err
		}
		byLine := k.linesOf(c.YAML)
		again := false
		for _, e := range mistakes {
			s := byLine[e.Line]
			switch {
			case errors.Is(e, sigmap.ErrTooLarge):
				return nil, tooMany(c.Signals)
			case s != nil && s.role != decode.NoRole:
				return nil, &failure.Failure{What: fmt.Sprintf("%s cannot have the role %s: %s", s.name, s.role, e.Why), Hint: e.Hint}
			case s != nil:
				s.out, again = e.Why, true
			case !c.Whole && errors.Is(e, sigmap.ErrMissing): // the role engine_speed, or any frame
			default:
				return nil, fmt.Errorf("the map is not in order; this is a fault of lull: %w", e)
			}
		}
		if !again {
			return c, nil
		}
		if round > 100 {
			return nil, errors.New("the map is not in order; this is a fault of lull")
		}
	}
}

// linesOf tells which signal stands in which line of the map.
func (k *converter) linesOf(yaml []byte) map[int]*signal {
	byName := map[string]*signal{}
	for _, s := range k.list {
		if s.wanted {
			byName[sigmap.Quote(s.name)] = s
		}
	}
	lines := map[int]*signal{}
	for i, line := range strings.Split(string(yaml), "\n") {
		if name, _, ok := strings.Cut(strings.TrimSpace(line), ": {start: "); ok {
			lines[i+1] = byName[name]
		}
	}
	return lines
}

// text is the map as it is written.
func (k *converter) text(o Order) *Conversion {
	t := &sigmap.Text{Vehicle: "unnamed", Notes: "made by lull from " + o.File}
	c := &Conversion{Text: t, Of: len(k.list)}
	var last *dbc.Message
	var frame *sigmap.FrameText
	for _, s := range k.list {
		c.Whole = c.Whole || s.role == decode.EngineSpeed
		if !s.wanted {
			continue
		}
		if s.message != last {
			last = s.message
			t.Frames = append(t.Frames, sigmap.FrameText{Entry: entryOf(k.d, last), Comments: frameComments(k.d, last)})
			frame = &t.Frames[len(t.Frames)-1]
			c.Frames++
		}
		if s.out == "" {
			c.Signals++
		} else {
			c.Out++
		}
		frame.Signals = append(frame.Signals, k.signalText(s))
	}
	if !c.Whole {
		c.Speeds = k.speeds()
	}
	t.Comments = k.head(o, c)
	return c
}

// head is what stands above the frames.
func (k *converter) head(o Order, c *Conversion) []string {
	lines := []string{
		fmt.Sprintf("Made by lull from %s: %d of its %d signals. Bits, factors, units and words are those of the", o.File, c.Signals, c.Of),
		"database, which may be wrong or of another car: lull map check MAP --log LOG tells what a log has of it.",
		"A range of the database is told and not used: values outside it would count as not seen, and ranges are",
		"often those of a display.",
	}
	if c.Out > 0 {
		lines = append(lines, fmt.Sprintf("Left out, and kept as comments with the reason: %d.", c.Out))
	}
	if !c.Whole {
		lines = append(lines, "", "No signal has the role engine_speed yet, and without it nothing can be measured: add `role: engine_speed`",
			"to the signal that is the crankshaft's speed.")
		if len(c.Speeds) > 0 {
			lines = append(lines, "By unit or name alone it may be one of these: "+strings.Join(c.Speeds, ", ")+".")
		}
	}
	return lines
}

// isGroup reports whether a message is a parameter group of J1939: if the file says so, or,
// where it does not say what the bus is, if it is sent from the address 254, which stands
// for none (SAE J1939-81), so that nothing but a group can be meant.
func isGroup(d *dbc.Database, m *dbc.Message) bool {
	return m.Extended && (m.Group || strings.HasPrefix(strings.ToUpper(d.Protocol), "J1939") || d.Protocol == "" && m.ID&0xFF == noAddress)
}

// Addresses of J1939 that no module sends from.
const (
	noAddress     = 0xFE
	globalAddress = 0xFF
)

func entryOf(d *dbc.Database, m *dbc.Message) decode.Entry {
	e := decode.Entry{Kind: decode.ByID, ID: m.ID, Extended: m.Extended, Source: -1, Address: -1, Module: m.Sender}
	if isGroup(d, m) {
		e = decode.Entry{Kind: decode.ByPGN, PGN: decode.PGN(m.ID), Source: -1, Address: -1, Module: m.Sender}
		if source := m.ID & 0xFF; source < noAddress {
			e.Source = int(source)
		}
	}
	return e
}

func frameComments(d *dbc.Database, m *dbc.Message) []string {
	line := fmt.Sprintf("%s, %d bytes", m.Name, m.Length)
	if isGroup(d, m) {
		line += ", 0x" + fmt.Sprintf("%08X", m.ID) + " in the database"
		if m.ID&0xFF >= noAddress {
			line += ", of any sender"
		}
	}
	if m.Comment != "" {
		line += ": " + m.Comment
	}
	return fold(line)
}

// signalText is one signal as it is written.
func (k *converter) signalText(s *signal) sigmap.SignalText {
	x := s.signal
	t := sigmap.SignalText{Out: s.out != "", Signal: x.Field, Factor: sigmap.Decimal(x.Factor), Offset: sigmap.Decimal(x.Offset)}
	f := &t.Signal
	f.Name, f.Role, f.Labels = s.name, s.role, nil
	var notes []string
	if s.out != "" {
		notes = append(notes, "left out: "+s.out)
	}
	if s.name != x.Field.Name {
		notes = append(notes, "called "+x.Field.Name)
	}
	if x.Comment != "" {
		notes = append(notes, x.Comment)
	}
	f.Unit = s.unitText()
	if x.HasRange() && narrower(x) {
		notes = append(notes, strings.TrimSpace(fmt.Sprintf("range %s to %s %s", sigmap.Decimal(x.Min), sigmap.Decimal(x.Max), f.Unit)))
	}
	if x.Past {
		notes = append(notes, fmt.Sprintf("reaches past the frame's %d bytes", s.message.Length))
	}
	notes = append(notes, s.words(f)...)
	if x.When != nil {
		by := x.SelectedBy
		if o := k.selector(s); o != nil {
			by = o.name
		}
		t.When = []sigmap.WhenText{{Signal: by, Raws: x.When}}
	}
	t.Comments = fold(strings.Join(notes, "; "))
	return t
}

// narrower reports whether a range says more than how many bits the field has.
func narrower(x *dbc.Signal) bool {
	low, high := 0.0, math.Ldexp(1, x.Field.Length)-1
	if x.Field.Signed {
		low, high = -math.Ldexp(1, x.Field.Length-1), math.Ldexp(1, x.Field.Length-1)-1
	}
	low, high = low*x.Factor+x.Offset, high*x.Factor+x.Offset
	if low > high {
		low, high = high, low
	}
	near := math.Abs(x.Factor) / 2
	return x.Field.Float || x.Min > low+near || x.Max < high-near
}

// unitText is the unit as lull calls it where it knows it, else as the database writes it.
func (s *signal) unitText() string {
	unit := s.unit
	if unit == "" {
		unit = s.signal.Unit
	}
	if s.role != decode.NoRole && decode.Roles[s.role].Unit == "" || strings.Trim(unit, "- ") == "" {
		return ""
	}
	if name, known := units.Name(unit); known {
		return name
	}
	return unit
}

// continuous reports whether a signal measures something, so that words stand only for some
// of its values. Any words would make a map take it for a switch.
func (s *signal) continuous() bool {
	if s.role == decode.InhibitCode || decode.Roles[s.role].Switch {
		return false
	}
	_, known := units.Name(s.signal.Unit)
	return known || s.role != decode.NoRole || s.signal.Factor != 1 || s.signal.Offset != 0 || s.signal.Field.Float
}

// noValue are words for a value that is none.
var noValue = map[string]bool{"sna": true, "snv": true, "invalid": true, "not valid": true, "not available": true, "n a": true, "unavailable": true,
	"signal not available": true, "signal invalid": true, "value invalid": true, "invalid value": true, "invalid signal": true, "data not available": true, "no value": true}

// words takes over what the database calls values, and returns what is to be told of that.
// Values whose word says that they are none count as not seen.
func (s *signal) words(f *decode.Signal) (notes []string) {
	labels := s.signal.Field.Labels
	var others []string
	for _, l := range labels {
		plain := strings.Join(strings.FieldsFunc(strings.ToLower(l.Text), func(r rune) bool { return strings.ContainsRune(" _-/.", r) }), " ")
		none := noValue[plain] && !f.Float
		if none {
			f.Invalid = append(f.Invalid, l.Raw)
			notes = append(notes, fmt.Sprintf("%d (%s) counts as not seen, by its word", l.Raw, l.Text))
		}
		if s.continuous() {
			if !none && len(others) < 8 {
				others = append(others, fmt.Sprintf("%d is %s", l.Raw, l.Text))
			}
		} else {
			f.Labels = append(f.Labels, l)
		}
	}
	if others != nil {
		notes = append(notes, "of its raw values "+strings.Join(others, ", ")+"; not taken over, as words would make a map take it for a switch")
	}
	return notes
}

// fold breaks a text into lines of comment.
func fold(text string) []string {
	const width = 100
	var lines []string
	line := ""
	for _, word := range strings.Fields(text) {
		if line != "" && len(line)+1+len(word) > width {
			lines, line = append(lines, line), ""
		}
		if line != "" {
			line += " "
		}
		line += word
	}
	if line != "" {
		lines = append(lines, line)
	}
	return lines
}
