package draft_test

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"lull/analyze/draft"
	"lull/analyze/scenario"
	"lull/decode"
	"lull/decode/marks"
	"lull/decode/sigmap"
)

// draftedWith drafts a map of a drive by options.
func draftedWith(d scenario.Drive, o draft.Options) *draft.Draft {
	b := draft.New()
	for f := range d.Frames {
		b.Push(f)
	}
	return b.Draft(o)
}

func drive(t *testing.T, name string) scenario.Drive {
	t.Helper()
	list := scenario.Drives()
	i := slices.IndexFunc(list, func(d scenario.Drive) bool { return d.Name == name })
	if i < 0 {
		t.Fatalf("no drive %s", name)
	}
	return list[i]
}

// places are the fields of a draft but for those named.
func places(d *draft.Draft, besides ...draft.Quantity) []string {
	var list []string
	for i := range d.Signals {
		if s := &d.Signals[i]; !slices.Contains(besides, s.What) {
			list = append(list, fmt.Sprint(s.Name, " ", place(&s.Entry, &s.Field, s.Factor, s.Offset), " ", s.FieldIs))
		}
	}
	return list
}

// instead is a choice of another field in place of a proposal.
func instead(s, other *draft.Signal) draft.Choice {
	with := *s
	with.Rivals = []draft.Rival{{Entry: other.Entry, Field: other.Field, Factor: other.Factor, Offset: other.Offset, Page: other.Page, PageValue: other.PageValue}}
	return with.Instead(1)
}

// What starts and stops date is dated by the engine speed that was chosen, in a wrong one's
// place as in the right one's.
func TestWhatTheEngineDatesIsDatedByTheOneThatWasChosen(t *testing.T) {
	town := drive(t, "town.log")
	plain := draftedWith(town, draft.Options{})
	engine, voltage := plain.Signal(draft.EngineSpeed), plain.Signal(draft.BatteryVoltage)
	if engine == nil || voltage == nil || plain.Signal(draft.StopCommand) == nil {
		t.Fatalf("%+v", plain.Signals)
	}
	// A voltage is no engine: it never rests.
	choices := map[string]draft.Choice{"engine_speed": instead(engine, voltage)}
	wrong := draftedWith(town, draft.Options{Choices: choices})
	if s := wrong.Signal(draft.EngineSpeed); !s.SamePlace(voltage) || s.FieldIs != draft.Likely || s.Rivals[0].Field.Start != engine.Field.Start {
		t.Fatalf("%+v", s)
	}
	if wrong.Drive == plain.Drive || wrong.Signal(draft.StopCommand) != nil || wrong.Signal(draft.StarterCommand) != nil {
		t.Errorf("dated as before: %+v %v", wrong.Drive, places(wrong))
	}
	if after := wrong.Chosen(choices); !after.Signal(draft.EngineSpeed).SamePlace(voltage) {
		t.Error("the choice is lost")
	}
	// And back by that draft's own rival.
	right := draftedWith(town, draft.Options{Choices: map[string]draft.Choice{"engine_speed": wrong.Signal(draft.EngineSpeed).Instead(1)}})
	if got, want := places(right, draft.EngineSpeed), places(plain, draft.EngineSpeed); !slices.Equal(got, want) || right.Drive != plain.Drive {
		t.Errorf("%v\nnot\n%v", got, want)
	}
}

// What is dated by standstills goes with a road speed that is left out, and says why.
func TestWithoutRoadSpeedNothingIsDatedByStandstills(t *testing.T) {
	town := drive(t, "town.log")
	plain := draftedWith(town, draft.Options{})
	road := plain.Signal(draft.VehicleSpeed)
	if road == nil || plain.Signal(draft.Brake) == nil {
		t.Fatalf("%+v", plain.Signals)
	}
	choices := map[string]draft.Choice{"vehicle_speed": road.LeftOut()}
	d := draftedWith(town, draft.Options{Choices: choices}).Chosen(choices)
	if d.Signal(draft.VehicleSpeed) != nil || d.Signal(draft.Brake) != nil || len(d.Out) != 1 {
		t.Errorf("%v, left out %d", places(d), len(d.Out))
	}
	for _, m := range d.Missing {
		if m.What == draft.VehicleSpeed || m.What == draft.Brake && m.Why != draft.NeverStood {
			t.Errorf("missing: %+v", m)
		}
	}
}

// A value of the tachometer decides between the usual factors of an engine speed that was
// found by its shape; a factor that is wrong by a power of two is put right by it.
func TestATachometerSettlesTheFactorOfTheEngineSpeed(t *testing.T) {
	town := drive(t, "town.log")
	m, err := sigmap.Parse(town.Map, scenario.Map(town.Map))
	if err != nil {
		t.Fatal(err)
	}
	truth := m.RoleSignal(decode.EngineSpeed)
	at, v := values(m, town, decode.EngineSpeed)
	idle := slices.IndexFunc(v, func(x float64) bool { return x > 700 })
	idle += slices.IndexFunc(at[idle:], func(x float64) bool { return x > at[idle]+3 })
	shown := func(part float64, unit string) marks.Mark {
		return marks.Mark{Name: "rpm", From: at[idle], To: at[idle], HasValue: true, Value: math.Round(part*v[idle]/50) * 50, Unit: unit}
	}
	fit := func(s *draft.Signal) int {
		for _, e := range s.Evidence {
			if x, ok := e.(draft.DashValue); ok {
				return x.Fit
			}
		}
		return -1
	}
	for _, part := range []float64{0.95, 1, 1.05} {
		s := draftedWith(town, draft.Options{Marks: []marks.Mark{shown(part, "rpm")}}).Signal(draft.EngineSpeed)
		if s.Factor != truth.Scale.Factor || fit(s) < 1 || s.ScaleIs == draft.Sure {
			t.Errorf("%v of the true speed: factor %v, %d fit, %v", part, s.Factor, fit(s), s.ScaleIs)
		}
	}
	// Twice as much: an engine that idles at 1500 is as good a truth as any.
	twice := draftedWith(town, draft.Options{Marks: []marks.Mark{shown(2, "1/min")}}).Signal(draft.EngineSpeed)
	if twice.Factor != 2*truth.Scale.Factor || fit(twice) != 1 || twice.ScaleIs != draft.Likely {
		t.Errorf("twice: factor %v, %d fit, %v", twice.Factor, fit(twice), twice.ScaleIs)
	}
	for _, e := range twice.Evidence {
		if x, ok := e.(draft.Shape); ok && math.Abs(x.Idle-2*v[idle]) > 200 {
			t.Errorf("it is said to idle at %v", x.Idle)
		}
	}
	if s := draftedWith(town, draft.Options{Marks: []marks.Mark{shown(900, "rpm")}}).Signal(draft.EngineSpeed); fit(s) != 0 || s.ScaleIs != draft.Guess {
		t.Errorf("nonsense: %d fit, %v", fit(s), s.ScaleIs)
	}
	if s := draftedWith(town, draft.Options{Marks: []marks.Mark{shown(1, "km/h")}}).Signal(draft.EngineSpeed); fit(s) != -1 {
		t.Error("a unit of something else was taken")
	}
}
