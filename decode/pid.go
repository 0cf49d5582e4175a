package decode

// pidLengths holds the numbers of data bytes of the PIDs 00 to 67 of service 01 (SAE
// J1979; from memory, the more common ones checked against published answers). The fuel
// trims 06 to 09 have a second byte if the engine has a third bank.
const pidLengths = "" +
	"4422112222112111" + "2111222222221112" + // 00 to 1F
	"4222444444441111" + "1221444444442222" + // 20 to 3F
	"4422211111111224" + "4112222222111221" + // 40 to 5F
	"41125253" // 60 to 67

// PIDBytes returns the greatest number of data bytes of a PID of service 01 (SAE J1979),
// or 0 if it is not known or mode is another service.
func PIDBytes(mode, pid uint8) int {
	switch {
	case mode != 1:
		return 0
	case int(pid) < len(pidLengths):
		return int(pidLengths[pid] - '0')
	case pid%0x20 == 0: // a bit mask of the supported PIDs
		return 4
	}
	return 0
}

// isFuelTrim reports whether a PID is a fuel trim, which has one data byte or two,
// depending on the engine.
func isFuelTrim(pid uint8) bool { return pid >= 0x06 && pid <= 0x09 }
