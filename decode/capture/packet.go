package capture

import (
	"encoding/binary"

	"lull/decode"
)

// Layout of a record of link type 227 (tcpdump.org, LINKTYPE_CAN_SOCKETCAN): four bytes of
// identifier and flags, most significant first, one byte of length, one of CAN FD flags, one
// reserved, one with the length code of classic frames, then the payload. The bits are those
// of linux/can.h.
const (
	headerSize = 8
	classicMTU = 16 // CAN_MTU: header and eight bytes; longer records are CAN FD

	extendedBit = 0x80000000
	remoteBit   = 0x40000000
	errorBit    = 0x20000000
	idMask      = 0x1FFFFFFF

	fdBRS = 1
	fdESI = 2
	fdFDF = 4
	// xlBit, in the length byte, marks a CAN XL frame.
	xlBit = 0x80
)

// fdLengths marks the payload lengths that CAN FD has (ISO 11898-1).
var fdLengths = [decode.MaxPayload + 1]bool{
	0: true, 1: true, 2: true, 3: true, 4: true, 5: true, 6: true, 7: true, 8: true,
	12: true, 16: true, 20: true, 24: true, 32: true, 48: true, 64: true,
}

// parsePacket parses a record into f, except for time, place and interface. size is the
// length of the record on the interface, of which data may be only the beginning: the frame
// is good if its payload is complete, even if padding is missing.
//
// Captures of older versions of libpcap lack the CAN FD bit. For them size decides, which is
// 16 for classic frames and 72 for CAN FD.
func parsePacket(data []byte, size int, f *decode.Frame) reason {
	*f = decode.Frame{}
	if len(data) > 4 && data[4]&xlBit != 0 {
		return canXL
	}
	if len(data) < headerSize {
		if size >= headerSize {
			return snapped
		}
		return headerShort
	}
	id := binary.BigEndian.Uint32(data)
	length := int(data[4])
	if data[5]&fdFDF != 0 || size > classicMTU {
		f.Flags |= decode.FD
		if data[5]&fdBRS != 0 {
			f.Flags |= decode.BitRateSwitch
		}
		if data[5]&fdESI != 0 {
			f.Flags |= decode.ErrorStateIndicator
		}
	}
	if id&remoteBit != 0 {
		f.Flags |= decode.Remote
	}
	f.ID, f.Len = id&idMask, uint8(length)
	switch {
	case id&errorBit != 0:
		if f.Flags != 0 {
			return errorFrameKind
		}
		f.Flags = decode.Error
	case id&extendedBit != 0:
		f.Flags |= decode.Extended
	case f.ID > 0x7FF:
		return idAbove11
	}
	switch fd, remote := f.Flags.Has(decode.FD), f.Flags.Has(decode.Remote); {
	case fd && remote:
		return fdRemote
	case fd && (length > decode.MaxPayload || !fdLengths[length]):
		return fdLength
	case remote && length > 8:
		return remoteLength
	case !fd && length > 8:
		return classicTooLong
	case remote:
	case headerSize+length <= len(data):
		copy(f.Data[:], data[headerSize:headerSize+length])
	case headerSize+length <= size:
		return snapped
	default:
		return lengthBeyond
	}
	if code := data[7]; code > 8 && code <= 15 && length == 8 && !f.Flags.Has(decode.FD) {
		f.RawDLC = code
	}
	return accepted
}
