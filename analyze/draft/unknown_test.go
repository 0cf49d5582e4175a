package draft_test

import (
	"strings"
	"testing"

	"lull/analyze/draft"
	"lull/analyze/scenario/foreign"
	"lull/decode"
	"lull/decode/dbc"
	"lull/decode/marks"
	"lull/decode/sigmap"
)

// alone is a map of one drafted signal, as the car's judge wants it.
func alone(t *testing.T, s *draft.Signal) (*decode.Map, *decode.Signal) {
	t.Helper()
	m := &decode.Map{Entries: []decode.Entry{s.Entry}}
	add := func(x decode.Signal, name string, factor, offset float64) {
		scale, err := decode.ParseScale(sigmap.Decimal(factor), sigmap.Decimal(offset))
		if err != nil {
			t.Fatal(err)
		}
		x.Name, x.Scale, x.Entry = name, scale, 0
		m.Entries[0].Signals = append(m.Entries[0].Signals, len(m.Signals))
		m.Signals = append(m.Signals, x)
	}
	x := s.Field
	if s.Page != nil {
		x.When = []decode.Selector{{Signal: 1, Raws: []int64{s.PageValue}}}
	}
	factor, offset := s.Factor, s.Offset
	if !s.HasFactor() {
		factor, offset = 1, 0
	}
	x.Role = s.What.Role()
	add(x, s.Name, factor, offset)
	if s.Page != nil {
		add(*s.Page, "page", 1, 0)
	}
	return m, &m.Signals[0]
}

// Of cars of every kind that nobody has a map of, nothing that is called sure is false, and
// the engine speed is found in most.
func TestOfUnknownCarsNothingCalledSureIsFalse(t *testing.T) {
	cars := 2
	if testing.Short() {
		cars = 1
	}
	found, there := 0, 0
	for kind := range foreign.KindCount {
		if testing.Short() && kind%3 > 0 {
			continue // the race detector need not see them all
		}
		for seed := range int64(cars) {
			u := foreign.NewUnknown(2000+seed, kind)
			d := draft.New()
			d.NextLog()
			u.Play(func(f *decode.Frame) bool { d.Push(f); return true })
			var o draft.Options
			if u.Marks != nil {
				var err error
				if o.Marks, err = marks.Parse("", u.Marks); err != nil {
					t.Fatal(err)
				}
			}
			if u.DBC != nil {
				o.Database = dbc.Parse(u.DBC)
			}
			result := d.Draft(o)
			if kind != foreign.NeverStops && kind != foreign.Pages {
				there++
			}
			for i := range result.Signals {
				s := &result.Signals[i]
				role := s.Name
				if r := s.What.Role(); r != decode.NoRole {
					role = r.String()
				}
				if s.What == draft.TurnLamp {
					role, _, _ = strings.Cut(s.Name, "_") // one of two sides
				}
				judged := false
				for _, known := range foreign.Roles() {
					judged = judged || known == role
				}
				if !judged {
					continue
				}
				m, x := alone(t, s)
				v := u.Judge(role, m, x)
				if s.FieldIs == draft.Sure && !v.FieldRight || s.HasFactor() && s.ScaleIs == draft.Sure && !v.ScaleRight {
					t.Errorf("%s: called sure and false: %s", u.Name, place(&s.Entry, &s.Field, s.Factor, s.Offset))
				}
				if s.What == draft.EngineSpeed && v.FieldRight && kind != foreign.NeverStops && kind != foreign.Pages {
					found++
				}
			}
		}
	}
	if 4*found < 3*there {
		t.Errorf("the field of the engine speed was found in %d of %d cars", found, there)
	}
}
