package web_test

import (
	"strings"
	"testing"

	"lull/analyze/draft"
	"lull/cmd/lull/internal/sample/driven"
	"lull/cmd/lull/internal/serve/web"
	"lull/cmd/lull/internal/words"
	"lull/decode"
)

// A value of the dashboard is asked for where it may settle a factor, in the signal's units;
// one that settles nothing is told so.
func TestADashboardIsAskedForWhereItMaySettleAFactor(t *testing.T) {
	page := func(what draft.Quantity, is draft.Sureness, e draft.Evidence, shown ...web.Shown) string {
		s := draft.Signal{What: what, Name: what.Name(), Field: decode.Signal{Unit: what.Unit(), Length: 16}, ScaleIs: is, Evidence: []draft.Evidence{e}}
		d := web.Draft{Frame: web.Frame{Base: "/secret"}, ID: "one", MapText: "map", Shown: shown,
			Draft: &words.Draft{Logs: []string{"a.log"}, Result: &draft.Draft{Signals: []draft.Signal{s}}}}
		return driven.Written(t, d.Write)
	}
	told := web.Shown{Name: "engine_speed", Text: "2000 rpm at 83 s"}
	for _, row := range []struct {
		name, page  string
		has, hasNot []string
	}{
		{"engine speed by its shape", page(draft.EngineSpeed, draft.Guess, draft.Shape{}), []string{"What did the tachometer show?", "<option>rpm</option>"}, []string{"mph", "settles nothing"}},
		{"road speed by its shape", page(draft.VehicleSpeed, draft.Guess, draft.Road{}), []string{"What did the dashboard show?", "<option>mph</option>"}, []string{"rpm</option>"}},
		{"a factor that is likely", page(draft.EngineSpeed, draft.Likely, draft.Shape{}), nil, []string{"What did the"}},
		{"a factor of a database", page(draft.VehicleSpeed, draft.Guess, draft.Database{}), nil, []string{"What did the"}},
		{"a voltage", page(draft.BatteryVoltage, draft.Guess, draft.Dips{}), nil, []string{"What did the"}},
		{"told and used", page(draft.EngineSpeed, draft.Likely, draft.DashValue{}, told), []string{"Told so far: 2000 rpm at 83 s"}, []string{"settles nothing"}},
		{"told and not used", page(draft.EngineSpeed, draft.Sure, draft.Follows{}, told), []string{"Told so far: 2000 rpm at 83 s. That settles nothing: the factor comes from answers to a scan tool"}, nil},
		{"told of another", page(draft.VehicleSpeed, draft.Guess, draft.Road{}, told), nil, []string{"Told so far"}},
	} {
		for _, want := range row.has {
			if !strings.Contains(row.page, want) {
				t.Errorf("%s: no %q", row.name, want)
			}
		}
		for _, not := range row.hasNot {
			if strings.Contains(row.page, not) {
				t.Errorf("%s: %q is there", row.name, not)
			}
		}
	}
}
