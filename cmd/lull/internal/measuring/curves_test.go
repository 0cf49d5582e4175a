package measuring

import (
	"testing"

	"lull/analyze/draft"
	"lull/cmd/lull/internal/words"
	"lull/decode"
)

// What a role alone may have, as the values for which it is on, does not keep the others from
// being drawn.
func TestASwitchThatIsOnAtZeroLeavesAllCurves(t *testing.T) {
	entry := decode.Entry{Kind: decode.ByID, ID: 0x1A0, Source: -1}
	d := &words.Draft{Result: &draft.Draft{Signals: []draft.Signal{
		{What: draft.EngineSpeed, Name: "engine_speed", Entry: entry, Field: decode.Signal{Start: 16, Length: 16, Unit: "rpm"}, Factor: 0.25, Written: true},
		{What: draft.StopCommand, Name: "stop_command", Entry: entry, Field: decode.Signal{Start: 3, Length: 1, HasActive: true, Active: []int64{0}}, Written: true},
	}}}
	m := whole(d, "")
	if m == nil || len(m.Signals) != 2 {
		t.Fatalf("a map of both: %+v", m)
	}
}
