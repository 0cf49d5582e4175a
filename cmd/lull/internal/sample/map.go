package sample

import "lull/decode"

// Map is a map with two requests, three inhibits and three signals.
func Map() *decode.Map {
	m := &decode.Map{
		Name: "car.yaml", SHA256: "6d61", Vehicle: "Tallowmere 1.2",
		Signals: []decode.Signal{
			{Name: "coolant", Unit: "degC", Scale: decode.Identity},
			{Name: "ac", Length: 1, Scale: decode.Identity, Labels: []decode.Label{{Raw: 0, Text: "off"}, {Raw: 1, Text: "on"}}},
			{Name: "cabin_error", Unit: "K"},
		},
		Requests: []decode.Condition{
			{Name: "brake released", Expr: &decode.Expr{Op: decode.OpIs, Signal: 1, Text: "is off"}},
			{Name: "battery low", By: decode.BySystem, Expr: &decode.Expr{Op: decode.OpNot, Children: []*decode.Expr{{Op: decode.OpAbove, Signal: 2, Text: "above 5"}}}},
		},
		Inhibits: []decode.Condition{
			{Name: "coolant cold", Expr: &decode.Expr{Op: decode.OpBelow, Signal: 0, Text: "below 40"}},
			{Name: "cabin demand", Expr: &decode.Expr{Op: decode.OpAll, Children: []*decode.Expr{
				{Op: decode.OpIs, Signal: 1, Text: "is on"},
				{Op: decode.OpAny, Children: []*decode.Expr{{Op: decode.OpAbove, Signal: 2, Text: "above 3"}, {Op: decode.OpBelow, Signal: 2, Text: "below -3"}}},
			}}},
		},
		Settings: decode.DefaultSettings(),
	}
	for r := range m.Role {
		m.Role[r] = -1
	}
	m.Role[decode.VehicleSpeed] = 0 // what counts is that some signal has it
	return m
}

// Entries is a map whose entries are of every kind.
func Entries() *decode.Map {
	m := &decode.Map{
		Name: "kinds.yaml", Vehicle: "Tallowmere van",
		Entries: []decode.Entry{
			{Kind: decode.ByID, ID: 0x1A0, Signals: []int{0, 1, 5, 6}, Bus: "can0", Module: "engine control", Period: 10e6},
			{Kind: decode.ByID, ID: 0x18FF0102, Extended: true, Signals: []int{2}, OnChange: true},
			{Kind: decode.ByPGN, PGN: 61444, Source: 0, Signals: []int{3}},
			{Kind: decode.ByOBD, Mode: 1, PID: 0x0C, Response: 0x7E8, Address: 0xF1, Signals: []int{4}},
			{Kind: decode.ByOBD, Mode: 1, PID: 0x0C, Response: 0x7E9, Address: -1},
			{Kind: decode.ByDID, DID: 0xF40D, Response: 0x18DAF110, ResponseExtended: true, Address: -1},
			{Kind: decode.ByPGN, PGN: 65265, Source: -1},
		},
		Signals: []decode.Signal{
			{Name: "engine_speed", Start: 16, Length: 16, Scale: decode.Scale{Factor: 0.25}, Unit: "rpm", Role: decode.EngineSpeed},
			{Name: "brake, left", Start: 3, Length: 1, Scale: decode.Identity, Labels: []decode.Label{{Raw: 0, Text: "released"}, {Raw: 1, Text: "=pressed"}}},
			{Name: "big", Entry: 1, Start: 7, Length: 12, BigEndian: true, Signed: true, Scale: decode.Scale{Factor: 1, Offset: -40}, Unit: "degC",
				HasMin: true, Min: -40, HasMax: true, Max: 210, Invalid: []int64{-1, 254}},
			{Name: "tiny", Entry: 2, Start: 24, Length: 16, Scale: decode.Scale{Factor: 1, Offset: 2.5}},
			{Name: "huge", Entry: 3, Start: 0, Length: 64, Float: true, Scale: decode.Identity},
			{Name: "far", Start: 500, Length: 12, Scale: decode.Identity},
			{Name: "mode", Start: 8, Length: 2, Scale: decode.Identity, When: []decode.Selector{{Signal: 5, Raws: []int64{2, 3}}}},
		},
	}
	for r := range m.Role {
		m.Role[r] = -1
	}
	m.Role[decode.EngineSpeed] = 0
	return m
}
