package decode

// Role is what a signal means to the analysis.
type Role uint8

const (
	NoRole Role = iota
	EngineSpeed
	VehicleSpeed
	BatteryVoltage
	BatteryCurrent
	BatteryCharge
	ModuleSupply
	FuelRate
	HoldPressure
	Acceleration
	StopCommand
	StarterCommand
	Ignition
	StarterCount
	InhibitCode
	RoleCount // number of roles, with NoRole
)

// RoleSpec describes a role: its key in the map, and the unit in which the analysis works,
// empty if the role has none.
type RoleSpec struct {
	Name string
	Unit string
	// Switch marks roles that are on or off, depending on the signal's `active` raw
	// values.
	Switch bool
	Text   string
}

// Roles describes every role, indexed by Role.
var Roles = [RoleCount]RoleSpec{
	EngineSpeed:    {Name: "engine_speed", Unit: "rpm", Text: "crankshaft speed; the only role a map must give"},
	VehicleSpeed:   {Name: "vehicle_speed", Unit: "km/h", Text: "road speed"},
	BatteryVoltage: {Name: "battery_voltage", Unit: "V", Text: "voltage of the battery that cranks"},
	BatteryCurrent: {Name: "battery_current", Unit: "A", Text: "current of that battery, discharge negative"},
	BatteryCharge:  {Name: "battery_charge", Unit: "%", Text: "state of charge"},
	ModuleSupply:   {Name: "module_supply", Unit: "V", Text: "backed-up supply of the modules"},
	FuelRate:       {Name: "fuel_rate", Unit: "L/h", Text: "fuel flow"},
	HoldPressure:   {Name: "hold_pressure", Unit: "kPa", Text: "hydraulic pressure that keeps the take-off clutch filled"},
	Acceleration:   {Name: "acceleration", Unit: "m/s2", Text: "longitudinal acceleration"},
	StopCommand:    {Name: "stop_command", Switch: true, Text: "the car's own command to stop the engine"},
	StarterCommand: {Name: "starter_command", Switch: true, Text: "the starter is engaged"},
	Ignition:       {Name: "ignition", Switch: true, Text: "the ignition is on"},
	StarterCount:   {Name: "starter_count", Text: "counter of starter operations"},
	InhibitCode:    {Name: "inhibit_code", Text: "the car's own reason for not stopping the engine"},
}

func (r Role) String() string {
	if r < RoleCount {
		return Roles[r].Name
	}
	return ""
}

// RoleByName returns the role with the given key in the map.
func RoleByName(name string) (Role, bool) {
	for r := NoRole + 1; r < RoleCount; r++ {
		if Roles[r].Name == name {
			return r, true
		}
	}
	return NoRole, false
}

// MetricKeys lists the keys of all metrics, in the order in which they are shown. The
// analysis computes the metrics; a map may set limits on them.
var MetricKeys = []string{
	"run_down", "stop_duration", "engine_off",
	"restart_latency", "request_to_crank", "crank_to_run",
	"speed_at_request", "speed_at_crank", "crank_speed", "flare",
	"voltage_before", "voltage_min", "voltage_dip", "low_voltage_time", "voltage_recovery",
	"module_supply_min", "source_resistance", "hold_pressure_min",
	"take_off_delay", "take_off_shock", "fuel_saved",
}
