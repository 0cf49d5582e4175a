package capture

import (
	"errors"
	"fmt"
)

// Sentinels that an Error wraps.
var (
	ErrFormat   = errors.New("unsupported capture format")
	ErrLinkType = errors.New("not a capture of a CAN interface")
)

// Error describes in plain words why a capture is refused and what to do about it.
type Error struct {
	Why  string
	Hint string
	Err  error // ErrFormat or ErrLinkType
}

func (e *Error) Error() string { return e.Why + "; " + e.Hint }

func (e *Error) Unwrap() error { return e.Err }

// Link types in the registry at tcpdump.org.
const (
	linkSocketCAN = 227
	linkCooked    = 113
	linkCooked2   = 276
	linkExport    = 252
)

// linkNames are the names of link types that users may give instead of a CAN capture.
var linkNames = map[uint32]string{
	1: "Ethernet", 101: "raw IP", 105: "Wi-Fi", 127: "Wi-Fi", 189: "USB", 190: "raw CAN 2.0B", 210: "FlexRay", 212: "LIN", 220: "USB", 249: "USB",
}

const captureHint = "capture the CAN interface itself, for instance: dumpcap -i can0 -w drive.pcapng"

// refuseLink returns the error for captures of an unsupported link type.
func refuseLink(link uint32) *Error {
	e := &Error{Hint: captureHint, Err: ErrLinkType}
	switch link {
	case linkCooked, linkCooked2:
		e.Why = fmt.Sprintf(`a Linux cooked capture (link type %d), which is what capturing on "any" gives`, link)
	case linkExport:
		e.Why = "an export of Wireshark (link type 252), not the captured packets"
		e.Hint = "give the log or capture that it was made from"
	default:
		e.Why = fmt.Sprintf("a capture of link type %d", link)
		if name := linkNames[link]; name != "" {
			e.Why += " (" + name + ")"
		}
		e.Why += ", which does not contain CAN frames of Linux (link type 227)"
	}
	return e
}

func notACapture(why string) *Error {
	return &Error{Why: why, Hint: "give a pcap or pcapng file, or a log written by candump -l", Err: ErrFormat}
}
