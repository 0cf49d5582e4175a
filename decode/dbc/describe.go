package dbc

import (
	"cmp"
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"go.einride.tech/can/pkg/dbc"

	"lull/decode"
)

// Forms of the statements that describe messages and signals. Their texts have no
// semicolon at the end any more.
var (
	labelForm    = regexp.MustCompile(`(?s)^VAL_\s+(\d+)\s+(\S+)\s*(.*)$`)
	tableForm    = regexp.MustCompile(`(?s)^VAL_TABLE_\s+(\S+)\s*(.*)$`)
	tableName    = regexp.MustCompile(`^[A-Za-z_]\w*$`)
	pairForm     = regexp.MustCompile(`(?s)(-?\d+)\s*"((?:[^"\\]|\\.)*)"`)
	selectForm   = regexp.MustCompile(`(?s)^SG_MUL_VAL_\s+(\d+)\s+(\S+)\s+(\S+)\s+(.*)$`)
	typeForm     = regexp.MustCompile(`(?s)^SIG_VALTYPE_\s+(\d+)\s+([^\s:]+)\s*:?\s*([0-3])\s*$`)
	commentForm  = regexp.MustCompile(`(?s)^CM_\s+(?:BO_\s+(\d+)|SG_\s+(\d+)\s+(\S+))\s*"(.*)"\s*$`)
	protocolForm = regexp.MustCompile(`^BA_(DEF_DEF_)?\s+"ProtocolType"\s+"([^"]*)"\s*$`)
	formatForm   = regexp.MustCompile(`^BA_\s+"VFrameFormat"\s+BO_\s+(\d+)\s+(?:(\d+)|"([^"]*)")\s*$`)
	formatsForm  = regexp.MustCompile(`^BA_DEF_\s+BO_\s+"VFrameFormat"\s+ENUM\s+(.*)$`)
)

// at finds a message by its identifier as the file writes it.
func (r *reader) at(id string) (int, bool) {
	n, err := strconv.ParseUint(id, 10, 32)
	if err != nil {
		return 0, false
	}
	key := uint32(n)
	if key > 0x7FF {
		key |= 1 << 31
	}
	at, ok := r.byID[key]
	return at, ok
}

// named finds a signal by its message's identifier and its name.
func (r *reader) named(id, name string) *Signal {
	at, ok := r.at(id)
	if !ok {
		return nil
	}
	i, ok := r.places[at][name]
	if !ok {
		return nil
	}
	return &r.d.Messages[at].Signals[i]
}

// fits reports whether a field can have a raw value.
func fits(s *decode.Signal, raw int64) bool {
	switch {
	case s.Signed:
		return s.Length == 64 || raw >= -(1<<(s.Length-1)) && raw < 1<<(s.Length-1)
	case raw < 0:
		return false
	}
	return s.Length >= 63 || raw < 1<<s.Length
}

// labels reads the names of values.
func (r *reader) labels(text string) {
	form := labelForm.FindStringSubmatch(text)
	if form == nil {
		if fields := strings.Fields(text); len(fields) < 3 || fields[1][0] >= '0' && fields[1][0] <= '9' {
			r.d.mistake(r.line, "these values cannot be read")
		}
		return // of an environment variable
	}
	s := r.named(form[1], form[2])
	if s == nil {
		return // of a signal that was left out
	}
	values := strings.TrimSpace(form[3])
	if tableName.MatchString(values) {
		known, ok := r.tables[values]
		if !ok {
			r.d.mistake(r.line, fmt.Sprintf("there is no table of values %s", values))
			return
		}
		values = known
	}
	seen := map[int64]bool{}
	for _, l := range s.Field.Labels {
		seen[l.Raw] = true
	}
	for _, d := range r.described(values) {
		raw, label := int64(d.Value), unescaped(d.Description)
		switch {
		case float64(raw) != d.Value || label == "":
		case !fits(&s.Field, raw):
			r.d.mistake(r.line, fmt.Sprintf("%s cannot have the value %d (%s); left out", s.Field.Name, raw, short(label, 40)))
		case seen[raw]:
		case len(s.Field.Labels) == mostLabels:
			r.tooMuch()
		default:
			seen[raw] = true
			s.Field.Labels = append(s.Field.Labels, decode.Label{Raw: raw, Text: label})
		}
	}
	slices.SortFunc(s.Field.Labels, func(a, b decode.Label) int { return cmp.Compare(a.Raw, b.Raw) })
}

// described reads pairs of a number and its text: by the library, and where it finds a
// mistake, whatever pairs are whole.
func (r *reader) described(values string) []dbc.ValueDescriptionDef {
	def, err := parse("VAL_ 1 X " + values + " ;\n")
	if v, ok := def.(*dbc.ValueDescriptionsDef); ok && err == nil {
		return v.ValueDescriptions
	}
	r.d.mistake(r.line, "not all of these values can be read")
	var list []dbc.ValueDescriptionDef
	for _, p := range pairForm.FindAllStringSubmatch(values, mostLabels) {
		if n, err := strconv.ParseInt(p[1], 10, 54); err == nil {
			list = append(list, dbc.ValueDescriptionDef{Value: float64(n), Description: p[2]})
		}
	}
	return list
}

// table keeps a table of values, to which signals may refer.
func (r *reader) table(text string) {
	if form := tableForm.FindStringSubmatch(text); form != nil && len(form[2]) < 1<<16 && len(r.tables) < 1<<10 {
		r.tables[form[1]] = strings.TrimSpace(form[2])
	}
}

// selected reads for which values of which selector a signal is there.
func (r *reader) selected(text string) {
	m := selectForm.FindStringSubmatch(text)
	if m == nil {
		r.d.mistake(r.line, "this selection cannot be read")
		return
	}
	s := r.named(m[1], m[2])
	if s == nil {
		return
	}
	s.SelectedBy, s.When = m[3], []int64{}
	for _, part := range strings.FieldsFunc(m[4], func(c rune) bool { return c == ',' || c == ' ' || c == '\t' || c == '\n' }) {
		low, high, one := strings.Cut(part, "-")
		if !one {
			high = low
		}
		a, errA := strconv.ParseInt(low, 10, 64)
		b, errB := strconv.ParseInt(high, 10, 64)
		if errA != nil || errB != nil || b < a {
			r.d.mistake(r.line, fmt.Sprintf("%q is no range of values of a selector", short(part, 40)))
			continue
		}
		for v := a; v <= b; v++ {
			if len(s.When) == mostSelected {
				r.d.mistake(r.line, fmt.Sprintf("%s is there for more than %d values of %s; the first %d are kept", s.Field.Name, mostSelected, short(m[3], 40), mostSelected))
				return
			}
			s.When = append(s.When, v)
			if v == b { // which may be the largest there is
				break
			}
		}
	}
}

// valueType reads that a signal is a float.
func (r *reader) valueType(text string) {
	m := typeForm.FindStringSubmatch(text)
	if m == nil {
		r.d.mistake(r.line, "this type of a signal cannot be read")
		return
	}
	s := r.named(m[1], m[2])
	if s == nil || m[3] == "0" || m[3] == "3" {
		return
	}
	if bits := map[string]int{"1": 32, "2": 64}[m[3]]; s.Field.Length != bits {
		r.d.mistake(r.line, fmt.Sprintf("%s has %d bits and cannot be a float of %d; read as a whole number", s.Field.Name, s.Field.Length, bits))
		return
	}
	s.Field.Float, s.Field.Signed = true, false
}

// comment reads what the file says of a message or a signal in words.
func (r *reader) comment(text string) {
	m := commentForm.FindStringSubmatch(text)
	if m == nil {
		return // of the file, a node, a variable
	}
	note := short(strings.Join(strings.Fields(unescaped(m[4])), " "), longestNote)
	if m[1] != "" {
		if at, ok := r.at(m[1]); ok {
			r.d.Messages[at].Comment = note
		}
	} else if s := r.named(m[2], m[3]); s != nil {
		s.Comment = note
	}
}

// attribute reads what says that a bus or a message is of J1939.
func (r *reader) attribute(text string) {
	if m := protocolForm.FindStringSubmatch(text); m != nil {
		if m[1] == "" || r.d.Protocol == "" { // a value counts, else the default
			r.d.Protocol = strings.TrimSpace(m[2])
		}
		return
	}
	if m := formatsForm.FindStringSubmatch(text); m != nil {
		for _, f := range strings.Split(m[1], ",") {
			r.formats = append(r.formats, strings.Trim(strings.TrimSpace(f), `"`))
		}
		return
	}
	if m := formatForm.FindStringSubmatch(text); m != nil {
		format := m[3]
		if n, err := strconv.Atoi(m[2]); err == nil && n < len(r.formats) {
			format = r.formats[n]
		}
		if at, ok := r.at(m[1]); ok {
			r.d.Messages[at].Group = strings.HasPrefix(format, "J1939")
		}
	}
}
