package capture

import (
	"errors"
	"fmt"
)

// Sentinels that an Error unwraps to.
var (
	ErrFormat   = errors.New("no capture that is read")
	ErrLinkType = errors.New("not a capture of a CAN interface")
)

// Error says in plain words why a capture is refused and what to do.
type Error struct {
	Why  string
	Hint string
	Err  error // ErrFormat or ErrLinkType
}

func (e *Error) Error() string { return e.Why + "; " + e.Hint }

func (e *Error) Unwrap() error { return e.Err }

// Link types by the registry at tcpdump.org.
const (
	linkSocketCAN = 227
	linkCooked    = 113
	linkCooked2   = 276
	linkExport    = 252
)

// linkNames are what else may lie at hand where a CAN capture was meant.
var linkNames = map[uint32]string{
	1: "Ethernet", 101: "raw IP", 105: "Wi-Fi", 127: "Wi-Fi", 189: "USB", 190: "raw CAN 2.0B", 210: "FlexRay", 212: "LIN", 220: "USB", 249: "USB",
}

const captureHint = "capture the CAN interface itself, for instance: dumpcap -i can0 -w drive.pcapng"

// refuseLink words why packets of a link type are not read.
func refuseLink(link uint32) *Error {
	e := &Error{Hint: captureHint, Err: ErrLinkType}
	switch link {
	case linkCooked, linkCooked2:
		e.Why = fmt.Sprintf(`a Linux cooked capture (link type %d), as capturing "any" gives it`, link)
	case linkExport:
		e.Why = "an export by Wireshark (link type 252), not packets as they were captured"
		e.Hint = "give the log or capture that it was made from"
	default:
		e.Why = fmt.Sprintf("a capture of link type %d", link)
		if name := linkNames[link]; name != "" {
			e.Why += " (" + name + ")"
		}
		e.Why += ", which holds no CAN frames as Linux has them (link type 227)"
	}
	return e
}

func notACapture(why string) *Error {
	return &Error{Why: why, Hint: "give a pcap or pcapng file, or a log as candump -l writes it", Err: ErrFormat}
}
