package sigmap

import (
	"errors"
	"fmt"
	"os"
	"strings"
	"testing"
	"unicode/utf8"

	"lull/decode"
)

// consistent checks the invariants of every map that Parse returns.
func consistent(m *decode.Map) error {
	signal := func(i int) bool { return i >= 0 && i < len(m.Signals) }
	seen := map[string]bool{}
	for i := range m.Signals {
		s := &m.Signals[i]
		if s.Entry < 0 || s.Entry >= len(m.Entries) || s.Name == "" || seen[s.Name] || s.Line < 1 {
			return fmt.Errorf("signal %d %q: entry %d, line %d", i, s.Name, s.Entry, s.Line)
		}
		seen[s.Name] = true
		if s.Length < 1 || s.Length > 64 || s.Start < 0 || s.LastByte() >= maxBits/8 {
			return fmt.Errorf("signal %q: start %d, length %d", s.Name, s.Start, s.Length)
		}
		if s.Role != decode.NoRole && m.Role[s.Role] != i {
			return fmt.Errorf("signal %q plays %s, the map says %d", s.Name, s.Role, m.Role[s.Role])
		}
		for _, w := range s.When {
			if !signal(w.Signal) || m.Signals[w.Signal].Entry != s.Entry || len(w.Raws) == 0 {
				return fmt.Errorf("signal %q: selector %+v", s.Name, w)
			}
		}
		for j := 1; j < len(s.Labels); j++ {
			if s.Labels[j-1].Raw >= s.Labels[j].Raw {
				return fmt.Errorf("signal %q: labels out of order", s.Name)
			}
		}
	}
	listed := 0
	for i := range m.Entries {
		for _, s := range m.Entries[i].Signals {
			if !signal(s) || m.Signals[s].Entry != i {
				return fmt.Errorf("entry %d lists signal %d", i, s)
			}
			listed++
		}
	}
	if listed != len(m.Signals) || m.Role[decode.EngineSpeed] < 0 {
		return fmt.Errorf("%d of %d signals listed, engine speed %d", listed, len(m.Signals), m.Role[decode.EngineSpeed])
	}
	for _, i := range m.Circumstances {
		if !signal(i) {
			return fmt.Errorf("conditions name signal %d", i)
		}
	}
	for _, c := range append(append([]decode.Condition(nil), m.Requests...), m.Inhibits...) {
		if c.Name == "" || c.Expr == nil || c.Bridge < 0 || c.For < 0 {
			return fmt.Errorf("condition %+v", c)
		}
		wrong := false
		c.Expr.Walk(func(e *decode.Expr) {
			join := e.Op == decode.OpAll || e.Op == decode.OpAny || e.Op == decode.OpNot
			wrong = wrong || join != (len(e.Children) > 0) || !join && (!signal(e.Signal) || e.Text == "")
		})
		if wrong {
			return fmt.Errorf("condition %q: %+v", c.Name, c.Expr)
		}
	}
	return nil
}

func FuzzParse(f *testing.F) {
	for _, name := range []string{"testdata/example.yaml", "testdata/twenty.yaml"} {
		data, err := os.ReadFile(name)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(data)
	}
	for _, c := range mistakes {
		text, _ := places(c.input)
		f.Add([]byte(text))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		m, err := Parse("map.yaml", data)
		if err == nil {
			if err := consistent(m); err != nil {
				t.Fatal(err)
			}
			return
		}
		var list Errors
		if !errors.As(err, &list) || len(list) == 0 || m != nil {
			t.Fatalf("map %v, error %v", m, err)
		}
		text := strings.ReplaceAll(strings.ReplaceAll(string(data), "\r\n", "\n"), "\r", "\n")
		lines := strings.Split(strings.TrimPrefix(text, "\uFEFF"), "\n")
		for _, e := range list {
			if e.Line < 1 || e.Line > len(lines) || e.Column < 1 || e.Column > utf8.RuneCountInString(lines[e.Line-1])+1 {
				t.Fatalf("place %d:%d is not in the file: %v", e.Line, e.Column, e)
			}
			if e.Why == "" || e.Unwrap() == nil || !utf8.ValidString(e.Show()) {
				t.Fatalf("error without words or kind: %+v", e)
			}
		}
	})
}
