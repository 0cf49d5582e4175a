package dbc

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"

	"go.einride.tech/can/pkg/dbc"

	"lull/decode"
)

// Forms of messages and signals. Names, units and receivers are taken as they are, since the
// library refuses letters beyond ASCII; numbers and places are the library's to read.
var (
	messageForm = regexp.MustCompile(`^BO_\s+(\S+)\s+([^\s:]+)\s*:\s*(\S+)(?:\s+(\S+))?`)
	signalForm  = regexp.MustCompile(`^SG_\s+([^\s:]+)(?:\s+([mM]\w*))?\s*:([^"(\[]*)\(([^()]*)\)\s*(?:\[([^\]]*)\])?\s*(?:"((?:[^"\\]|\\.)*)")?`)
	bothForm    = regexp.MustCompile(`^m\d+M$`)
	numberForm  = regexp.MustCompile(`^-?(\d+\.?\d*|\.\d+)([eE][-+]?\d+)?$`)
	wholeNumber = regexp.MustCompile(`^-?\d+$`)
	fraction    = regexp.MustCompile(`^\d+([eE][-+]?\d+)?$`)
)

func (r *reader) message(line string) {
	r.current, r.lost = -1, true
	if len(r.d.Messages) == mostMessages {
		r.tooMuch()
		return
	}
	cannot := func(why string) {
		r.d.mistake(r.line, "this message cannot be read, so its signals are left out: "+why)
	}
	form := messageForm.FindStringSubmatch(line)
	if form == nil {
		cannot("it is not BO_ NUMBER NAME: LENGTH SENDER")
		return
	}
	number, name, length, sender := form[1], form[2], form[3], form[4]
	// The library knows no identifiers of 29 bits without their mark.
	if id, err := strconv.ParseUint(number, 10, 64); err == nil && id > 0x7FF && id <= 0x1FFFFFFF {
		r.d.mistake(r.line, fmt.Sprintf("the identifier %d has more than 11 bits and no mark of 29: read as one of 29", id))
		number = strconv.FormatUint(id|1<<31, 10)
	}
	if id, err := strconv.ParseUint(number, 10, 64); err == nil && id > math.MaxUint32 {
		cannot(fmt.Sprintf("%s is no identifier", short(number, 30)))
		return
	}
	def, err := parse("BO_ " + number + " X: " + length + " X\n")
	if err != nil {
		cannot(err.Error())
		return
	}
	m, ok := def.(*dbc.MessageDef)
	if !ok {
		cannot("it is no message")
		return
	}
	if dbc.IsIndependentSignalsMessage(m) || uint32(m.MessageID) == 0xC0000000 {
		return // no frame: a place for signals that are in none
	}
	if m.Size > decode.MaxPayload {
		r.d.mistake(r.line, fmt.Sprintf("%s has %d bytes, more than one frame holds: it is sent in several, which are not read", name, m.Size))
		m.Size = min(m.Size, math.MaxInt32)
	}
	key := uint32(m.MessageID)
	if first, twice := r.byID[key]; twice {
		r.d.mistake(r.line, fmt.Sprintf("the identifier is that of %s on line %d already; both are kept", r.d.Messages[first].Name, r.d.Messages[first].Line))
	} else {
		r.byID[key] = len(r.d.Messages)
	}
	if sender == string(dbc.NodePlaceholder) {
		sender = ""
	}
	r.current, r.lost = len(r.d.Messages), false
	r.places = append(r.places, map[string]int{})
	r.d.Messages = append(r.d.Messages, Message{Name: name, Sender: sender, ID: m.MessageID.ToCAN(), Extended: m.MessageID.IsExtended(), Length: int(m.Size), Line: r.line})
}

func (r *reader) signal(line string) {
	if r.current < 0 {
		if !r.lost {
			r.d.mistake(r.line, "this signal stands below no message")
		}
		return
	}
	m := &r.d.Messages[r.current]
	if r.signals == mostSignals || len(m.Signals) == mostOfMessage {
		r.tooMuch()
		return
	}
	form := signalForm.FindStringSubmatch(line)
	if form == nil {
		r.d.mistake(r.line, `this signal cannot be read: it is not SG_ NAME : START|LENGTH@ORDER SIGN (FACTOR,OFFSET) [LEAST|MOST] "UNIT"`)
		return
	}
	name, page, place := form[1], form[2], form[3]
	r.signals++
	if _, twice := r.places[r.current][name]; twice {
		r.d.mistake(r.line, fmt.Sprintf("%s has a signal %s already; this one is left out", m.Name, name))
		return
	}
	both := bothForm.MatchString(page)
	if both { // a selector that is itself selected, which the library does not know
		page = strings.TrimSuffix(page, "M")
	}
	factor, offset, scaled := r.scale(name, form[4])
	if !scaled {
		return
	}
	low, high := r.span(name, form[5])
	def, err := parse("BO_ 1 X: 8 X\n SG_ X " + page + " : " + place + " (" + factor + "," + offset + ") [" + low + "|" + high + "] \"\" X\n")
	if err != nil {
		r.d.mistake(r.line, fmt.Sprintf("the signal %s cannot be read: %v", name, err))
		return
	}
	message, ok := def.(*dbc.MessageDef)
	if !ok || len(message.Signals) != 1 {
		r.d.mistake(r.line, fmt.Sprintf("the signal %s cannot be read", name))
		return
	}
	s := &message.Signals[0]
	if s.Size < 1 || s.Size > 64 || s.StartBit >= 8*decode.MaxPayload {
		if m.Length <= decode.MaxPayload || s.Size < 1 || s.Size > 64 { // of a longer message, that was told
			r.d.mistake(r.line, fmt.Sprintf("%s has %d bits from %d on; a field has 1 to 64 and lies within a frame", name, s.Size, s.StartBit))
		}
		return
	}
	x := Signal{Factor: s.Factor, Offset: s.Offset, Min: s.Minimum, Max: s.Maximum, Unit: unitOf(unescaped(form[6])), Selector: s.IsMultiplexerSwitch || both,
		Field: decode.Signal{Name: name, Line: r.line, Start: int(s.StartBit), Length: int(s.Size), BigEndian: s.IsBigEndian && s.Size > 1, Signed: s.IsSigned}}
	if s.IsMultiplexed {
		x.When = []int64{int64(s.MultiplexerSwitch)}
	}
	if x.Factor == 0 {
		r.d.mistake(r.line, fmt.Sprintf("the factor of %s is 0; read as 1", name))
		x.Factor = 1
	}
	if last := x.Field.LastByte(); m.Length > 0 && last >= m.Length {
		r.d.mistake(r.line, fmt.Sprintf("%s reaches byte %d, the frame has %d bytes", name, last+1, m.Length))
		x.Past = true
		if last >= decode.MaxPayload {
			return
		}
	}
	if x.Field.LastByte() >= decode.MaxPayload {
		r.d.mistake(r.line, fmt.Sprintf("%s reaches past every frame", name))
		return
	}
	r.places[r.current][name] = len(m.Signals)
	m.Signals = append(m.Signals, x)
}

// scale splits factor and offset. With decimal commas there are more than one comma: of
// four numbers each two are one. Three are read as the only one of both readings that makes
// sense, or else the likelier one, and that is told.
func (r *reader) scale(name, text string) (factor, offset string, ok bool) {
	blank := strings.Contains(text, ", ")
	parts := strings.Split(text, ",")
	for i := range parts {
		parts[i] = strings.TrimPrefix(strings.TrimSpace(parts[i]), "+")
	}
	comma := func(a, b string) string { return a + "." + b }
	fits := func(a, b string) bool { return wholeNumber.MatchString(a) && fraction.MatchString(b) }
	sure := true
	switch len(parts) {
	case 2:
		factor, offset = parts[0], parts[1]
	case 3:
		first, second := fits(parts[0], parts[1]), fits(parts[1], parts[2])
		raw := strings.Split(text, ",")
		switch {
		case first && second && blank && !strings.HasPrefix(raw[1], " "): // (0,25, 1)
			second = false
		case first && second && blank && !strings.HasPrefix(raw[2], " "): // (1, 0,5)
			first = false
		case first && second && strings.Trim(parts[0], "-0") == "": // no factor is 0
			second = false
		case first && second && strings.Trim(parts[1], "0") == "" && strings.Trim(parts[2], "0") != "": // nobody writes 1,0 for 1
			first = false
		case first && second && strings.HasSuffix(parts[2], "0"): // nor 5,0 for 5
			second = false
		case first && second:
			sure = false
		}
		switch {
		case first:
			factor, offset = comma(parts[0], parts[1]), parts[2]
		case second:
			factor, offset = parts[0], comma(parts[1], parts[2])
		}
	case 4:
		if fits(parts[0], parts[1]) && fits(parts[2], parts[3]) {
			factor, offset = comma(parts[0], parts[1]), comma(parts[2], parts[3])
		}
	}
	if !numberForm.MatchString(factor) || !numberForm.MatchString(offset) {
		r.d.mistake(r.line, fmt.Sprintf("the signal %s cannot be read: (%s) is no factor and offset", name, short(text, 40)))
		return "", "", false
	}
	switch {
	case !sure:
		r.d.mistake(r.line, fmt.Sprintf("%s: (%s) has decimal commas and can be read in two ways; read as factor %s, offset %s: check it", name, text, factor, offset))
	case len(parts) > 2:
		r.d.mistake(r.line, fmt.Sprintf("%s: (%s) has decimal commas; read as factor %s, offset %s", name, text, factor, offset))
	}
	return factor, offset, true
}

// span splits a range. One that cannot be read is none.
func (r *reader) span(name, text string) (low, high string) {
	low, high, found := strings.Cut(strings.ReplaceAll(text, ",", "."), "|")
	low, high = strings.TrimPrefix(strings.TrimSpace(low), "+"), strings.TrimPrefix(strings.TrimSpace(high), "+")
	if text == "" {
		return "0", "0"
	}
	if !found || !numberForm.MatchString(low) || !numberForm.MatchString(high) {
		r.d.mistake(r.line, fmt.Sprintf("%s: [%s] is no range; read as none", name, short(text, 40)))
		return "0", "0"
	}
	return low, high
}

// spelledUnits are units that some databases spell out, in words of at most five letters.
var spelledUnits = map[string]string{
	"none": "", "minutinver": "rpm", "kilometerperhour": "km/h", "meterpersecon": "m/s", "mileperhour": "mph",
	"volt": "V", "millivolt": "mV", "amper": "A", "milliamper": "mA", "percent": "%", "literperhour": "L/h",
	"kilopasca": "kPa", "hectopasca": "hPa", "pasca": "Pa", "bar": "bar", "millibar": "mbar", "meterperseconsquar": "m/s2",
	"degrecelsi": "degC", "kelvi": "K", "secon": "s", "millisecon": "ms", "minut": "min", "hour": "h",
	"degreofarc": "deg", "newtometer": "Nm",
}

// unitOf is a unit by its usual sign where the file spells it out, as in Unit_Volt.
func unitOf(text string) string {
	if spelled, ok := strings.CutPrefix(strings.ToLower(text), "unit_"); ok {
		if sign, known := spelledUnits[spelled]; known {
			return sign
		}
	}
	return text
}

var escapes = strings.NewReplacer(`\"`, `"`, "\n", " ")

// unescaped is the text between quotes.
func unescaped(text string) string { return strings.TrimSpace(escapes.Replace(text)) }
