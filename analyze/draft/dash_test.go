package draft_test

import (
	"math"
	"testing"

	"lull/analyze/draft"
	"lull/analyze/scenario"
	"lull/decode"
	"lull/decode/marks"
	"lull/decode/sigmap"
)

// draftedBy drafts a map of a drive with marks.
func draftedBy(d scenario.Drive, list ...marks.Mark) *draft.Draft {
	b := draft.New()
	for f := range d.Frames {
		b.Push(f)
	}
	return b.Draft(draft.Options{Marks: list})
}

// speeds are the true speeds of a drive in km/h at moments in s.
func speeds(t *testing.T, d scenario.Drive) (at, v []float64) {
	t.Helper()
	m, err := sigmap.Parse(d.Map, scenario.Map(d.Map))
	if err != nil {
		t.Fatal(err)
	}
	return values(m, d, decode.VehicleSpeed)
}

// values are what a drive says of a role, at moments in s.
func values(m *decode.Map, d scenario.Drive, role decode.Role) (at, v []float64) {
	decoder, first, zero := decode.NewDecoder(m), true, int64(0)
	for f := range d.Frames {
		if first {
			first, zero = false, f.Time
		}
		for _, x := range decoder.Decode(f) {
			if m.Signals[x.Signal].Role == role && x.Valid {
				at, v = append(at, float64(f.Time-zero)/1e9), append(v, x.Value)
			}
		}
	}
	return at, v
}

// Whatever a lawful speedometer shows, the true factor is among those that are allowed, and
// where one value settles it, it is the true one; a reference it is not, so it is never sure.
func TestAValueOfTheDashboardSettlesTheFactorOfRoadSpeed(t *testing.T) {
	d := drive(t, "town.log")
	at, v := speeds(t, d)
	top := 0
	for i := range v {
		if v[i] > v[top] {
			top = i
		}
	}
	plain := draftedBy(d).Signal(draft.VehicleSpeed)
	if plain == nil || plain.ScaleIs != draft.Guess {
		t.Fatalf("without a value: %+v", plain)
	}
	settled := 0
	for _, more := range []float64{0, 1.5, 4} {
		for _, part := range []float64{1, 1.03, 1.1} {
			for _, mile := range []bool{false, true} {
				shown, unit := part*v[top]+more, "km/h"
				if mile {
					shown, unit = shown/1.609344, "mph"
				}
				m := marks.Mark{Name: "vehicle_speed", From: at[top], To: at[top], HasValue: true, Value: math.Round(shown), Unit: unit}
				s := draftedBy(d, m).Signal(draft.VehicleSpeed)
				if s == nil || s.ScaleIs == draft.Sure {
					t.Fatalf("shown %v %s: %+v", m.Value, unit, s)
				}
				if s.ScaleIs == draft.Likely {
					settled++
					if math.Abs(s.Factor/plain.Factor-1) > 1e-9 { // which is the true one here
						t.Errorf("shown %v %s of %.1f km/h: factor %v called likely", m.Value, unit, v[top], s.Factor)
					}
				}
			}
		}
	}
	if settled == 0 {
		t.Error("nothing is ever settled")
	}

	// What cannot be: a value that no factor allows changes nothing and is told.
	s := draftedBy(d, marks.Mark{Name: "vehicle_speed", From: at[top], To: at[top], HasValue: true, Value: 999, Unit: "mph"}).Signal(draft.VehicleSpeed)
	if s.Factor != plain.Factor || s.ScaleIs != draft.Guess {
		t.Errorf("factor %v, %v", s.Factor, s.ScaleIs)
	}
	told := false
	for _, e := range s.Evidence {
		if x, ok := e.(draft.DashValue); ok && x.Fit == 0 {
			told = true
		}
	}
	if !told {
		t.Errorf("not told: %v", s.Evidence)
	}
}

// What somebody chose is likely, never sure, and its factor no surer than it was.
func TestAFieldThatWasChosenIsNoSurerThanItsFactorWas(t *testing.T) {
	for _, was := range []draft.Sureness{draft.Guess, draft.Likely, draft.Sure} {
		for _, scale := range []draft.Sureness{draft.Guess, draft.Likely, draft.Sure} {
			s := draft.Signal{What: draft.EngineSpeed, Name: "engine_speed", FieldIs: was, ScaleIs: scale, Rivals: make([]draft.Rival, 1)}
			if got := s.Right().Signal; got.FieldIs != max(was, draft.Likely) || got.ScaleIs != scale {
				t.Errorf("%v and %v, said to be right: %v and %v", was, scale, got.FieldIs, got.ScaleIs)
			}
			if got := s.Instead(1).Signal; got.FieldIs != draft.Likely || got.ScaleIs != min(scale, draft.Likely) {
				t.Errorf("%v and %v, another in its place: %v and %v", was, scale, got.FieldIs, got.ScaleIs)
			}
		}
	}
}

func TestChoicesLeaveTheDraftAsItIs(t *testing.T) {
	d := &draft.Draft{Signals: []draft.Signal{
		{What: draft.EngineSpeed, Name: "engine_speed", Field: decode.Signal{Start: 0, Length: 16, Unit: "rpm"}, Factor: 0.25, Rivals: []draft.Rival{
			{Field: decode.Signal{Start: 16, Length: 16}, Factor: 0.5}, {Field: decode.Signal{Start: 32, Length: 16}, Factor: 1}}},
		{What: draft.Brake, Name: "brake"},
		{What: draft.BatteryCurrent, Name: "battery_current"},
	}}
	if d.Chosen(nil) != d {
		t.Error("without a choice it is another draft")
	}
	engine := d.Signals[0].Instead(2)
	got := d.Chosen(map[string]draft.Choice{"engine_speed": engine, "brake": d.Signals[1].LeftOut(), "battery_current": d.Signals[2].Right()})
	if len(got.Signals) != 2 || len(got.Out) != 1 || got.Out[0].Name != "brake" {
		t.Fatalf("%+v", got)
	}
	e := got.Signals[0]
	if e.Field.Start != 32 || e.Factor != 1 || e.Field.Unit != "rpm" || !e.Written || e.Rivals[1].Field.Start != 0 || e.Rivals[1].Factor != 0.25 || e.Rivals[0].Field.Start != 16 {
		t.Errorf("%+v", e)
	}
	if got.Signals[1].Written {
		t.Error("a number without a unit came into the map")
	}
	if len(d.Signals) != 3 || d.Signals[0].Rivals[1].Field.Start != 32 || d.Signals[0].Written {
		t.Errorf("the draft changed: %+v", d.Signals)
	}
	// What was chosen stays so where another draft proposes something else, or nothing.
	other := &draft.Draft{Missing: []draft.Missing{{What: draft.EngineSpeed}, {What: draft.Brake}}}
	if again := other.Chosen(map[string]draft.Choice{"engine_speed": engine}); len(again.Signals) != 1 || again.Signals[0].Field.Start != 32 || len(again.Missing) != 1 {
		t.Errorf("%+v", again)
	}
	if !engine.Dates || d.Signals[1].LeftOut().Dates || !d.Signals[0].Right().Dates {
		t.Error("the engine speed alone dates others; one that was a guess and is right does so, too")
	}
}
