package sigmap

import (
	"bytes"
	"errors"
	"fmt"
	"slices"
	"strings"

	"lull/decode"
)

// Insert adds to a map what it does not have yet: of the frames and requests of t those
// signals whose role, name and bits the map leaves free, below its own frames. Every line of
// the map stays as it is. It returns the new text and how many signals were added.
//
// The map must be without mistakes, except that it may lack the engine speed. The error is
// an Errors, or says why the text cannot be added to.
func Insert(name string, data []byte, t *Text) ([]byte, int, error) {
	m, err := compiled(name, data)
	if m == nil {
		return nil, 0, err
	}
	if err != nil {
		var mistakes Errors
		if !errors.As(err, &mistakes) || slices.ContainsFunc(mistakes, func(e *Error) bool { return !errors.Is(e, ErrNoEngineSpeed) }) {
			return nil, 0, err
		}
	}
	add, count := missing(m, t)
	if count == 0 {
		return data, 0, nil
	}
	lines := bytes.SplitAfter(data, []byte("\n"))
	from := slices.IndexFunc(lines, func(l []byte) bool { return bytes.HasPrefix(l, []byte("frames:")) })
	if from < 0 || strings.TrimSpace(stripped(lines[from])) != "frames:" {
		return nil, 0, fmt.Errorf("%s has its frames in another form than a list below the line `frames:`; add the drafted lines by hand", name)
	}
	// The list ends where the next key begins; comments and blank lines before that are
	// the key's.
	indent, end := "  ", from+1
	for i := from + 1; i < len(lines); i++ {
		line := string(lines[i])
		text := strings.TrimSpace(line)
		if text == "" || text[0] == '#' {
			continue
		}
		if line[0] != ' ' && line[0] != '-' {
			break
		}
		if end == from+1 {
			indent = line[:len(line)-len(strings.TrimLeft(line, " "))]
		}
		end = i + 1
	}
	var written bytes.Buffer
	if err := Write(&written, add); err != nil {
		return nil, 0, err
	}
	var out bytes.Buffer
	for _, l := range lines[:end] {
		out.Write(l)
	}
	if end > 0 && !bytes.HasSuffix(lines[end-1], []byte("\n")) {
		out.WriteByte('\n')
	}
	for _, l := range framesOf(written.String()) {
		out.WriteString(indent + strings.TrimPrefix(l, "  ") + "\n")
	}
	for _, l := range lines[end:] {
		out.Write(l)
	}
	if _, err := Parse(name, out.Bytes()); err != nil {
		return nil, 0, fmt.Errorf("what would be added does not fit into the map: %w", err)
	}
	return out.Bytes(), count, nil
}

// stripped is a line without its comment.
func stripped(line []byte) string {
	text, _, _ := strings.Cut(string(line), " #")
	return text
}

// framesOf are the lines of the list of frames in a written map.
func framesOf(text string) []string {
	var list []string
	in := false
	for l := range strings.Lines(text) {
		l = strings.TrimSuffix(l, "\n")
		switch {
		case l == "frames:":
			in = true
		case in && !strings.HasPrefix(l, "  "):
			return list
		case in:
			list = append(list, l)
		}
	}
	return list
}

// missing is t without what a map has, and how many signals are left.
func missing(m *decode.Map, t *Text) (*Text, int) {
	add, count := &Text{}, 0
	names, roles := map[string]bool{}, map[decode.Role]bool{}
	bits := map[string]bool{} // of frames
	at := func(e *decode.Entry, bit int) string { return fmt.Sprintf("%s %d", e.Label(), bit) }
	for i := range m.Signals {
		s := &m.Signals[i]
		names[s.Name], roles[s.Role] = true, true
		for _, b := range s.Bits() {
			bits[at(&m.Entries[s.Entry], b)] = true
		}
	}
	for i := range t.Frames {
		f := t.Frames[i]
		var signals []SignalText
		for _, s := range f.Signals {
			role := s.Signal.Role
			taken := s.Out || names[s.Signal.Name] || role != decode.NoRole && roles[role]
			for _, b := range s.Signal.Bits() {
				taken = taken || bits[at(&f.Entry, b)]
			}
			if !taken {
				signals = append(signals, s)
			}
		}
		// A selector alone adds nothing, and what needs one that is not there cannot be read.
		signals = slices.DeleteFunc(signals, func(s SignalText) bool {
			return slices.ContainsFunc(s.When, func(w WhenText) bool {
				return !slices.ContainsFunc(signals, func(o SignalText) bool { return o.Signal.Name == w.Signal })
			})
		})
		if len(signals) > 0 {
			f.Signals = signals
			add.Frames = append(add.Frames, f)
			count += len(signals)
		}
	}
	return add, count
}
