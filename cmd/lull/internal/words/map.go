package words

import (
	"fmt"
	"strconv"
	"strings"

	"lull/decode"
)

// MapSummary says in one line what a map holds.
func MapSummary(m *decode.Map) string {
	var roles []string
	for role := decode.NoRole + 1; role < decode.RoleCount; role++ {
		if m.RoleSignal(role) != nil {
			roles = append(roles, role.String())
		}
	}
	parts := []string{
		decode.Counted(int64(len(m.Entries)), "frame", "frames"),
		decode.Counted(int64(len(m.Signals)), "signal", "signals"),
		decode.Counted(int64(len(roles)), "role", "roles") + " (" + strings.Join(roles, ", ") + ")",
		decode.Counted(int64(len(m.Requests)), "restart request", "restart requests"),
		decode.Counted(int64(len(m.Inhibits)), "inhibit", "inhibits"),
		decode.Counted(int64(len(m.Limits)), "limit", "limits"),
	}
	return Visible(m.Name) + ": " + strings.Join(parts, ", ")
}

// FrameLabels names each entry of the map as samples show it: its label, with
// the sender where the map takes the same from several.
func FrameLabels(m *decode.Map) []string {
	senders := map[string]map[string]bool{}
	for i := range m.Entries {
		label := m.Entries[i].Label()
		if senders[label] == nil {
			senders[label] = map[string]bool{}
		}
		senders[label][sender(&m.Entries[i])] = true
	}
	labels := make([]string, len(m.Entries))
	for i := range m.Entries {
		labels[i] = m.Entries[i].Label()
		if from := sender(&m.Entries[i]); from != "" && len(senders[labels[i]]) > 1 {
			labels[i] += "@" + from
		}
	}
	return labels
}

func sender(e *decode.Entry) string {
	switch {
	case e.Polled():
		return strings.TrimPrefix(decode.FormatID(e.Response, e.ResponseExtended), "0x")
	case e.Kind == decode.ByPGN && e.Source >= 0:
		return fmt.Sprintf("%02X", e.Source)
	}
	return ""
}

// EntryCaption says what an entry of a map is; label names it, as of FrameLabels.
func EntryCaption(e *decode.Entry, label string) string {
	text := label
	switch e.Kind {
	case decode.ByPGN:
		if e.Source >= 0 && !strings.Contains(label, "@") {
			text += fmt.Sprintf(" from source %d", e.Source)
		}
	case decode.ByOBD, decode.ByDID:
		text += ", answers from " + decode.FormatID(e.Response, e.ResponseExtended)
		if e.Address >= 0 {
			text += fmt.Sprintf(", address byte 0x%02X", e.Address)
		}
	}
	if e.Bus != "" {
		text += " on " + Visible(e.Bus)
	}
	if e.Module != "" {
		text += ", " + Visible(e.Module)
	}
	if e.OnChange {
		text += ", sent on change"
	}
	if e.Period > 0 {
		text += ", period " + e.Period.String()
	}
	return text
}

// SignalCaption says what a signal of a map is.
func SignalCaption(m *decode.Map, s *decode.Signal) string {
	parts := []string{decode.Counted(int64(s.Length), "bit", "bits") + fmt.Sprintf(" from %d", s.Start)}
	if s.Length > 1 {
		if s.BigEndian {
			parts[0] += " big endian"
		} else {
			parts[0] += " little endian"
		}
	}
	if s.Signed {
		parts = append(parts, "signed")
	}
	if s.Float {
		parts = append(parts, "float")
	}
	if s.Scale.Factor != 1 {
		parts = append(parts, "x "+Shortest(s.Scale.Factor))
	}
	if s.Scale.Offset > 0 {
		parts = append(parts, "+ "+Shortest(s.Scale.Offset))
	}
	if s.Scale.Offset < 0 {
		parts = append(parts, "- "+Shortest(-s.Scale.Offset))
	}
	if s.Unit != "" {
		parts = append(parts, Visible(s.Unit))
	}
	if s.HasMin {
		parts = append(parts, "from "+Shortest(s.Min))
	}
	if s.HasMax {
		parts = append(parts, "up to "+Shortest(s.Max))
	}
	if len(s.Invalid) > 0 {
		parts = append(parts, "not valid: "+rawList(s.Invalid))
	}
	if len(s.Labels) > 0 {
		parts = append(parts, joined(s.Labels, ", ", func(l decode.Label) string {
			return strconv.FormatInt(l.Raw, 10) + " = " + Visible(l.Text)
		}))
	}
	for _, w := range s.When {
		parts = append(parts, "only where "+Visible(m.Signals[w.Signal].Name)+" is "+rawList(w.Raws))
	}
	if s.Role != decode.NoRole {
		parts = append(parts, "role "+s.Role.String())
	}
	return Visible(s.Name) + ": " + strings.Join(parts, ", ")
}

func rawList(raws []int64) string {
	return joined(raws, " or ", func(r int64) string { return strconv.FormatInt(r, 10) })
}

// MapText names a map.
func MapText(m *decode.Map) string {
	text := Visible(m.Name) + ", sha256 " + m.SHA256
	if m.Vehicle != "" {
		text += ", for " + Visible(m.Vehicle)
	}
	return text
}
