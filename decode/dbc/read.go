package dbc

import (
	"fmt"
	"io"
	"os"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode/utf16"
	"unicode/utf8"

	"go.einride.tech/can/pkg/dbc"

	"lull/decode"
	"lull/pkg/failure"
)

// maxBytes is how much of a file is read: many times the largest database of a car.
const maxBytes = 256 << 20

// Load reads a file. It is an error only if the file cannot be read or has no message at
// all; everything else is a Mistake of the Database.
func Load(path string) (*Database, error) {
	file, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer file.Close()
	data, err := io.ReadAll(io.LimitReader(file, maxBytes+1))
	if err != nil {
		return nil, err
	}
	if len(data) > maxBytes {
		return nil, &failure.Failure{Where: path, What: fmt.Sprintf("larger than %d MiB", maxBytes>>20), Hint: "is this a database of a bus?"}
	}
	d := Parse(data)
	if len(d.Messages) == 0 {
		return nil, &failure.Failure{Where: path, What: "no message is defined in it", Hint: "give a database of the bus in DBC format, whose messages begin with BO_"}
	}
	return d, nil
}

// Parse reads a database. It takes any bytes.
func Parse(data []byte) *Database {
	r := reader{d: &Database{}, byID: map[uint32]int{}}
	r.read(decoded(data))
	r.selectors()
	return r.d
}

// decoded is the text of a file: UTF-8, UTF-16 with a mark, else one byte a letter (ISO
// 8859-1), in which most databases are.
func decoded(data []byte) string {
	switch {
	case len(data) >= 2 && (data[0] == 0xFF && data[1] == 0xFE || data[0] == 0xFE && data[1] == 0xFF):
		big := data[0] == 0xFE
		units := make([]uint16, 0, len(data)/2)
		for i := 2; i+1 < len(data); i += 2 {
			a, b := uint16(data[i]), uint16(data[i+1])
			if big {
				a, b = b, a
			}
			units = append(units, a|b<<8)
		}
		return string(utf16.Decode(units))
	case utf8.Valid(data):
		return strings.TrimPrefix(string(data), "\uFEFF")
	}
	var b strings.Builder
	for _, c := range data {
		b.WriteRune(rune(c))
	}
	return b.String()
}

// reader reads statements one after the other.
type reader struct {
	d       *Database
	byID    map[uint32]int // message by identifier, with bit 31 for 29 bits
	current int            // index of the message that signals belong to, or -1
	lost    bool           // the message before the signals could not be read
}

// Forms of the statements that matter. The library reads the definitions; these find them.
var (
	messageForm = regexp.MustCompile(`^BO_\s+\d`)
	idForm      = regexp.MustCompile(`^BO_\s+(\d+)\s`)
	signalForm  = regexp.MustCompile(`^SG_\s+\S`)
	strictForm  = regexp.MustCompile(`^(BO_\s+\d+\s+\w+\s*:\s*\d+\s+\w+|SG_\s+\w+\s.*@[01][+-])`)
	bothForm    = regexp.MustCompile(`^(SG_\s+\S+\s+m\d+)M(\s*:)`)
	selectForm  = regexp.MustCompile(`^SG_MUL_VAL_\s+(\d+)\s+(\w+)\s+(\w+)\s+(.*?);`)
	floatForm   = regexp.MustCompile(`^SIG_VALTYPE_\s+(\d+)\s+(\w+)\s*:?\s*([0-3])\s*;`)
	commaForm   = regexp.MustCompile(`(\d),(\d+)`)
	scaleForm   = regexp.MustCompile(`\(([^()]*)\)`)
)

// maxStatement is how long a statement may be; longer ones lack their end.
const maxStatement = 1 << 20

// read splits the text into statements and reads those that matter. A line that begins as
// a definition ends whatever lacks its end before it.
func (r *reader) read(text string) {
	r.current = -1
	number, open, from := 0, "", 0 // a statement that goes on
	for len(text) > 0 {
		line := text
		if end := strings.IndexAny(text, "\r\n"); end >= 0 {
			line, text = text[:end], strings.TrimPrefix(text[end:], "\r")
			text = strings.TrimPrefix(text, "\n")
		} else {
			text = ""
		}
		number++
		trimmed := strings.TrimSpace(line)
		if open != "" {
			if !strictForm.MatchString(trimmed) && len(open) < maxStatement {
				open += "\n" + line
				if ended(open) {
					r.statement(open, from)
					open = ""
				}
				continue
			}
			r.d.mistake(from, "the definition does not end; what follows is read as if it did")
			r.statement(open+"\";", from)
			open = ""
		}
		switch {
		case trimmed == "":
		case messageForm.MatchString(trimmed):
			r.message(trimmed, number)
		case signalForm.MatchString(trimmed):
			r.signal(trimmed, number)
		case goesOn(trimmed):
			open, from = trimmed, number
		default:
			r.statement(trimmed, number)
		}
	}
	if open != "" {
		r.d.mistake(from, "the definition does not end; the file ends in it")
		r.statement(open+"\";", from)
	}
}

// goesOn reports whether a line begins a statement that ends on a later one.
func goesOn(line string) bool {
	for _, k := range []string{"CM_", "VAL_", "VAL_TABLE_", "BA_", "BA_DEF_", "BA_DEF_DEF_", "SG_MUL_VAL_", "SIG_VALTYPE_", "BO_TX_BU_", "EV_"} {
		if strings.HasPrefix(line, k+" ") {
			return !ended(line)
		}
	}
	return false
}

// ended reports whether a statement has its semicolon, outside of texts.
func ended(s string) bool {
	in := false
	for i := 0; i < len(s); i++ {
		switch s[i] {
		case '\\':
			if in {
				i++
			}
		case '"':
			in = !in
		case ';':
			if !in {
				return true
			}
		}
	}
	return false
}

// parse has the library read definitions. It never panics, whatever the library does.
func parse(text string) (defs []dbc.Def, err error) {
	defer func() {
		if x := recover(); x != nil {
			err = fmt.Errorf("cannot be read: %v", x)
		}
	}()
	p := dbc.NewParser("", []byte(text))
	if e := p.Parse(); e != nil {
		return nil, fmt.Errorf("cannot be read: %s", e.Reason())
	}
	return p.Defs(), nil
}

func (r *reader) message(line string, number int) {
	r.current, r.lost = -1, true
	if m := idForm.FindStringSubmatch(line); m != nil {
		// The library knows no identifiers of 29 bits without their mark.
		if id, err := strconv.ParseUint(m[1], 10, 64); err == nil && id > 0x7FF && id <= 0x1FFFFFFF {
			r.d.mistake(number, fmt.Sprintf("the identifier %d has more than 11 bits and no mark of 29: read as one of 29", id))
			line = strings.Replace(line, m[1], strconv.FormatUint(id|1<<31, 10), 1)
		}
	}
	defs, err := parse(line + "\n")
	if err != nil || len(defs) == 0 {
		r.d.mistake(number, "this message cannot be read, so its signals are left out: "+reason(err))
		return
	}
	m, ok := defs[0].(*dbc.MessageDef)
	if !ok {
		r.d.mistake(number, "this message cannot be read, so its signals are left out")
		return
	}
	if dbc.IsIndependentSignalsMessage(m) {
		return // no frame: a place for signals that are in none
	}
	id := uint32(m.MessageID)
	extended := id>>31 == 1
	id &= 0x1FFFFFFF
	if uint32(m.MessageID)&^(1<<31) > 0x1FFFFFFF {
		r.d.mistake(number, fmt.Sprintf("%d is no identifier of 29 bits; the message is left out", m.MessageID))
		return
	}
	if m.Size > 64 {
		r.d.mistake(number, fmt.Sprintf("%d bytes are more than a frame holds; 64 are read", m.Size))
		m.Size = 64
	}
	key := uint32(m.MessageID)
	if extended {
		key = id | 1<<31
	}
	if first, twice := r.byID[key]; twice {
		r.d.mistake(number, fmt.Sprintf("the identifier is that of %s on line %d already; both are kept", r.d.Messages[first].Name, r.d.Messages[first].Line))
	} else {
		r.byID[key] = len(r.d.Messages)
	}
	sender := string(m.Transmitter)
	if m.Transmitter == dbc.NodePlaceholder {
		sender = ""
	}
	r.current, r.lost = len(r.d.Messages), false
	r.d.Messages = append(r.d.Messages, Message{Name: string(m.Name), Sender: sender, ID: id, Extended: extended, Length: int(m.Size), Line: number})
}

func reason(err error) string {
	if err == nil {
		return "it is no message"
	}
	return err.Error()
}

func (r *reader) signal(line string, number int) {
	if r.current < 0 {
		if !r.lost {
			r.d.mistake(number, "this signal stands below no message")
		}
		return
	}
	both := bothForm.MatchString(line)
	if both { // a selector that is itself selected, which the library does not know
		line = bothForm.ReplaceAllString(line, "$1$2")
	}
	line = decimalPoints(line)
	defs, err := parse("BO_ 1 X: 8 X\n " + line + "\n")
	if err != nil || len(defs) == 0 {
		r.d.mistake(number, "this signal "+reason(err))
		return
	}
	message, ok := defs[0].(*dbc.MessageDef)
	if !ok || len(message.Signals) != 1 {
		r.d.mistake(number, "this signal cannot be read")
		return
	}
	s := &message.Signals[0]
	m := &r.d.Messages[r.current]
	if s.Size < 1 || s.Size > 64 || s.StartBit >= 512 {
		r.d.mistake(number, fmt.Sprintf("%s has %d bits from %d on; a field has 1 to 64 and lies within a frame", s.Name, s.Size, s.StartBit))
		return
	}
	x := Signal{Factor: s.Factor, Offset: s.Offset, Min: s.Minimum, Max: s.Maximum, Unit: s.Unit, Selector: s.IsMultiplexerSwitch || both,
		Field: decode.Signal{Name: string(s.Name), Line: number, Start: int(s.StartBit), Length: int(s.Size), BigEndian: s.IsBigEndian && s.Size > 1, Signed: s.IsSigned}}
	if s.IsMultiplexed {
		x.When = []int64{int64(s.MultiplexerSwitch)}
	}
	if x.Factor == 0 {
		r.d.mistake(number, fmt.Sprintf("the factor of %s is 0; read as 1", s.Name))
		x.Factor = 1
	}
	if last := x.Field.LastByte(); m.Length > 0 && last >= m.Length {
		r.d.mistake(number, fmt.Sprintf("%s reaches byte %d of a frame of %d bytes", s.Name, last, m.Length))
		if last >= 64 {
			return
		}
	}
	if slices.ContainsFunc(m.Signals, func(o Signal) bool { return o.Field.Name == x.Field.Name }) {
		r.d.mistake(number, fmt.Sprintf("%s has a signal %s already; this one is left out", m.Name, s.Name))
		return
	}
	m.Signals = append(m.Signals, x)
}

// decimalPoints turns decimal commas into points: in (0,25,0) the first two numbers are
// one, as there are three.
func decimalPoints(line string) string {
	return scaleForm.ReplaceAllStringFunc(line, func(scale string) string {
		parts := strings.Split(strings.Trim(scale, "()"), ",")
		switch len(parts) {
		case 3:
			if strings.TrimSpace(parts[2]) == parts[2] && commaForm.MatchString(scale) {
				return "(" + parts[0] + "." + parts[1] + "," + parts[2] + ")"
			}
		case 4:
			return "(" + parts[0] + "." + parts[1] + "," + parts[2] + "." + parts[3] + ")"
		}
		return scale
	})
}

// statement reads a definition that is about a message read before.
func (r *reader) statement(text string, number int) {
	switch {
	case strings.HasPrefix(text, "VAL_ "):
		r.labels(text, number)
	case strings.HasPrefix(text, "SG_MUL_VAL_"):
		r.selected(text, number)
	case strings.HasPrefix(text, "SIG_VALTYPE_"):
		if m := floatForm.FindStringSubmatch(text); m != nil && (m[3] == "1" || m[3] == "2") {
			if s := r.named(m[1], m[2]); s != nil && (s.Field.Length == 32 || s.Field.Length == 64) {
				s.Field.Float, s.Field.Signed = true, false
			}
		}
	}
}

// named finds a signal by its message's identifier, as the file writes it, and its name.
func (r *reader) named(id, name string) *Signal {
	n, err := strconv.ParseUint(id, 10, 32)
	if err != nil {
		return nil
	}
	key := uint32(n)
	if key > 0x7FF {
		key |= 1 << 31
	}
	at, ok := r.byID[key]
	if !ok {
		return nil
	}
	for i := range r.d.Messages[at].Signals {
		if s := &r.d.Messages[at].Signals[i]; s.Field.Name == name {
			return s
		}
	}
	return nil
}

// labels reads the names of values.
func (r *reader) labels(text string, number int) {
	if fields := strings.Fields(text); len(fields) < 3 || fields[1] == "" || fields[1][0] < '0' || fields[1][0] > '9' {
		return // of an environment variable
	}
	defs, err := parse(text + "\n")
	if err != nil || len(defs) == 0 {
		r.d.mistake(number, "these values cannot be read")
		return
	}
	v, ok := defs[0].(*dbc.ValueDescriptionsDef)
	if !ok {
		return
	}
	s := r.named(strconv.FormatUint(uint64(v.MessageID), 10), string(v.SignalName))
	if s == nil {
		return // of a signal that was left out
	}
	seen := map[int64]bool{}
	for _, d := range v.ValueDescriptions {
		raw := int64(d.Value)
		if text := strings.TrimSpace(d.Description); float64(raw) == d.Value && !seen[raw] && text != "" {
			seen[raw] = true
			s.Field.Labels = append(s.Field.Labels, decode.Label{Raw: raw, Text: text})
		}
	}
	slices.SortFunc(s.Field.Labels, func(a, b decode.Label) int {
		switch {
		case a.Raw < b.Raw:
			return -1
		case a.Raw > b.Raw:
			return 1
		}
		return 0
	})
}

// mostSelected is how many values of a selector one signal may have.
const mostSelected = 256

// selected reads for which values of which selector a signal is there.
func (r *reader) selected(text string, number int) {
	m := selectForm.FindStringSubmatch(text)
	if m == nil {
		r.d.mistake(number, "this selection cannot be read")
		return
	}
	s := r.named(m[1], m[2])
	if s == nil {
		return
	}
	s.SelectedBy, s.When = m[3], nil
	for _, part := range strings.Split(m[4], ",") {
		low, high, _ := strings.Cut(strings.TrimSpace(part), "-")
		a, errA := strconv.ParseInt(strings.TrimSpace(low), 10, 64)
		b, errB := strconv.ParseInt(strings.TrimSpace(high), 10, 64)
		if errA != nil || errB != nil || b < a || b-a >= mostSelected {
			r.d.mistake(number, fmt.Sprintf("%q is no range of values of a selector", part))
			continue
		}
		for v := a; v <= b && len(s.When) < mostSelected; v++ {
			s.When = append(s.When, v)
		}
	}
}

// selectors gives each selected signal the name of its message's selector.
func (r *reader) selectors() {
	for i := range r.d.Messages {
		m := &r.d.Messages[i]
		name := ""
		for k := range m.Signals {
			if s := &m.Signals[k]; s.Selector && s.When == nil && name == "" {
				name = s.Field.Name
			}
		}
		m.Signals = slices.DeleteFunc(m.Signals, func(s Signal) bool {
			if s.When == nil || s.SelectedBy != "" || name != "" {
				return false
			}
			r.d.mistake(s.Field.Line, fmt.Sprintf("%s is there for some values only, and %s has no signal that selects; it is left out", s.Field.Name, m.Name))
			return true
		})
		for k := range m.Signals {
			if s := &m.Signals[k]; s.When != nil && s.SelectedBy == "" {
				s.SelectedBy = name
			}
		}
	}
	slices.SortStableFunc(r.d.Mistakes, func(a, b Mistake) int { return a.Line - b.Line })
}
