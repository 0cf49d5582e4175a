package capture

import (
	"encoding/binary"
	"errors"

	"lull/decode"
)

// Sizes of the records that Linux returns to a program that reads a CAN interface
// (linux/can.h).
const (
	ClassicRecord = 16 // CAN_MTU
	FDRecord      = 72 // CANFD_MTU
)

// ParseRecord parses a record of link type 227 into f, except for time, place and interface.
// Apart from the byte order of the identifier, which here begins with the most significant
// byte, this is the record that Linux returns to a program that reads an interface. If
// candump's log form cannot represent the frame, the error says why.
func ParseRecord(record []byte, f *decode.Frame) error {
	if why := parsePacket(record, len(record), f); why != accepted {
		return errors.New(why.String())
	}
	return nil
}

// AppendRecord appends the frame as a record of FDRecord bytes, even for classic frames.
// ParseRecord parses it back into the same frame, without time, place, interface and
// direction. For a classic frame it needs only the first ClassicRecord bytes.
func AppendRecord(dst []byte, f *decode.Frame) []byte {
	id := f.ID & idMask
	switch {
	case f.Flags.Has(decode.Error):
		id |= errorBit
	case f.Flags.Has(decode.Extended):
		id |= extendedBit
	}
	var flags byte
	if f.Flags.Has(decode.Remote) {
		id |= remoteBit
	}
	if f.Flags.Has(decode.FD) {
		flags = fdFDF
		if f.Flags.Has(decode.BitRateSwitch) {
			flags |= fdBRS
		}
		if f.Flags.Has(decode.ErrorStateIndicator) {
			flags |= fdESI
		}
	}
	dst = binary.BigEndian.AppendUint32(dst, id)
	dst = append(dst, f.Len, flags, 0, f.RawDLC)
	body := f.Data
	clear(body[len(f.Payload()):])
	return append(dst, body[:]...)
}
