package sigmap

import (
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"

	"lull/decode"
)

// Text is a signal map as it is written: what a decode.Map means, with comments. Comments
// are lines without their mark.
type Text struct {
	Vehicle  string
	Notes    string
	Comments []string // above the frames
	Frames   []FrameText
	Requests []RequestText
	Inhibits []RequestText // By does not matter
	// Tail is comment lines below everything.
	Tail []string
}

// FrameText is one item of `frames`. Of the entry, Line and Signals do not matter.
type FrameText struct {
	Comments []string
	Entry    decode.Entry
	Signals  []SignalText
}

// SignalText is one signal. Of the signal, Entry, Line, Scale, When and ToRole do not matter.
type SignalText struct {
	Comments       []string
	Signal         decode.Signal
	Factor, Offset string // decimals; empty for 1 and 0
	When           []WhenText
	// Out says that the signal is written as a comment, for the reader to take in.
	Out bool
}

// WhenText is one key of a signal's `when`.
type WhenText struct {
	Signal string
	Raws   []int64
}

// RequestText is a restart request or an inhibit that compares one signal with a label or a
// number.
type RequestText struct {
	Name   string
	By     decode.By
	Bridge time.Duration
	Signal string
	Is     string // a label
	Moves  string // or, of a number, by how much it must move
	Out    bool
}

// Write writes a map that Parse reads. It does not check it.
func Write(w io.Writer, t *Text) error {
	var b strings.Builder
	b.WriteString("format: 1\n")
	if t.Vehicle != "" {
		b.WriteString("vehicle: " + Quote(t.Vehicle) + "\n")
	}
	if t.Notes != "" {
		b.WriteString("notes: " + Quote(t.Notes) + "\n")
	}
	comments(&b, "", t.Comments)
	b.WriteString("frames:")
	if len(t.Frames) == 0 {
		b.WriteString(" []")
	}
	b.WriteString("\n")
	for i := range t.Frames {
		t.Frames[i].write(&b)
	}
	conditions(&b, "restart_requests", t.Requests)
	conditions(&b, "inhibits", t.Inhibits)
	comments(&b, "", t.Tail)
	_, err := io.WriteString(w, b.String())
	return err
}

func conditions(b *strings.Builder, key string, list []RequestText) {
	if len(list) == 0 {
		return
	}
	if slices.ContainsFunc(list, func(r RequestText) bool { return !r.Out }) {
		b.WriteString(key + ":\n")
	} else {
		b.WriteString("# " + key + ":\n")
	}
	for _, r := range list {
		mark := ""
		if r.Out {
			mark = "# "
		}
		b.WriteString("  " + mark + "- " + r.item() + "\n")
	}
}

func comments(b *strings.Builder, indent string, lines []string) {
	for _, line := range lines {
		for _, part := range strings.FieldsFunc(line, func(r rune) bool { return r == '\n' || r == '\r' }) {
			b.WriteString(strings.TrimRight(indent+"# "+strings.Map(allowed, part), " ") + "\n")
		}
	}
}

// allowed replaces what a map must not contain.
func allowed(r rune) rune {
	if unicode.IsControl(r) && r != '\t' || r == 0x2028 || r == 0x2029 || r == 0xFFFE || r == 0xFFFF || r == 0xFEFF {
		return unicode.ReplacementChar
	}
	return r
}

func (f *FrameText) write(b *strings.Builder) {
	out := len(f.Signals) > 0 // nothing of it is taken in
	for i := range f.Signals {
		out = out && f.Signals[i].Out
	}
	comments(b, "  ", f.Comments)
	mark := ""
	if out {
		mark = "# "
	}
	for i, line := range entryLines(&f.Entry) {
		lead := "  "
		if i == 0 {
			lead = "- "
		}
		b.WriteString("  " + mark + lead + line + "\n")
	}
	b.WriteString("  " + mark + "  signals:\n")
	for i := range f.Signals {
		s := &f.Signals[i]
		comments(b, "      ", s.Comments)
		mark := ""
		if s.Out {
			mark = "# "
		}
		b.WriteString("      " + mark + Quote(s.Signal.Name) + ": {" + strings.Join(s.fields(), ", ") + "}\n")
	}
}

// entryLines are the lines that say which frames an entry is about.
func entryLines(e *decode.Entry) []string {
	id := func(v uint32, extended bool) string {
		text := fmt.Sprintf("0x%X", v)
		if extended {
			text = fmt.Sprintf("0x%08X", v)
		}
		return text
	}
	var lines []string
	switch e.Kind {
	case decode.ByID:
		lines = append(lines, "id: "+id(e.ID, e.Extended))
		if e.Extended && e.ID <= 0x7FF {
			lines = append(lines, "extended: true")
		}
	case decode.ByPGN:
		lines = append(lines, fmt.Sprintf("pgn: %d", e.PGN))
		if e.Source >= 0 {
			lines = append(lines, fmt.Sprintf("source: 0x%02X", e.Source))
		}
	case decode.ByOBD:
		lines = append(lines, fmt.Sprintf("obd: {mode: 0x%02X, pid: 0x%02X, response: %s}", e.Mode, e.PID, id(e.Response, e.ResponseExtended)))
	case decode.ByDID:
		lines = append(lines, fmt.Sprintf("did: {id: 0x%04X, response: %s}", e.DID, id(e.Response, e.ResponseExtended)))
	}
	if e.Polled() && e.Address >= 0 {
		lines = append(lines, fmt.Sprintf("address: 0x%02X", e.Address))
	}
	if e.Bus != "" {
		lines = append(lines, "bus: "+Quote(e.Bus))
	}
	if e.Module != "" {
		lines = append(lines, "module: "+Quote(e.Module))
	}
	if e.OnChange {
		lines = append(lines, "sent: on_change")
	}
	if e.Period > 0 {
		lines = append(lines, "period: "+duration(e.Period))
	}
	return lines
}

// duration writes a time with its unit.
func duration(d time.Duration) string {
	if d%time.Millisecond == 0 && d%time.Second != 0 {
		return fmt.Sprintf("%dms", d.Milliseconds())
	}
	return strconv.FormatFloat(d.Seconds(), 'f', -1, 64) + "s"
}

// fields are the keys of a signal and their values.
func (t *SignalText) fields() []string {
	s := &t.Signal
	list := []string{fmt.Sprintf("start: %d", s.Start), fmt.Sprintf("length: %d", s.Length)}
	add := func(key, value string) { list = append(list, key+": "+value) }
	if s.BigEndian {
		add("order", "big")
	}
	if s.Signed {
		add("signed", "true")
	}
	if s.Float {
		add("float", "true")
	}
	if t.Factor != "" && t.Factor != "1" {
		add("factor", t.Factor)
	}
	if t.Offset != "" && t.Offset != "0" {
		add("offset", t.Offset)
	}
	if s.Unit != "" {
		add("unit", Quote(s.Unit))
	}
	if s.HasMin {
		add("min", Decimal(s.Min))
	}
	if s.HasMax {
		add("max", Decimal(s.Max))
	}
	if len(s.Invalid) > 0 {
		add("invalid", raws(s, s.Invalid))
	}
	if len(s.Labels) > 0 {
		var labels []string
		for _, l := range s.Labels {
			labels = append(labels, raw(s, l.Raw)+": "+Quote(l.Text))
		}
		add("values", "{"+strings.Join(labels, ", ")+"}")
	}
	if len(t.When) > 0 {
		var keys []string
		for _, w := range t.When {
			value := raws(&decode.Signal{}, w.Raws)
			if len(w.Raws) == 1 {
				value = strconv.FormatInt(w.Raws[0], 10)
			}
			keys = append(keys, Quote(w.Signal)+": "+value)
		}
		add("when", "{"+strings.Join(keys, ", ")+"}")
	}
	if s.Role != decode.NoRole {
		add("role", s.Role.String())
	}
	if s.HasActive {
		add("active", raws(s, s.Active))
	}
	if s.Role == decode.InhibitCode && len(s.Clear) > 0 {
		add("clear", raws(s, s.Clear))
	}
	return list
}

func raws(s *decode.Signal, list []int64) string {
	texts := make([]string, len(list))
	for i, r := range list {
		texts[i] = raw(s, r)
	}
	return "[" + strings.Join(texts, ", ") + "]"
}

// raw writes a raw value. Those of an unsigned field of 64 bits wrap, and bit patterns of a
// float are not negative.
func raw(s *decode.Signal, r int64) string {
	if s.Length == 64 && !s.Signed {
		return strconv.FormatUint(uint64(r), 10)
	}
	return strconv.FormatInt(r, 10)
}

func (r *RequestText) item() string {
	parts := []string{"name: " + Quote(r.Name)}
	if r.By == decode.BySystem {
		parts = append(parts, "by: system")
	}
	if r.Bridge > 0 {
		parts = append(parts, "bridge: "+duration(r.Bridge))
	}
	compare := "is: " + Quote(r.Is)
	if r.Moves != "" {
		compare = "moves: " + r.Moves
	}
	parts = append(parts, "when: {signal: "+Quote(r.Signal)+", "+compare+"}")
	return "{" + strings.Join(parts, ", ") + "}"
}

// Decimal writes a number as a map has it: the shortest decimal that is read as it.
func Decimal(x float64) string { return plain(x) }

// wordsOfYAML are texts that a YAML reader may take for something else than text.
var wordsOfYAML = map[string]bool{"": true, "on": true, "off": true, "yes": true, "no": true, "y": true, "n": true, "true": true, "false": true, "null": true, "~": true}

// Quote writes a text as YAML, in double quotes unless it is plain: letters, digits, and
// what cannot be mistaken between them. Control characters, which a map refuses, become
// U+FFFD.
func Quote(text string) string {
	plain := !wordsOfYAML[strings.ToLower(text)]
	for i, r := range text {
		switch {
		case unicode.IsLetter(r):
		case i > 0 && (r == '_' || r == '-' && i < len(text)-1 || unicode.IsDigit(r)):
		case i > 0 && (r == ' ' || r == '/' || r == '.') && i < len(text)-1:
		default:
			plain = false
		}
	}
	if plain {
		return text
	}
	var b strings.Builder
	b.WriteByte('"')
	for _, r := range text {
		switch {
		case r == '"' || r == '\\':
			b.WriteString(`\` + string(r))
		case r == '\t':
			b.WriteString(`\t`)
		case r == '\n':
			b.WriteString(`\n`)
		case r == '\r':
			b.WriteString(`\r`)
		case unicode.IsControl(r):
			b.WriteRune(unicode.ReplacementChar)
		case !unicode.IsPrint(r) && r <= 0xFFFF:
			fmt.Fprintf(&b, `\u%04X`, r)
		case !unicode.IsPrint(r):
			fmt.Fprintf(&b, `\U%08X`, r)
		default:
			b.WriteRune(r)
		}
	}
	b.WriteByte('"')
	return b.String()
}
