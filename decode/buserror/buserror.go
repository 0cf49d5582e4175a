// Package buserror puts into words what an error frame reports. Error frames are not on
// the bus: the interface that recorded the log generates them. Their classes and details
// are those of SocketCAN (linux/can/error.h), with the names of the CAN library. Start
// with Of.
package buserror

import (
	"fmt"
	"strings"

	"go.einride.tech/can/pkg/socketcan"

	"lull/decode"
)

// classCounters marks frames whose payload contains the error counters (CAN_ERR_CNT of
// linux/can/error.h). The library has no name for it.
const classCounters socketcan.ErrorClass = 0x200

// Kind is what an error frame reports, without details that differ from frame to frame, so
// that there are not very many kinds. Equal kinds have the same text.
type Kind struct {
	class       socketcan.ErrorClass
	bit         uint8
	controller  socketcan.ControllerError
	protocol    socketcan.ProtocolViolationError
	location    socketcan.ProtocolViolationErrorLocation
	transceiver socketcan.TransceiverError
	sending     level // of the error counters
	receiving   level
}

// level is the state that an error counter indicates (ISO 11898-1: below 96, from 96 on,
// from 128 on).
type level uint8

const (
	active level = iota
	warning
	passive
)

func levelOf(reading byte) level {
	switch {
	case reading >= 128:
		return passive
	case reading >= 96:
		return warning
	}
	return active
}

// Of returns the kind of an error frame. It ignores details that do not belong to the
// frame's classes.
func Of(f *decode.Frame) Kind {
	k := Kind{class: socketcan.ErrorClass(f.ID & 0x1FFFFFFF)}
	var d [8]byte
	copy(d[:], f.Payload())
	if k.has(socketcan.ErrorClassLostArbitration) {
		k.bit = d[0]
	}
	if k.has(socketcan.ErrorClassController) {
		k.controller = socketcan.ControllerError(d[1])
	}
	if k.has(socketcan.ErrorClassProtocolViolation) {
		k.protocol = socketcan.ProtocolViolationError(d[2])
		k.location = socketcan.ProtocolViolationErrorLocation(d[3])
	}
	if k.has(socketcan.ErrorClassTransceiver) {
		k.transceiver = socketcan.TransceiverError(d[4])
	}
	if k.has(classCounters) {
		k.sending, k.receiving = levelOf(d[6]), levelOf(d[7])
	}
	return k
}

func (k Kind) has(class socketcan.ErrorClass) bool { return k.class&class != 0 }

// String returns the kind in words, with the classes in the order of their bits.
func (k Kind) String() string {
	var parts []string
	rest := k.class
	for _, c := range classes {
		if rest&c.bit == 0 {
			continue
		}
		rest &^= c.bit
		parts = append(parts, c.text(k))
	}
	if rest != 0 {
		parts = append(parts, fmt.Sprintf("unknown class 0x%X", uint32(rest)))
	}
	if len(parts) == 0 {
		return "no class given"
	}
	return strings.Join(parts, "; ")
}

var classes = []struct {
	bit  socketcan.ErrorClass
	text func(Kind) string
}{
	{socketcan.ErrorClassTxTimeout, same("sending timed out")},
	{socketcan.ErrorClassLostArbitration, Kind.arbitrationText},
	{socketcan.ErrorClassController, Kind.controllerText},
	{socketcan.ErrorClassProtocolViolation, Kind.protocolText},
	{socketcan.ErrorClassTransceiver, Kind.transceiverText},
	{socketcan.ErrorClassNoAck, same("no node acknowledged a frame that the interface sent")},
	{socketcan.ErrorClassBusOff, same("bus off: the interface has left the bus")},
	{socketcan.ErrorClassBusError, same("bus error")},
	{socketcan.ErrorClassRestarted, same("the interface came back to the bus")},
	{classCounters, Kind.countersText},
}

func same(text string) func(Kind) string { return func(Kind) string { return text } }

func (k Kind) arbitrationText() string {
	if k.bit == 0 {
		return "lost arbitration"
	}
	return fmt.Sprintf("lost arbitration in bit %d", k.bit)
}

// named is a bit or value and its text.
type named[T ~uint8] struct {
	value T
	text  string
}

// flags returns the texts of the bits of v. Bits without a text are given as a number.
func flags[T ~uint8](v T, names []named[T]) string {
	var parts []string
	for _, n := range names {
		if v&n.value != 0 {
			parts = append(parts, n.text)
			v &^= n.value
		}
	}
	if v != 0 {
		parts = append(parts, fmt.Sprintf("unknown detail 0x%02X", uint8(v)))
	}
	return strings.Join(parts, ", ")
}

var controllerNames = []named[socketcan.ControllerError]{
	{socketcan.ControllerErrorRxBufferOverflow, "receive buffer overflowed, frames were lost"},
	{socketcan.ControllerErrorTxBufferOverflow, "send buffer overflowed"},
	{socketcan.ControllerErrorRxWarning, "warning level of receive errors reached"},
	{socketcan.ControllerErrorTxWarning, "warning level of send errors reached"},
	{socketcan.ControllerErrorRxPassive, "error passive because of receive errors"},
	{socketcan.ControllerErrorTxPassive, "error passive because of send errors"},
	{socketcan.ControllerErrorActive, "error active again"},
}

func (k Kind) controllerText() string {
	if k.controller == 0 {
		return "controller problem"
	}
	return "controller: " + flags(k.controller, controllerNames)
}

var protocolNames = []named[socketcan.ProtocolViolationError]{
	{socketcan.ProtocolViolationErrorSingleBit, "a bit was wrong"},
	{socketcan.ProtocolViolationErrorFrameFormat, "the frame format was wrong"},
	{socketcan.ProtocolViolationErrorBitStuffing, "bit stuffing was broken"},
	{socketcan.ProtocolViolationErrorBit0, "a dominant bit could not be sent"},
	{socketcan.ProtocolViolationErrorBit1, "a recessive bit could not be sent"},
	{socketcan.ProtocolViolationErrorBusOverload, "bus overload"},
	{socketcan.ProtocolViolationErrorActive, "an active error was announced"},
	{socketcan.ProtocolViolationErrorTx, "while sending"},
}

var locationNames = map[socketcan.ProtocolViolationErrorLocation]string{
	socketcan.ProtocolViolationErrorLocationStartOfFrame:   "the start of frame",
	socketcan.ProtocolViolationErrorLocationID28To21:       "the identifier's bits 28 to 21 (10 to 3 of 11)",
	socketcan.ProtocolViolationErrorLocationID20To18:       "the identifier's bits 20 to 18 (2 to 0 of 11)",
	socketcan.ProtocolViolationErrorLocationSubstituteRTR:  "the substitute remote request bit",
	socketcan.ProtocolViolationErrorLocationIDExtension:    "the identifier extension bit",
	socketcan.ProtocolViolationErrorLocationIDBits17To13:   "the identifier's bits 17 to 13",
	socketcan.ProtocolViolationErrorLocationIDBits12To05:   "the identifier's bits 12 to 5",
	socketcan.ProtocolViolationErrorLocationIDBits04To00:   "the identifier's bits 4 to 0",
	socketcan.ProtocolViolationErrorLocationRTR:            "the remote request bit",
	socketcan.ProtocolViolationErrorLocationReservedBit1:   "reserved bit 1",
	socketcan.ProtocolViolationErrorLocationReservedBit0:   "reserved bit 0",
	socketcan.ProtocolViolationErrorLocationDataLengthCode: "the length code",
	socketcan.ProtocolViolationErrorLocationData:           "the payload",
	socketcan.ProtocolViolationErrorLocationCRCSequence:    "the CRC",
	socketcan.ProtocolViolationErrorLocationCRCDelimiter:   "the CRC delimiter",
	socketcan.ProtocolViolationErrorLocationACKSlot:        "the acknowledge slot",
	socketcan.ProtocolViolationErrorLocationACKDelimiter:   "the acknowledge delimiter",
	socketcan.ProtocolViolationErrorLocationEndOfFrame:     "the end of frame",
	socketcan.ProtocolViolationErrorLocationIntermission:   "the intermission",
}

func (k Kind) protocolText() string {
	text := "protocol violation"
	if k.protocol != 0 {
		text += ": " + flags(k.protocol, protocolNames)
	}
	if k.location == socketcan.ProtocolViolationErrorLocationUnspecified {
		return text
	}
	if place, ok := locationNames[k.location]; ok {
		return text + ", in " + place
	}
	return text + fmt.Sprintf(", at an unknown place, 0x%02X", uint8(k.location))
}

// wireNames holds texts for each half of the transceiver's byte. Each half is about one
// wire.
var wireNames = map[socketcan.TransceiverError]string{
	socketcan.TransceiverErrorCANHNoWire:      "CAN high is not connected",
	socketcan.TransceiverErrorCANHShortToBat:  "CAN high is shorted to battery",
	socketcan.TransceiverErrorCANHShortToVCC:  "CAN high is shorted to supply",
	socketcan.TransceiverErrorCANHShortToGND:  "CAN high is shorted to ground",
	socketcan.TransceiverErrorCANLNoWire:      "CAN low is not connected",
	socketcan.TransceiverErrorCANLShortToBat:  "CAN low is shorted to battery",
	socketcan.TransceiverErrorCANLShortToVcc:  "CAN low is shorted to supply",
	socketcan.TransceiverErrorCANLShortToGND:  "CAN low is shorted to ground",
	socketcan.TransceiverErrorCANLShortToCANH: "CAN low is shorted to CAN high",
}

func (k Kind) transceiverText() string {
	var parts []string
	for _, half := range []socketcan.TransceiverError{k.transceiver & 0x0F, k.transceiver & 0xF0} {
		if half == 0 {
			continue
		}
		text, ok := wireNames[half]
		if !ok {
			text = fmt.Sprintf("unknown detail 0x%02X", uint8(half))
		}
		parts = append(parts, text)
	}
	if len(parts) == 0 {
		return "transceiver problem"
	}
	return "transceiver: " + strings.Join(parts, ", ")
}

func (k Kind) countersText() string {
	words := [...]string{"below 96, error active", "from 96 on, warning", "from 128 on, error passive"}
	return fmt.Sprintf("error counters: send %s, receive %s", words[k.sending], words[k.receiving])
}
