package capture

import (
	"encoding/binary"
	"errors"

	"lull/decode"
)

// Sizes of what Linux gives to a program that reads a CAN interface (linux/can.h).
const (
	ClassicRecord = 16 // CAN_MTU
	FDRecord      = 72 // CANFD_MTU
)

// ParseRecord reads one record of link type 227 into f, all but time, place and
// interface. It is what Linux gives to a program that reads an interface, but for
// the order of the identifier's bytes: here the most significant comes first. A
// frame that candump's log form cannot hold is an error that says why.
func ParseRecord(record []byte, f *decode.Frame) error {
	if why := parsePacket(record, len(record), f); why != accepted {
		return errors.New(why.String())
	}
	return nil
}

// AppendRecord appends the frame as a record of FDRecord bytes, classic frames
// too. ParseRecord gives the same frame back, of a classic one from the first
// ClassicRecord bytes; time, place, interface and direction are not in it.
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
