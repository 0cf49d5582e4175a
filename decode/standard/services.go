package standard

import "fmt"

// Services of SAE J1979 and ISO 14229, by the number of the request; from memory, 01, 02,
// 09 and 22 compared with public sources.
var services = map[uint8]string{
	0x01: "current values",
	0x02: "freeze frame",
	0x03: "stored trouble codes",
	0x04: "trouble codes cleared",
	0x05: "oxygen sensor tests",
	0x06: "test results",
	0x07: "pending trouble codes",
	0x08: "control of a system",
	0x09: "vehicle information",
	0x0A: "permanent trouble codes",
	0x10: "diagnostic session",
	0x11: "reset of the module",
	0x14: "trouble codes cleared",
	0x19: "trouble codes read",
	0x22: "values by identifier",
	0x23: "memory read",
	0x27: "security access",
	0x28: "communication control",
	0x2E: "values written",
	0x2F: "outputs controlled",
	0x31: "routine",
	0x34: "download",
	0x36: "data transferred",
	0x37: "transfer ended",
	0x3E: "tester present",
	0x85: "trouble codes switched",
}

// ServiceName is a service in plain words; "" where it is not known.
func ServiceName(service uint8) string { return services[service] }

// PID is a parameter of service 01 (SAE J1979, ISO 15031-5).
type PID struct {
	PID            uint8
	Name           string
	Bytes          int // of the value, the most significant first
	Factor, Offset float64
	Unit           string
	Source         string
}

const (
	publishedPID = "SAE J1979, compared with public tables"
	memoryPID    = "SAE J1979, from memory"
)

// pids are those that are numbers. Factors of percent are exactly 100/255.
var pids = map[uint8]PID{}

func init() {
	for _, p := range []PID{
		{0x04, "engine load", 1, 100. / 255, 0, "%", publishedPID},
		{0x05, "coolant temperature", 1, 1, -40, "°C", publishedPID},
		{0x0A, "fuel pressure", 1, 3, 0, "kPa", memoryPID},
		{0x0B, "intake pressure", 1, 1, 0, "kPa", publishedPID},
		{0x0C, "engine speed", 2, 0.25, 0, "rpm", publishedPID},
		{0x0D, "vehicle speed", 1, 1, 0, "km/h", publishedPID},
		{0x0E, "timing advance", 1, 0.5, -64, "°", memoryPID},
		{0x0F, "intake air temperature", 1, 1, -40, "°C", publishedPID},
		{0x10, "air mass flow", 2, 0.01, 0, "g/s", publishedPID},
		{0x11, "throttle position", 1, 100. / 255, 0, "%", publishedPID},
		{0x1F, "time since engine start", 2, 1, 0, "s", publishedPID},
		{0x21, "distance with the warning lamp on", 2, 1, 0, "km", memoryPID},
		{0x2F, "fuel level", 1, 100. / 255, 0, "%", memoryPID},
		{0x30, "warm-ups since codes were cleared", 1, 1, 0, "", memoryPID},
		{0x31, "distance since codes were cleared", 2, 1, 0, "km", publishedPID},
		{0x33, "air pressure outside", 1, 1, 0, "kPa", memoryPID},
		{0x42, "module voltage", 2, 0.001, 0, "V", publishedPID},
		{0x43, "absolute load", 2, 100. / 255, 0, "%", publishedPID},
		{0x45, "relative throttle", 1, 100. / 255, 0, "%", publishedPID},
		{0x46, "outside temperature", 1, 1, -40, "°C", publishedPID},
		{0x47, "throttle position B", 1, 100. / 255, 0, "%", memoryPID},
		{0x49, "accelerator pedal D", 1, 100. / 255, 0, "%", publishedPID},
		{0x4A, "accelerator pedal E", 1, 100. / 255, 0, "%", publishedPID},
		{0x4B, "accelerator pedal F", 1, 100. / 255, 0, "%", publishedPID},
		{0x4C, "throttle commanded", 1, 100. / 255, 0, "%", publishedPID},
		{0x4D, "time with the warning lamp on", 2, 1, 0, "min", publishedPID},
		{0x4E, "time since codes were cleared", 2, 1, 0, "min", publishedPID},
		{0x5A, "relative accelerator pedal", 1, 100. / 255, 0, "%", publishedPID},
		{0x5B, "hybrid battery charge", 1, 100. / 255, 0, "%", memoryPID},
		{0x5C, "oil temperature", 1, 1, -40, "°C", publishedPID},
		{0x5E, "fuel rate", 2, 0.05, 0, "L/h", publishedPID},
		{0x61, "torque demanded", 1, 1, -125, "%", memoryPID},
		{0x62, "torque", 1, 1, -125, "%", memoryPID},
		{0x63, "reference torque", 2, 1, 0, "Nm", memoryPID},
	} {
		pids[p.PID] = p
	}
}

// FindPID gives a PID of service 01 that is a number with a name.
func FindPID(pid uint8) (PID, bool) {
	p, ok := pids[pid]
	return p, ok
}

// Raw is the number in the bytes of an answer; false where there are too few.
func (p *PID) Raw(data []byte) (int64, bool) {
	if len(data) < p.Bytes {
		return 0, false
	}
	var raw int64
	for _, b := range data[:p.Bytes] {
		raw = raw<<8 | int64(b)
	}
	return raw, true
}

// Value is a number of Raw in the unit.
func (p *PID) Value(raw int64) float64 { return float64(raw)*p.Factor + p.Offset }

// PIDName is what a PID of service 01 is called, those that are no numbers included.
func PIDName(pid uint8) string {
	if p, ok := pids[pid]; ok {
		return p.Name
	}
	switch {
	case pid%0x20 == 0:
		return fmt.Sprintf("which of the next 32 PIDs are supported (from %02X on)", int(pid)+1)
	case pid == 0x01:
		return "warning lamp and monitors"
	case pid == 0x03:
		return "state of the fuel system"
	case pid >= 0x06 && pid <= 0x09:
		return "fuel trim"
	case pid >= 0x14 && pid <= 0x1B, pid >= 0x24 && pid <= 0x2B, pid >= 0x34 && pid <= 0x3B:
		return "oxygen sensor"
	case pid == 0x1C:
		return "OBD standard followed"
	case pid == 0x13, pid == 0x1D:
		return "oxygen sensors present"
	case pid == 0x51:
		return "kind of fuel"
	}
	return ""
}

// refusals are why a module refuses (ISO 14229; 11 and 78 compared with public sources, the
// others from memory).
var refusals = map[uint8]string{
	0x10: "refused without a reason",
	0x11: "it has no such service",
	0x12: "it has no such value",
	0x13: "the request has a wrong length",
	0x22: "not in this state",
	0x31: "it has no such number",
	0x33: "access is locked",
	0x35: "wrong key",
	0x78: "the answer comes later",
	0x7F: "not in this session",
}

// RefusalName is why a module refuses, in plain words; "" where it is not known.
func RefusalName(code uint8) string { return refusals[code] }
