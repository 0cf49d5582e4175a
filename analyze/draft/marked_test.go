package draft_test

import (
	"slices"
	"testing"

	"lull/analyze/draft"
	"lull/analyze/scenario"
	"lull/decode"
	"lull/decode/marks"
	"lull/decode/sigmap"
)

// Every mark comes to something: a switch that follows it, or its name among those that none
// follows.
func TestAMarkThatNoSwitchFollowsIsNamed(t *testing.T) {
	d := drive(t, "town.log")
	m, err := sigmap.Parse(d.Map, scenario.Map(d.Map))
	if err != nil {
		t.Fatal(err)
	}
	brake := slices.IndexFunc(m.Signals, func(s decode.Signal) bool { return s.Name == "brake" })
	var list []marks.Mark
	decoder, zero, on, from := decode.NewDecoder(m), int64(-1), false, 0.0
	for f := range d.Frames {
		if zero < 0 {
			zero = f.Time
		}
		for _, x := range decoder.Decode(f) {
			now := float64(f.Time-zero) / 1e9
			if x.Signal != brake || (x.Raw == 1) == on {
				continue
			}
			if on = x.Raw == 1; on {
				from = now
			} else {
				list = append(list, marks.Mark{Name: "brake", From: from, To: now})
			}
		}
	}
	if len(list) < 3 {
		t.Fatalf("%d times", len(list))
	}
	list = append(list, marks.Mark{Name: "sunroof", From: 31, To: 33}, marks.Mark{Name: "sunroof", From: 49, To: 50}, marks.Mark{Name: "sunroof", From: 93, To: 96})
	got := draftedBy(d, list...)
	if !slices.Equal(got.Unfollowed, []string{"sunroof"}) {
		t.Errorf("no switch follows %q", got.Unfollowed)
	}
	if s := got.Signal(draft.Brake); s == nil || s.Field.Length != 1 {
		t.Errorf("the brake: %+v", s)
	}
}
