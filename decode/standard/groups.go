package standard

import (
	"cmp"
	"slices"

	"lull/decode"
)

// Where a name is from. A value that was compared with a published source has its name;
// what was not is from memory.
const (
	published = "SAE J1939-71, compared with public descriptions of it"
	memory    = "SAE J1939, from memory"
)

// Group is a parameter group of SAE J1939.
type Group struct {
	PGN    uint32
	Short  string // as the standard abbreviates it; "" where it does not
	Says   string // what it tells, in plain words
	Source string
	// Core groups are those of which three make a bus one of SAE J1939. Others are
	// named there, but alone prove nothing: other buses borrow them.
	Core bool
	// Parameters are the commonest ones of the group.
	Parameters []Parameter
}

// Parameter is one value of a group. Start and Bits are as in a signal map, little-endian:
// 8 x byte + bit.
type Parameter struct {
	SPN            int
	Name           string
	Start, Bits    int
	Factor, Offset float64
	Unit           string // "" for states
	Source         string
}

// groups are the common ones, by number.
var groups = []Group{
	{PGN: 0, Short: "TSC1", Says: "torque and speed wanted of the engine or retarder", Source: memory},
	{PGN: 59392, Says: "acknowledgement", Source: memory},
	{PGN: 59904, Says: "request for a group", Source: "SAE J1939-21, compared with the kernel's documents"},
	{PGN: 60160, Short: "TP.DT", Says: "transport protocol, data", Source: "SAE J1939-21, compared with the kernel's documents"},
	{PGN: 60416, Short: "TP.CM", Says: "transport protocol, connection", Source: "SAE J1939-21, compared with the kernel's documents"},
	{PGN: 60928, Says: "address claimed", Source: "SAE J1939-81, from memory"},
	{PGN: 61184, Says: "proprietary, to one address", Source: memory},
	{PGN: 61440, Short: "ERC1", Says: "retarder", Source: memory},
	{PGN: 61441, Short: "EBC1", Says: "brake control", Source: memory, Core: true},
	{PGN: 61442, Short: "ETC1", Says: "transmission, shaft speeds", Source: memory, Core: true, Parameters: []Parameter{
		{191, "output shaft speed", 8, 16, 0.125, 0, "rpm", memory},
		{161, "input shaft speed", 40, 16, 0.125, 0, "rpm", memory},
	}},
	{PGN: 61443, Short: "EEC2", Says: "accelerator pedal, load", Source: published, Core: true, Parameters: []Parameter{
		{558, "pedal low idle switch", 0, 2, 1, 0, "", "states " + published + "; place from memory"},
		{91, "accelerator pedal", 8, 8, 0.4, 0, "%", "scale " + published + "; place from memory"},
		{92, "engine load", 16, 8, 1, 0, "%", memory},
	}},
	{PGN: 61444, Short: "EEC1", Says: "engine speed, torque", Source: published, Core: true, Parameters: []Parameter{
		{899, "engine torque mode", 0, 4, 1, 0, "", published},
		{512, "torque demanded", 8, 8, 1, -125, "%", published},
		{513, "torque", 16, 8, 1, -125, "%", published},
		{190, "engine speed", 24, 16, 0.125, 0, "rpm", published},
		{1675, "starter mode", 48, 4, 1, 0, "", published},
	}},
	{PGN: 61445, Short: "ETC2", Says: "transmission, gear", Source: memory, Core: true, Parameters: []Parameter{
		{524, "gear selected", 0, 8, 1, -125, "", memory},
		{523, "gear", 24, 8, 1, -125, "", memory},
	}},
	{PGN: 64914, Says: "engine operating state", Source: "SAE J1939-71, compared with a public table", Parameters: []Parameter{
		{3543, "engine operating state", 0, 4, 1, 0, "", "place compared with a public table; states from memory"},
		{6385, "automatic start enabled", 6, 2, 1, 0, "", "compared with a public table"},
	}},
	{PGN: 65132, Short: "TCO1", Says: "tachograph, road speed", Source: memory, Core: true},
	{PGN: 65215, Short: "EBC2", Says: "wheel speeds", Source: memory, Core: true, Parameters: []Parameter{
		{904, "front axle speed", 0, 16, 1.0 / 256, 0, "km/h", memory},
	}},
	{PGN: 65217, Short: "VDHR", Says: "distance driven, fine", Source: memory},
	{PGN: 65226, Short: "DM1", Says: "active trouble codes", Source: "SAE J1939-73, from memory"},
	{PGN: 65227, Short: "DM2", Says: "earlier trouble codes", Source: "SAE J1939-73, from memory"},
	{PGN: 65247, Short: "EEC3", Says: "engine friction, desired speed", Source: memory, Core: true},
	{PGN: 65248, Short: "VD", Says: "distance driven", Source: memory, Parameters: []Parameter{
		{244, "trip distance", 0, 32, 0.125, 0, "km", memory},
		{245, "total distance", 32, 32, 0.125, 0, "km", memory},
	}},
	{PGN: 65251, Short: "EC1", Says: "engine configuration", Source: memory},
	{PGN: 65252, Short: "SHUTN", Says: "idle shutdown", Source: published, Core: true, Parameters: []Parameter{
		{593, "idle shutdown has stopped the engine", 0, 2, 1, 0, "", published},
	}},
	{PGN: 65253, Short: "HOURS", Says: "engine hours", Source: memory, Parameters: []Parameter{
		{247, "engine hours", 0, 32, 0.05, 0, "h", memory},
	}},
	{PGN: 65254, Short: "TD", Says: "time and date", Source: memory},
	{PGN: 65257, Short: "LFC", Says: "fuel used", Source: memory},
	{PGN: 65260, Short: "VI", Says: "vehicle identification", Source: memory},
	{PGN: 65262, Short: "ET1", Says: "engine temperatures", Source: published, Core: true, Parameters: []Parameter{
		{110, "coolant temperature", 0, 8, 1, -40, "°C", published},
		{175, "oil temperature", 16, 16, 0.03125, -273, "°C", published},
	}},
	{PGN: 65263, Short: "EFL/P1", Says: "engine fluid levels and pressures", Source: memory, Core: true, Parameters: []Parameter{
		{100, "oil pressure", 24, 8, 4, 0, "kPa", memory},
	}},
	{PGN: 65264, Short: "PTO", Says: "power take-off", Source: memory},
	{PGN: 65265, Short: "CCVS", Says: "road speed, brake and clutch switch, cruise control", Source: published, Core: true, Parameters: []Parameter{
		{70, "parking brake switch", 2, 2, 1, 0, "", published},
		{84, "road speed", 8, 16, 1.0 / 256, 0, "km/h", published},
		{597, "brake switch", 28, 2, 1, 0, "", published},
		{598, "clutch switch", 30, 2, 1, 0, "", published},
	}},
	{PGN: 65266, Short: "LFE", Says: "fuel rate and economy", Source: published, Core: true, Parameters: []Parameter{
		{183, "fuel rate", 0, 16, 0.05, 0, "L/h", published},
		{184, "fuel economy", 16, 16, 1.0 / 512, 0, "km/L", published},
	}},
	{PGN: 65269, Short: "AMB", Says: "ambient conditions", Source: published, Core: true, Parameters: []Parameter{
		{171, "ambient air temperature", 24, 16, 0.03125, -273, "°C", published},
	}},
	{PGN: 65270, Short: "IC1", Says: "intake pressure and temperature", Source: memory, Core: true},
	{PGN: 65271, Short: "VEP1", Says: "battery and charging voltage", Source: published, Core: true, Parameters: []Parameter{
		{114, "battery current", 0, 8, 1, -125, "A", memory},
		{167, "charging voltage", 16, 16, 0.05, 0, "V", memory},
		{168, "battery voltage", 32, 16, 0.05, 0, "V", published},
		{158, "voltage behind the key switch", 48, 16, 0.05, 0, "V", published},
	}},
	{PGN: 65272, Short: "TRF1", Says: "transmission fluids", Source: memory},
	{PGN: 65276, Short: "DD", Says: "dash display, fuel level", Source: memory, Parameters: []Parameter{
		{96, "fuel level", 8, 8, 0.4, 0, "%", memory},
	}},
}

// FindGroup gives the named group of a number. Numbers of FF00 to FFFF hex are a maker's
// own and so called.
func FindGroup(pgn uint32) (Group, bool) {
	at, ok := slices.BinarySearchFunc(groups, pgn, func(g Group, pgn uint32) int { return cmp.Compare(g.PGN, pgn) })
	switch {
	case ok:
		return groups[at], true
	case pgn >= 0xFF00 && pgn <= 0xFFFF:
		return Group{PGN: pgn, Says: "proprietary, to all", Source: memory}, true
	}
	return Group{}, false
}

// Groups lists the groups that have a name, by number.
func Groups() []Group { return slices.Clone(groups) }

// leastCore is how many core groups make a bus one of SAE J1939.
const leastCore = 3

// J1939 finds out whether the identifiers of an interface are those of SAE J1939. The
// zero value has seen none.
type J1939 struct {
	all, extended int
	core          map[uint32]bool
}

// Add takes an identifier that has data frames, once; bytes is the length of the longest.
func (j *J1939) Add(id uint32, isExtended bool, bytes int) {
	if _, ok := Diagnostic(id, isExtended); ok {
		return // a scan tool beside the bus says nothing of it
	}
	j.all++
	if !isExtended {
		return
	}
	j.extended++
	if g, ok := FindGroup(decode.PGN(id)); ok && g.Core && bytes == 8 {
		if j.core == nil {
			j.core = make(map[uint32]bool)
		}
		j.core[g.PGN] = true
	}
}

// Follows reports whether groups may be named: most identifiers have 29 bits and at least
// three known groups of 8 bytes are there. A car's own 29-bit identifier can look like one
// of them.
func (j *J1939) Follows() bool { return 2*j.extended > j.all && len(j.core) >= leastCore }
